"""Ask, instead of guessing, how a sheet is laid out.

In comes what was seen of a sheet and what stayed in doubt; out goes a :class:`LayoutError` whose
message lists both and prints a map file to complete. ``"?"`` marks what only a person can know.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from gaittrack.errors import LayoutError
from gaittrack.vocabulary import JOINTS, SIDES

MOST_COLUMNS_LISTED = 40
"""Further columns are counted, not listed; our choice."""


@dataclass(frozen=True, slots=True)
class SeenColumn:
    """A column (or row) as seen, and what was guessed: "" or None where nothing was."""

    name: str
    first_numbers: tuple[float, ...]
    guess: str = ""
    joint: str = ""
    side: str = ""
    sign: float | None = 1.0
    zero_deg: float | None = 0.0
    cycle: str = ""
    condition: str = ""
    is_wanted: bool = True


def ask(
    where: str,
    doubts: Iterable[str],
    seen: Sequence[SeenColumn],
    sheet: Mapping[str, object],
    *,
    kind: str = "columns",
) -> LayoutError:
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
    """
    lines = [f"Not sure how to read this sheet. In doubt: {'; '.join(doubts)}.", f"Seen {kind}:"]
    for column in seen[:MOST_COLUMNS_LISTED]:
        numbers = ", ".join("gap" if math.isnan(v) else f"{v:g}" for v in column.first_numbers)
        lines.append(f"  {column.name!r}: {numbers} … {column.guess or 'not known'}")
    if len(seen) > MOST_COLUMNS_LISTED:
        lines.append(f"  and {len(seen) - MOST_COLUMNS_LISTED} more")
    action = (
        '\nComplete this map (replace each "?", delete tables of columns that are not wanted) and '
        f"give it with --map:\n\n{map_text(seen, sheet)}"
    )
    return LayoutError("\n".join(lines), where=where, action=action)


def map_text(seen: Sequence[SeenColumn], sheet: Mapping[str, object]) -> str:
    """Return a map file (TOML) with everything that was found filled in."""
    lines = ["[sheet]"]
    lines += [f"{key} = {_toml(value)}" for key, value in sheet.items() if value is not None]
    for column in seen:
        if not column.is_wanted:
            continue
        lines += [
            "",
            "[[columns]]",
            f"name = {_toml(column.name)}",
            f"joint = {_toml(column.joint or '?')}  # {', '.join(JOINTS)}",
            f"side = {_toml(column.side or '?')}  # {', '.join(SIDES)}",
            f"sign = {_number(column.sign)}  # -1 when plantarflexion or extension is positive",
            f"zero_deg = {_number(column.zero_deg)}  # what the sheet calls the neutral position",
        ]
        if column.cycle:
            lines.append(f"cycle = {_toml(column.cycle)}")
        if column.condition:
            lines.append(f"condition = {_toml(column.condition)}")
    return "\n".join(lines) + "\n"


def _number(value: float | None) -> str:
    return '"?"' if value is None else f"{value:g}"


def _toml(value: object) -> str:
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, bool):
        return str(value).lower()
    return repr(value)
