"""Both intervals of a row: what walking can do, and what putting the markers on adds.

In come the samples of two conditions and the :class:`Placement` of their markers, out come
:class:`RowIntervals`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from gaittrack.compare.intervals.certainty import ALPHA, Case, Certainty, certainties
from gaittrack.compare.intervals.interval import (
    Interval,
    no_interval,
    reason_for_none,
    within_walk_interval,
)
from gaittrack.compare.intervals.verdict import is_of_mean_curves
from gaittrack.compare.measurement_error.placement import Placement
from gaittrack.compare.walked.walks import Sample
from gaittrack.measures.measure import Measure
from gaittrack.reasons import Reason


@dataclass(frozen=True, slots=True)
class RowIntervals:
    """The intervals of one difference.

    Attributes
    ----------
    walks, whole : Interval
        Of the walks alone, and with the markers.
    p : float
        Smallest level whose whole interval leaves out 0; NaN where there is none, also within one
        walk.
    """

    walks: Interval
    whole: Interval
    p: float


def no_intervals(reason: Reason) -> RowIntervals:
    """Return "no interval" with its reason."""
    return RowIntervals(no_interval(reason), no_interval(reason), math.nan)


class RowCase(NamedTuple):
    """One row whose intervals are wanted.

    Attributes
    ----------
    is_treadmill : bool
        Whether all walks are bouts on a treadmill: of two single ones, blocks of strides then stand
        in for walks.
    other_points : Reason or None
        Why the two are not of the same points: then they have no interval.
    """

    own: Sample
    reference: Sample
    placement: Placement
    measure: Measure
    is_treadmill: bool
    other_points: Reason | None = None


def row_intervals(cases: Sequence[RowCase]) -> list[RowIntervals]:
    """Return the intervals of the difference of each row; all rows at once cost little more."""
    found = {place: _without_walks(case) for place, case in enumerate(cases)}
    left = [place for place, intervals in found.items() if intervals is None]
    wanted = [
        (one.own.walk_values, one.reference.walk_values, one.placement)
        for one in (cases[place] for place in left)
    ]
    known = found | dict(zip(left, intervals_of_values(wanted), strict=True))
    return [each for each in known.values() if each is not None]


def _without_walks(case: RowCase) -> RowIntervals | None:
    """Return the intervals of a row that its walk values have no part in, else None."""
    own, reference = case.own, case.reference
    if case.other_points:
        return no_intervals(case.other_points)
    if is_of_mean_curves(own, reference):
        return no_intervals(Reason("scatter_of_means_not_known"))
    if own.n_walks == reference.n_walks == 1 and case.is_treadmill:
        strides = own.strides[0], reference.strides[0]
        walks = within_walk_interval(*strides, summary=case.measure.walk_value)
        return RowIntervals(walks, _widened(walks, case.placement), math.nan)
    return None


def intervals_of_values(cases: Sequence[Case]) -> list[RowIntervals]:
    """Return the intervals of the difference of two sets of walk values, case by case."""
    return [_said(*each) for each in zip(cases, certainties(cases), strict=True)]


def _said(case: Case, found: Certainty) -> RowIntervals:
    values, reference, placement = case
    if reason := reason_for_none(len(values), len(reference)):
        return no_intervals(reason)
    if math.isnan(found.walks_half):
        return no_intervals(Reason("walks_do_not_differ"))
    kind = _kind(len(values), len(reference))
    walks = Interval(*found.walks, kind)
    return RowIntervals(walks, Interval(*found.whole, _with_markers(kind, placement)), found.p)


def _kind(n_walks: int, n_reference: int) -> Reason:
    fewer, more = sorted((n_walks, n_reference))
    if fewer == more > 3:
        return Reason("welch")
    return Reason("welch_cochran" if more > 3 else "welch_few_walks")


def _with_markers(kind: Reason, placement: Placement) -> Reason:
    return Reason("with_markers", kind=kind) if placement.error > 0 else kind


def _widened(walks: Interval, placement: Placement) -> Interval:
    if not walks.is_shown or walks.kind is None:
        return walks
    middle, half = (walks.low + walks.high) / 2, (walks.high - walks.low) / 2
    whole = math.hypot(half, float(placement.half_width(ALPHA)))
    return Interval(middle - whole, middle + whole, _with_markers(walks.kind, placement))
