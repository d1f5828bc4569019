"""Both intervals of a row: what walking can do, and what putting the markers on adds.

In come the samples of two conditions and the :class:`Placement` of their markers, out come
:class:`RowIntervals`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gaittrack.compare.certainty import ALPHA, certainty
from gaittrack.compare.interval import (
    Interval,
    no_interval,
    reason_for_none,
    within_walk_interval,
)
from gaittrack.compare.placement import Placement
from gaittrack.compare.verdict import is_of_mean_curves
from gaittrack.compare.walks import Sample
from gaittrack.measures.measure import Measure
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray


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

    @property
    def walks_half(self) -> float:
        """Half-width of the walks alone; NaN where it says nothing of another walk."""
        if not self.walks.is_shown or self.walks.is_within_walk:
            return math.nan
        return (self.walks.high - self.walks.low) / 2


def no_intervals(reason: Reason) -> RowIntervals:
    """Return "no interval" with its reason."""
    return RowIntervals(no_interval(reason), no_interval(reason), math.nan)


def row_intervals(
    own: Sample, reference: Sample, placement: Placement, measure: Measure, *, is_treadmill: bool
) -> RowIntervals:
    """Return the intervals of a difference.

    Parameters
    ----------
    is_treadmill : bool
        Whether all walks are bouts on a treadmill: of two single ones, blocks of strides then stand
        in for walks.
    """
    if is_of_mean_curves(own, reference):
        return no_intervals(Reason("scatter_of_means_not_known"))
    if own.n_walks == reference.n_walks == 1 and is_treadmill:
        strides = own.strides[0], reference.strides[0]
        walks = within_walk_interval(*strides, summary=measure.walk_value)
        return RowIntervals(walks, _widened(walks, placement), math.nan)
    return intervals_of_values(own.walk_values, reference.walk_values, placement)


def intervals_of_values(
    values: FloatArray, reference: FloatArray, placement: Placement
) -> RowIntervals:
    """Return the intervals of the difference of two sets of walk values."""
    if reason := reason_for_none(len(values), len(reference)):
        return no_intervals(reason)
    found = certainty(values, reference, placement)
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
