"""Columns of times of day, as ``10:22:33.05``, with or without a day before them.

In come the rows of a table; out go the same with seconds in the place of such times. Only a column
of them alone counts, and only one that tells moments apart: whole seconds of a fast recording, or
frames behind a last colon, stay what they are.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from gaittrack.read.tables.row_splitting import Rows

_CLOCK = re.compile(
    r"(?:\d{1,4}[-./]\d{1,2}[-./]\d{1,4}[T ,]\s*)?"
    r"(?:(?:(?P<h>\d{1,2}):)?(?P<m>\d{1,2}):(?P<s>\d{1,2})(?P<fraction>[.,]\d{1,9})?)"
    r"(?:\s?(?:Z|UTC|[+-]\d{2}:?\d{2}))?"
)
_HALF_DAY_S = 43_200.0
DIGITS = 6
"""Of a second; finer than any clock of a recording."""


def clocks_as_seconds(
    rows: Rows, first: int, last: int, decimal: str | None
) -> tuple[Rows, tuple[int, ...]]:
    """Return the rows with seconds for times of day, and the columns where these stood.

    Parameters
    ----------
    first, last : int
        The rows with numbers are ``rows[first:last]``.
    decimal : {".", ","} or None
        With which sign seconds are written; None for a point.
    """
    body = [place for place in range(first, last) if any(rows[place])]
    begins = rows[body[0]]
    columns = [column for column, cell in enumerate(begins) if ":" in cell]
    found = {column: _seconds([_cell(rows[p], column) for p in body]) for column in columns}
    known = {column: times for column, times in found.items() if times}
    if not known:
        return rows, ()
    changed = list(rows)
    for number, place in enumerate(body):
        cells = list(rows[place])
        for column, times in known.items():
            cells[column] = f"{times[number]:.{DIGITS}f}".replace(".", decimal or ".")
        changed[place] = tuple(cells)
    return tuple(changed), tuple(known)


def _cell(row: Sequence[str], column: int) -> str:
    return row[column] if column < len(row) else ""


def _seconds(cells: Sequence[str]) -> list[float]:
    """Return times in seconds, past midnight too; none where they are not all rising times."""
    times: list[float] = []
    for cell in cells:
        match = _CLOCK.fullmatch(cell.strip())
        if match is None or (match["h"] is None and match["fraction"] is None):
            return []
        fraction = float((match["fraction"] or ".0").replace(",", "."))
        seconds = 3600.0 * int(match["h"] or 0) + 60 * int(match["m"]) + int(match["s"]) + fraction
        while times and seconds < times[-1] - _HALF_DAY_S:
            seconds += 2 * _HALF_DAY_S
        times.append(seconds)
    is_told_apart = all(one < two for one, two in zip(times[:-1], times[1:], strict=True))
    return times if is_told_apart else []
