"""What leaves of a table: the columns of the dictionary, in their types, and no text but theirs.

In come tables as they are made, out come tables as they are exported.
"""

from __future__ import annotations

from typing import Any, Final

import pandas as pd

from gaittrack.cohort.release.dictionary import TABLES
from gaittrack.cohort.release.field import FieldType
from gaittrack.cohort.tables.reason_cells import left_of

_DTYPES: Final[dict[FieldType, Any]] = {
    "string": "string",
    "number": "float64",
    "integer": "Int64",
    "boolean": "boolean",
}


def allowed(name: str, table: pd.DataFrame) -> pd.DataFrame:
    """Return the columns of a table that the dictionary has, in its order and with its types.

    Parameters
    ----------
    name : str
        One of ``TABLES``.

    Returns
    -------
    DataFrame
        Empty text is missing.

    Raises
    ------
    ValueError
        A column is missing, or a text is not of the closed list or no code of a reason.
    """
    columns = {}
    for field in TABLES[name]:
        if field.name not in table.columns:
            if len(table):
                raise ValueError(f"{name} has no column {field.name}")
            columns[field.name] = pd.Series([], dtype=_DTYPES[field.type])
            continue
        column = table[field.name]
        if field.is_reasons:
            column = column.map({cell: left_of(cell) for cell in column.dropna().unique()})
        if field.type == "string":
            column = column.astype("string")
            column = column.where(column != "")
            strange = set(column.dropna()) - set(field.levels) if field.levels else set()
            if strange:
                raise ValueError(f"{name}.{field.name} may not be {sorted(strange)}")
        columns[field.name] = column.astype(_DTYPES[field.type])
    return pd.DataFrame(columns).reset_index(drop=True)
