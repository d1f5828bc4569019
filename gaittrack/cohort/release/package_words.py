"""Say what is in an export: data dictionary, descriptor and README.

In come tables and what to say of them, out come rows, plain values and text; nothing is written.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import pandas as pd

from gaittrack.cohort.disclosure.lost_words import EXACT_VALUES
from gaittrack.cohort.release.dictionary import PRIMARY_KEYS, TABLES, TITLES
from gaittrack.cohort.release.field import Field

PROFILES: Final = "https://datapackage.org/profiles/2.0"
"""Data Package version 2; the descriptor names its profile by address, nothing is fetched."""
WORKBOOK: Final = "cohort.xlsx"


@dataclass(frozen=True, slots=True)
class PackageFacts:
    """What an export says of itself.

    Attributes
    ----------
    name : str
        Of the package: lower case letters, digits, hyphens.
    least_alike, smallest_group : int
        Fewest people who must look alike, and who do.
    selection : str
        Of people and visits, in words; empty when everything is in it.
    n_damaged : int
        Walks left out because their stored result is damaged.
    override_reason : str
        Why everything was exported that was asked for; empty where nobody stands out.
    """

    name: str
    release: str
    software_version: str
    settings_hash: str
    notice: str
    least_alike: int
    smallest_group: int
    selection: str = ""
    override_reason: str = ""
    n_damaged: int = 0


def dictionary_rows(tables: Iterable[str]) -> pd.DataFrame:
    """Return the data dictionary: one row per table and column."""
    rows = [
        {
            "table": name,
            "column": field.name,
            "type": field.type,
            "definition": field.definition,
            "unit_ucum": field.unit,
            "source": field.source,
            "measurement_error": field.measurement_error,
            "levels": "; ".join(field.levels),
        }
        for name in tables
        for field in TABLES[name]
    ]
    return pd.DataFrame(rows, dtype="string").replace("", pd.NA)


def described(field: Field) -> dict[str, Any]:
    """Return what the dictionary says of a column; what it does not say is left out."""
    found: dict[str, Any] = {"name": field.name, "type": field.type}
    found["description"] = field.definition
    found |= {
        key: getattr(field, key)
        for key in ("unit", "source", "measurement_error")
        if getattr(field, key)
    }
    return found


def _schema(name: str) -> dict[str, Any]:
    fields = []
    for field in TABLES[name]:
        levels = {"constraints": {"enum": list(field.levels)}} if field.levels else {}
        fields.append(described(field) | levels)
    schema: dict[str, Any] = {"$schema": f"{PROFILES}/tableschema.json", "fields": fields}
    schema["missingValues"] = [""]
    if name in PRIMARY_KEYS:
        schema["primaryKey"] = list(PRIMARY_KEYS[name])
    return schema


_TYPES: Final = {
    "csv": "text/csv",
    "parquet": "application/vnd.apache.parquet",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def _resource(name: str, *paths: str, **more: Any) -> dict[str, Any]:
    ending = paths[0].rpartition(".")[2]
    suffix = "" if ending == "csv" else f"-{ending}"
    encoding = {"encoding": "utf-8"} if ending == "csv" else {}
    return {
        "$schema": f"{PROFILES}/dataresource.json",
        "name": f"{name.replace('_', '-')}{suffix}" if suffix else name,
        "type": "table",
        "path": paths[0] if len(paths) == 1 else list(paths),
        "title": TITLES[name],
        "format": ending,
        "mediatype": _TYPES[ending],
        **encoding,
        **more,
        "schema": _schema(name),
    }


def descriptor(
    tables: Mapping[str, Sequence[str]], in_sheets: Collection[str], facts: PackageFacts
) -> dict[str, Any]:
    """Return the descriptor of the package: every table in each of its files.

    Parameters
    ----------
    tables : mapping of table name to paths
        Parquet files of the table: one, or its parts.
    """
    sheets = {name: {"dialect": {"sheetName": name}} for name in in_sheets}
    return {
        "$schema": f"{PROFILES}/datapackage.json",
        "name": facts.name,
        "title": "Walking with and without an ankle-foot orthosis: a cohort",
        "description": facts.notice,
        "version": facts.software_version,
        "resources": [
            *(_resource(name, f"{name}.csv") for name in tables),
            *(_resource(name, *paths) for name, paths in tables.items()),
            *(_resource(name, WORKBOOK, **sheets[name]) for name in in_sheets),
        ],
        "gaittrack": {key: value for key, value in asdict(facts).items() if key != "notice"},
    }


def readme(n_rows: Mapping[str, int], in_sheets: Collection[str], facts: PackageFacts) -> str:
    """Return the README of the package in Markdown."""
    listed = [f"- `{name}` ({rows} rows): {TITLES[name]}." for name, rows in n_rows.items()]
    left_out = ", ".join(f"`{name}`" for name in n_rows if name not in in_sheets)
    without = f" but {left_out}, too long for a sheet" if left_out else ""
    selected = f"Only a part of the study was selected: {facts.selection}."
    parts = [
        "# Cohort export",
        facts.notice,
        "## Tables",
        f"Each table as `.csv` (UTF-8) and `.parquet`; all in `{WORKBOOK}`{without}. What every "
        "column means, with unit and source: `dictionary.csv` and `datapackage.json`. Reasons, "
        "labels and verdicts are codes; `reasons` says what each means that occurs.",
        "\n".join(listed),
        "`method.json` says in clear how they were made: versions, rules, cut-offs, selection. "
        "`analysis.ipynb` (Python) and `analysis.R` make the table `statistics` again from "
        "`changes`. Sizes and checksums of all files: `ro-crate-metadata.json`. Licence, makers "
        "and sources stand in `datapackage.json` as far as they were said; where none is, only "
        "what was agreed may be done with the data.",
        "## People",
        "Ids are random and made for this export only; dates, names, files and free text are left "
        "out. The data stay personal data: a person's walk can tell who it is. Do not try to find "
        "out who anybody is, and do not pass the data on under other terms.",
        "What was found at an examination stands in `legs`. Height, mass and time since onset "
        "can be seen or asked: they are in the table `bodies`, in bands, only if that was asked "
        "for, and count among what people share.",
        *([selected] if facts.selection else []),
        _alike(facts),
        "## How it was made",
        _how_made(facts),
    ]
    return "\n\n".join(parts) + "\n"


def _alike(facts: PackageFacts) -> str:
    if facts.override_reason:
        return (
            f"Nothing was withheld although people stand out: the smallest group has "
            f"{facts.smallest_group}, {facts.least_alike} are asked for ({facts.release} release). "
            f"Reason given: {' '.join(facts.override_reason.split())}"
        )
    return (
        f"Release: {facts.release}. Sex, cause, side, age, classes of braces and number of visits "
        f"are shared, all together, by {facts.smallest_group} people or more ({facts.least_alike} "
        "asked for). Of these and of all that can be seen or asked, as shoes, aid, days worn, mass "
        "and setting of the brace, whoever knows any three finds so many people or none. What that "
        "took stands in the table `withheld`; `withheld` in a cell means that there is a word. It "
        "is decided for the whole study, so releases of one state of it show together no more than "
        f"the one for fewer readers alone. {EXACT_VALUES}"
    )


def _how_made(facts: PackageFacts) -> str:
    damaged = (
        f" Walks left out because their stored results are damaged: {facts.n_damaged}; see "
        "`qc_flag`."
    )
    return (
        f"gaittrack {facts.software_version}; settings {facts.settings_hash}. Read speed "
        "beside every angle: speed alone changes them. An empty cell is a missing value; the "
        f"reason stands in `missing_reason`.{damaged if facts.n_damaged else ''}"
    )
