"""What the curves of a sheet are called beside its columns, as maps name them.

In comes an open sheet, out go the names of curves that stand in rows, one after another or below
another.
"""

from __future__ import annotations

from gaittrack.read.sheets.curves_in_rows import is_in_rows, row_labels
from gaittrack.read.sheets.sheet_columns import Sheet
from gaittrack.read.sheets.sides_in_rows import spread_names


def curve_names(sheet: Sheet) -> tuple[str, ...]:
    """Return the names of curves in rows; none where each column is one."""
    if is_in_rows(sheet):
        return row_labels(sheet)
    if beside := spread_names(sheet):
        return beside
    roles = [name.role for name in sheet.spelt]
    if "joint" not in roles:
        return ()
    joints = sheet.texts(roles.index("joint"))
    sides = sheet.texts(roles.index("side")) if "side" in roles else [""] * len(joints)
    pairs = dict.fromkeys(zip(joints, sides, strict=True))
    return tuple(" ".join(filter(None, pair)) for pair in pairs)
