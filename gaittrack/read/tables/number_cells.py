"""What one cell of a table holds: a number, nothing, a unit, or words.

In comes a cell as text; out goes what it is, or its number. A mark that may be of thousands or of
decimals, and the other decimal sign, are refused, never guessed at.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence

from gaittrack.errors import DataError

MISSING = frozenset(("", "nan", "na", "n/a", "null", "none", "-", "--", "#n/a", "#div/0!", "."))
"""Cells that say "nothing recorded" (lower case)."""
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
_SIMPLE = re.compile(r"-?\d{1,15}([.,]?)\d{0,15}")
"""The usual number, recognised fast."""
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:[.,' ]\d{3})+(?:[.,]\d+)?")
_TOLD_GROUPS = re.compile(
    r"([+-]?\d{1,3}(?:,\d{3})+)(?:(\.)(\d+))|([+-]?\d{1,3}(?:\.\d{3})+)(?:(,)(\d+))"
    r"|([+-]?\d{1,3}(?:[' ]\d{3})+)(?:([.,])(\d+))"
)
"""A number in which two marks tell each other apart: 1,234.5, 1.234,5 or 1'234.5."""
_ONE_GROUP = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
_SPREAD = re.compile(r"\s*(?:\u00b1|\+/-)\s*\d+(?:[.,]\d+)?\s*$")
"""Behind a mean, in the same cell."""
_CLEAN = str.maketrans({"\u2212": "-", "\u00a0": " ", "\u202f": " ", "\u2019": "'"})
_UNITS = frozenset(
    "s sec seconds ms m mm cm n nm n.m n.mm nmm deg degree degrees rad radians hz % percent frame "
    "frames [s] [ms] (s) (ms) [m] [mm] [cm] (m) (mm) (cm) [n] (n) [deg] (deg) [rad] (rad) [%] "
    "(%) \u00b0 [\u00b0] (\u00b0) # [-] - 1 bw w w/kg nm/kg "
    "n/kg %bw v mv uv \u00b5v \u03bcv m/s mm/s deg/s rad/s \u00b0/s m/s2 m/s^2".split()
)


def clean(cell: str) -> str:
    """Return a cell as a number is written: plain minus and blanks, no spread, % or degree."""
    return _SPREAD.sub("", cell.translate(_CLEAN)).strip().rstrip("%\u00b0").strip()


def is_number(cell: str) -> bool:
    """Whether the cell looks like a number, whichever its decimal sign."""
    if _SIMPLE.fullmatch(cell):
        return True
    cleaned = clean(cell)
    return bool(_NUMBER.fullmatch(cleaned) or _GROUPED.fullmatch(cleaned))


def is_missing(cell: str) -> bool:
    """Whether the cell says that nothing was recorded."""
    return cell.strip().lower() in MISSING


def is_text(cell: str) -> bool:
    """Whether the cell holds words."""
    return not is_number(cell) and not is_missing(cell)


def to_number(cell: str, decimal: str) -> float:
    """Return the cell as a number, NaN when nothing was recorded.

    Raises
    ------
    ValueError
        Words, thousands marks or the other decimal sign.
    """
    simple = _SIMPLE.fullmatch(cell)
    if simple and simple.group(1) in ("", decimal):
        return float(cell.replace(",", "."))
    if is_missing(cell):
        return math.nan
    cleaned = _without_groups(clean(cell))
    if not _NUMBER.fullmatch(cleaned):
        raise ValueError(cell)
    other = "." if decimal == "," else ","
    if other in cleaned:
        raise ValueError(cell)
    number = float(cleaned.replace(",", "."))
    if not math.isfinite(number):
        raise ValueError(cell)
    return number


def _without_groups(cleaned: str) -> str:
    """Return a number without the marks of its thousands, where it tells which they are."""
    match = _TOLD_GROUPS.fullmatch(cleaned)
    if match is None:
        return cleaned
    whole, sign, rest = (part for part in match.groups() if part is not None)
    return re.sub(r"[.,' ]", "", whole) + sign + rest


def number_or_gap(cell: str, decimal: str) -> float:
    """Return the cell as a number, NaN where it is none."""
    try:
        return to_number(cell, decimal)
    except ValueError:
        return math.nan


def is_unit_row(cells: Iterable[str]) -> bool:
    """Whether all cells that are not empty name units."""
    words = [cell.strip().lower() for cell in cells if cell.strip()]
    return bool(words) and all(word in _UNITS for word in words)


def find_decimal(body: Sequence[tuple[str, ...]], *, where: str) -> str:
    """Return the decimal sign of the numbers.

    Raises
    ------
    DataError
        Both signs occur, or marks that group thousands: a wrong guess would change the scale.
    """
    seen: dict[str, str] = {}
    for row in body:
        for cell in row:
            simple = _SIMPLE.fullmatch(cell)
            if simple:
                seen.setdefault(simple.group(1), cell)
                continue
            cleaned = _without_groups(clean(cell))
            if _GROUPED.fullmatch(cleaned) and not _NUMBER.fullmatch(cleaned):
                raise _grouped_error(cell, where)
            if _NUMBER.fullmatch(cleaned):
                for sign in ".,":
                    if sign in cleaned:
                        seen.setdefault(sign, cell)
    seen.pop("", None)
    if len(seen) > 1:
        raise DataError.of("both_decimal_signs_occur", where=where, one=seen["."], other=seen[","])
    if seen:
        _refuse_grouped_columns(body, where)
    return next(iter(seen), ".")


def _refuse_grouped_columns(body: Sequence[tuple[str, ...]], where: str) -> None:
    """Refuse columns such as 987, 1.012, where no number tells a thousands mark from a sign."""
    for column in range(max(map(len, body))):
        marked = _only_grouped(row[column] for row in body if column < len(row))
        if marked and not any(_is_decimal(cell) for row in body for cell in row):
            raise _grouped_error(marked, where)


def _is_decimal(cell: str) -> bool:
    """Whether the mark of a number, as in 0.012 or 10.5, groups nothing: that of the file then."""
    simple = _SIMPLE.fullmatch(cell)
    return bool(simple and simple.group(1)) and not _ONE_GROUP.fullmatch(cell)


def _only_grouped(cells: Iterable[str]) -> str:
    """Return a cell such as 1.012 when all with a mark are such and others have 1–3 digits."""
    marked = ""
    has_plain = False
    for cell in map(clean, cells):
        if "." in cell or "," in cell:
            if not _ONE_GROUP.fullmatch(cell):
                return ""
            marked = cell
        elif cell.strip("+-0"):
            digits = cell.lstrip("+-")
            if digits.isdigit() and len(digits) > 3:
                return ""
            has_plain = has_plain or digits.isdigit()
    return marked if has_plain else ""


def _grouped_error(cell: str, where: str) -> DataError:
    return DataError.of("mark_may_group_thousands", where=where, cell=cell)
