"""Ask, instead of guessing, how a sheet is laid out.

In comes what was seen of a sheet and what stayed in doubt; out goes a :class:`SheetDoubtError`
whose message lists both and prints a map file to complete. ``"?"`` marks what only a person can
know; whoever replaces each by a word that stands beside it is asked nothing more.
"""

from __future__ import annotations

import glob
import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from gaittrack.errors import SheetDoubtError
from gaittrack.lab_map import NOT_WANTED
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import JOINTS, SIDES

MOST_COLUMNS_LISTED = 40
"""Further columns are counted, not listed; our choice."""
ASKED: Final = "?"
_EXPLAINED: Final[Mapping[str, str]] = {
    "layout": "time_series, or cycles: curves over 0-100 %",
    "unit": "deg, rad",
    "rate_hz": "frames per second; not needed for cycles",
}
"""What may stand in the place of a question mark in the [sheet] table."""
_OF_ONE_FILE: Final = ("workbook_sheet", "block", "person_number", "trial")


@dataclass(frozen=True, slots=True)
class SeenColumn:
    """A column (or row) as seen, and what was guessed.

    Attributes
    ----------
    guess : str
        For the eye: what the name was taken for.
    joint, side, cycle, condition : str
        "" where nothing was guessed; ``"?"`` where a person must say. A joint or side that is not
        known must always be said.
    sign, zero_deg : float or None
        None where a person must say.
    values : ndarray, shape (n,)
        As in the sheet.
    """

    name: str
    values: FloatArray = field(default_factory=lambda: np.empty(0))
    guess: str = ""
    joint: str = ""
    side: str = ""
    sign: float | None = 1.0
    zero_deg: float | None = 0.0
    unit: str = ""
    cycle: str = ""
    condition: str = ""
    is_mean: bool = False
    toe_off_percent: float | None = None
    is_wanted: bool = True


def ask(
    where: str,
    doubts: Iterable[str],
    seen: Sequence[SeenColumn],
    sheet: Mapping[str, object],
    *,
    kind: str = "columns",
    words: Mapping[str, Iterable[str]] | None = None,
) -> SheetDoubtError:
    """Return the question.

    Parameters
    ----------
    where : str
        File name.
    doubts : iterable of str
        What could not be decided.
    sheet : mapping
        Keys of the map's ``[sheet]`` table as found; "?" where a person must say.
    kind : str
        ``columns`` or ``rows``.
    words : mapping of key to str, optional
        What may stand in the place of a "?" of ``sheet``.
    """
    lines = [f"Not sure how to read this sheet. In doubt: {'; '.join(doubts)}."]
    lines += [f"Seen {kind}:"] if seen else []
    for column in seen[:MOST_COLUMNS_LISTED]:
        first = column.values[:4]
        numbers = ", ".join("gap" if math.isnan(value) else f"{value:g}" for value in first)
        lines.append(f"  {column.name!r}: {numbers} … {column.guess or 'not known'}")
    if len(seen) > MOST_COLUMNS_LISTED:
        lines.append(f"  and {len(seen) - MOST_COLUMNS_LISTED} more")
    action = (
        '\nComplete this map (replace each "?" by a word that stands beside it) and give it with '
        f"--map:\n\n{map_text(seen, sheet, words or {}, file_name=where)}"
    )
    return SheetDoubtError("\n".join(lines), where=where, action=action)


def map_text(
    seen: Sequence[SeenColumn],
    sheet: Mapping[str, object],
    words: Mapping[str, Iterable[str]] | None = None,
    *,
    file_name: str,
) -> str:
    """Return a map file (TOML) with everything that was found filled in.

    Which of several recordings is meant is said for one file alone.
    """
    lines = ["[sheet]"]
    for key, value in sheet.items():
        if value is not None:
            listed = ", ".join((words or {}).get(key, ())) or _EXPLAINED.get(key, "")
            note = f"  # {listed}" if value == ASKED and listed else ""
            lines.append(f"{key} = {_toml(value)}{note}")
    if any(sheet.get(key) is not None for key in _OF_ONE_FILE):
        lines += ["", "[fits]", f"files = [{_toml(glob.escape(file_name))}]"]
    for column in seen:
        if column.is_wanted:
            for side in _sides(column):
                lines += ["", *_column_lines(column, side)]
    return "\n".join(lines) + "\n"


def _sides(column: SeenColumn) -> tuple[str, ...]:
    """Return the side to write; a pelvis angle without a side is one of both."""
    is_of_both = not column.side and column.joint.startswith("pelvic")
    return tuple(SIDES) if is_of_both else (column.side or ASKED,)


def _column_lines(column: SeenColumn, side: str) -> Iterator[str]:
    yield "[[columns]]"
    yield f"name = {_toml(column.name)}"
    yield f"joint = {_toml(column.joint or ASKED)}  # {', '.join(JOINTS)}, or {NOT_WANTED}"
    yield f"side = {_toml(side)}  # {', '.join(SIDES)}"
    sign, zero = _number(column.sign), _number(column.zero_deg)
    yield f"sign = {sign}  # 1, or -1 when plantarflexion or extension is positive"
    yield f"zero_deg = {zero}  # degrees at the neutral position, mostly 0 or 90"
    if column.cycle:
        note = "  # 1, 2 …; 1 for all where they are conditions" if column.cycle == ASKED else ""
        yield f"cycle = {_toml(column.cycle)}{note}"
    if column.condition:
        note = '  # its name; "" for all where they are cycles' if column.condition == ASKED else ""
        yield f"condition = {_toml(column.condition)}{note}"
    if column.is_mean:
        yield "mean = true"
    if column.toe_off_percent is not None:
        yield f"toe_off_percent = {column.toe_off_percent:g}"


def _number(value: float | None) -> str:
    return f'"{ASKED}"' if value is None else f"{value:g}"


def _toml(value: object) -> str:
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, bool):
        return str(value).lower()
    return repr(value)
