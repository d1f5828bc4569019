"""Angles over time whose side or joint stands in each row: ``time, side, knee`` or ``time, joint``.

In comes an open sheet; it goes out with a column for each side and joint, where all of them run
through the same moments. Anything else stays as it is, for a person to be asked about.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from gaittrack.read.sheets.sheet_columns import Sheet, unique
from gaittrack.read.tables.column_names import read_column_name
from gaittrack.read.tables.number_cells import is_missing

MOST_GROUPS: Final = 24
"""Two sides of a dozen angles; more words than that are no sides and joints; our choice."""
_KEYS: Final = ("side", "joint")
_MOMENTS: Final = ("time", "frame")


@dataclass(frozen=True, slots=True)
class _Spread:
    """What the columns are afterwards: which rows are of each group, what is taken of them."""

    groups: tuple[tuple[str, tuple[int, ...]], ...]
    moments: tuple[int, ...]
    others: tuple[int, ...]

    def names(self, labels: Sequence[str]) -> tuple[str, ...]:
        own = [f"{words} {labels[c]}" for words, _ in self.groups for c in self.others]
        return unique([*(labels[c] for c in self.moments), *own])


def spread_names(sheet: Sheet) -> tuple[str, ...]:
    """Return what the columns are called afterwards; none where nothing changes."""
    spread = _spread(sheet)
    return () if spread is None else spread.names(sheet.labels)


def put_sides_beside(sheet: Sheet) -> None:
    """Give each side and joint that rows name columns of its own."""
    spread = _spread(sheet)
    if spread is None:
        return
    labels = spread.names(sheet.labels)
    own = sheet.spelt
    beside = [read_column_name(label) for label in labels[len(spread.moments) :]]
    first = spread.groups[0][1]
    body = [
        (
            *(_cell(sheet.body[row], column) for column in spread.moments),
            *(
                _cell(sheet.body[rows[place]], c)
                for _, rows in spread.groups
                for c in spread.others
            ),
        )
        for place, row in enumerate(first)
    ]
    sheet.take_rows(body, [sheet.body_rows[row] for row in first])
    sheet.labels, sheet.spelt = labels, (*(own[c] for c in spread.moments), *beside)
    sheet.key_columns = set()
    sheet.steps.append(f"rows of {len(spread.groups)} sides or joints put beside each other")


def _spread(sheet: Sheet) -> _Spread | None:
    keys = [
        column
        for column, name in enumerate(sheet.spelt)
        if name.role in _KEYS and not sheet.is_numeric(column)
    ]
    moments = [c for c, n in enumerate(sheet.spelt) if n.role in _MOMENTS and sheet.is_numeric(c)]
    if not keys or not moments:
        return None
    rows_of: dict[str, list[int]] = {}
    for row, cells in enumerate(sheet.body):
        words = [_cell(cells, column) for column in keys]
        if any(map(is_missing, words)):
            return None
        rows_of.setdefault(" ".join(words), []).append(row)
    times = [
        [[_cell(sheet.body[r], c) for c in moments] for r in rows] for rows in rows_of.values()
    ]
    if not 1 < len(times) <= MOST_GROUPS or any(each != times[0] for each in times):
        return None
    used = {*keys, *moments, *sheet.key_columns}
    others = [c for c in range(len(sheet.labels)) if c not in used and sheet.is_numeric(c)]
    groups = tuple((words, tuple(rows)) for words, rows in rows_of.items())
    return _Spread(groups, tuple(moments), tuple(others)) if others else None


def _cell(row: Sequence[str], column: int) -> str:
    return row[column] if column < len(row) else ""
