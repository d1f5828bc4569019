"""The axis of changes: places in per cent, in times the measurement error, the same for all rows.

In come rows of a comparison, out come the ends of their axis, its ticks, and the mark of a row or
why it has none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from gaittrack.answer.findings import UNTOLD
from gaittrack.compare.intervals.verdict import NOT_COMPARABLE
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.row_words import missing_words, verdict_words
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.reasons import Reason

_LEAST_REACH: Final = 2
_MOST_TICKS: Final = 12
Bounds = tuple[float, float]
Reach = tuple[int, int]
"""Ends of an axis, in measurement errors."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One change on the axis, in per cent of its width.

    Attributes
    ----------
    walks, whole : tuple of float
        Interval of the walks alone, and with what putting markers on again can do.
    """

    at: float
    walks: Bounds
    whole: Bounds


def has_mark(row: ComparisonRow) -> bool:
    """Whether a row has an interval and an error to draw it in."""
    return row.verdict not in UNTOLD and math.isfinite(row.low) and row.measurement_error > 0


def why_of(row: ComparisonRow) -> str:
    """Return why a row has no mark; empty where it has one."""
    if row.verdict == NOT_COMPARABLE:
        return verdict_words(row)
    if row.verdict in UNTOLD:
        return missing_words(row.verdict_reason)
    return "" if has_mark(row) else str(row.interval_reason or Reason(row.verdict))


def reach_of(rows: Sequence[ComparisonRow]) -> Reach:
    """Return the ends of the axis that holds the intervals of rows, in measurement errors."""
    drawn = [row for row in rows if has_mark(row)]
    bounds = [bound / row.measurement_error for row in drawn for bound in (row.low, row.high)]
    low = math.floor(min([-_LEAST_REACH, *bounds]))
    return low, math.ceil(max([_LEAST_REACH, *bounds]))


def scale_of(reach: Reach) -> tuple[tuple[tuple[float, str], ...], Bounds]:
    """Return places and labels of whole numbers on an axis, and the band of one error."""
    low, high = reach
    step = math.ceil((high - low) / _MOST_TICKS)
    ticks = tuple(
        (_place(at, reach), with_minus(f"{at:+d}") if at else "0")
        for at in range(low, high + 1, step)
    )
    return ticks, (_place(-1, reach), _place(1, reach))


def mark_of(row: ComparisonRow, reach: Reach) -> Mark:
    """Return the mark of a row that has one."""
    at, low, high, walks_low, walks_high = (
        _place(value / row.measurement_error, reach)
        for value in (row.difference, row.low, row.high, *walks_interval(row))
    )
    return Mark(at, (max(walks_low, 0.0), min(walks_high, 100.0)), (low, high))


def walks_interval(row: ComparisonRow) -> Bounds:
    """Return the interval of the walks alone; the whole one where that is not known."""
    if math.isfinite(row.walks_low):
        return row.walks_low, row.walks_high
    return row.low, row.high


def _place(errors: float, reach: Reach) -> float:
    low, high = reach
    return round(100 * (errors - low) / (high - low), 2)
