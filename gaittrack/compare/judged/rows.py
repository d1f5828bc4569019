"""One row of a comparison: one measure, one side, one condition against the reference.

In come a pair of conditions and a measure, out comes a :class:`Draft`, and from it, once the family
of questions is known, a :class:`ComparisonRow`: values, difference, both intervals, measurement
error, verdict, labels, and the speed-matched result.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from gaittrack.compare.fair.fairness import (
    FEW_STRIDES,
    FEW_WALKS,
    LEAST_STRIDES,
    LEAST_WALKS,
    MATCH_M_S,
    Group,
    contact_shares,
    speeds_differ,
)
from gaittrack.compare.fair.obstacles import find_obstacle
from gaittrack.compare.fair.pair import Pair
from gaittrack.compare.intervals.certainty import ALPHA
from gaittrack.compare.intervals.trend import Trend, find_trend
from gaittrack.compare.intervals.verdict import (
    FIRST_ROCKER_MEASURES,
    LARGER,
    Verdict,
    judge,
    typical_direction,
)
from gaittrack.compare.judged.row_intervals import RowCase, RowIntervals, row_intervals
from gaittrack.compare.measurement_error.marker_errors import SPEED_MEASURE, MeasurementError
from gaittrack.compare.walked.walks import MEASURE_BY_NAME, Sample, near_speed, sample_of
from gaittrack.measures.measure import Measure
from gaittrack.notebook_view import Shown
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Side

OUTSIDE_QUESTIONS: Final = "outside_questions"
"""Code of the label of a change outside the questions."""
OF_CONDITION: Final = "of_condition"
"""Code of a label that holds for one condition only."""
_RATE_UNIT: Final = "deg/s"


@dataclass(frozen=True, slots=True)
class MatchedResult:
    """The same difference over strides near the common speed only.

    Attributes
    ----------
    common_speed_m_s : float
        Mean of both conditions' speeds; strides within 0.1 m/s of it are used.
    low, high : float
        95 % interval of the difference, markers included.
    reason : Reason or None
        Why there is no difference or no interval.
    """

    common_speed_m_s: float
    n_walks: int
    n_strides: int
    n_walks_reference: int
    n_strides_reference: int
    value: float
    reference_value: float
    difference: float
    low: float
    high: float
    reason: Reason | None = None


@dataclass(frozen=True, slots=True, repr=False)
class ComparisonRow(Shown):
    """One measure of one side in one condition against the reference.

    Attributes
    ----------
    n_walks, n_strides, n_walks_reference, n_strides_reference : int
        Walks and strides with a defined value.
    n_not_defined, n_not_defined_reference : int
        Strides without one.
    n_not_trusted, n_not_trusted_reference : int
        Strides whose value a problem of the recording spoils.
    value, reference_value, difference : float
        Means of walk values; condition minus reference.
    walks_low, walks_high : float
        95 % interval of the difference by the walks alone; NaN when none is shown.
    low, high : float
        The whole one: with what putting the markers on again can do.
    interval_kind, interval_reason : Reason or None
        How it was made, or why there is none.
    measurement_error : float
        Smallest difference that exceeds measurement error; NaN when none is known.
    measurement_error_is_proposal : bool
        Own proposal, not a published figure.
    placement_sd, placement_sd_reference : float
        Standard deviation of putting the markers on, in the interval; 0 where they were left on or
        do not matter.
    p, adjusted_p : float
        Smallest level whose whole interval leaves out 0, by itself and adjusted for the family of
        questions, or of all rows outside of them; NaN when not judged.
    question : str
        Code of the question it answers; empty for a row outside of them.
    verdict : str
        One of ``decision.VERDICTS``.
    verdict_reason, direction, typical : str
        As in ``verdict.Verdict``.
    labels : tuple of Reason
        What a reader of the row must know.
    matched : MatchedResult or None
        Only where the speeds of the conditions differ.
    """

    measure: str
    side: Side
    unit: str
    condition: str
    reference: str
    n_walks: int
    n_strides: int
    n_walks_reference: int
    n_strides_reference: int
    n_not_defined: int
    n_not_defined_reference: int
    n_not_trusted: int
    n_not_trusted_reference: int
    value: float
    reference_value: float
    difference: float
    walks_low: float
    walks_high: float
    low: float
    high: float
    interval_kind: Reason | None
    interval_reason: Reason | None
    measurement_error: float
    measurement_error_source: Reason
    measurement_error_is_proposal: bool
    placement_sd: float
    placement_sd_reference: float
    p: float
    adjusted_p: float
    question: str
    verdict: str
    verdict_reason: Reason | None
    direction: str
    typical: str
    labels: tuple[Reason, ...]
    matched: MatchedResult | None


def verdict_of(row: ComparisonRow) -> Verdict:
    """Return the verdict of a row."""
    return Verdict(row.verdict, row.verdict_reason, row.direction, row.typical)


@dataclass(frozen=True, eq=False, slots=True)
class Draft:
    """A row before it is judged.

    Attributes
    ----------
    obstacle : Verdict or None
        What forbids a judgement.
    """

    pair: Pair
    measure: Measure
    side: Side
    own: Sample
    reference: Sample
    error: MeasurementError
    intervals: RowIntervals
    obstacle: Verdict | None

    @property
    def p(self) -> float:
        """Of the whole interval, by itself; NaN where there is nothing to judge."""
        return self.intervals.p if self.obstacle is None else math.nan

    @property
    def is_past_error(self) -> bool:
        """Whether the change by itself exceeds measurement error, whatever else was asked."""
        is_past = self.error.is_inside or abs(self.difference) >= self.error.error
        return is_past and self.p <= ALPHA

    @property
    def difference(self) -> float:
        """Condition minus reference; NaN where they are of other points."""
        is_of_other_points = (self.measure.name, self.side) in self.pair.other_points
        return math.nan if is_of_other_points else self.own.value - self.reference.value


def draft_rows(wanted: Iterable[tuple[Pair, str, Side]]) -> list[Draft]:
    """Compare measures of a side in pairs, up to their verdicts; all intervals at once."""
    rows = [
        (pair, MEASURE_BY_NAME[name], side, *pair.samples(name, side))
        for pair, name, side in wanted
    ]
    errors = [pair.error_of(measure.name, own, other) for pair, measure, _, own, other in rows]
    cases = [
        RowCase(
            own,
            other,
            error.placement,
            measure,
            pair.is_treadmill,
            pair.other_points.get((measure.name, side)),
        )
        for (pair, measure, side, own, other), error in zip(rows, errors, strict=True)
    ]
    return [
        Draft(*row, error, found, find_obstacle(*row))
        for row, error, found in zip(rows, errors, row_intervals(cases), strict=True)
    ]


def judged_row(
    draft: Draft, *, adjusted_p: float | None = None, question: str = ""
) -> ComparisonRow:
    """Return a row with its verdict.

    Parameters
    ----------
    adjusted_p : float, optional
        By the family; without it the row is judged by itself.
    question : str
        The question it answers.
    """
    pair, measure, own, reference = draft.pair, draft.measure, draft.own, draft.reference
    error, intervals = draft.error, draft.intervals
    adjusted = draft.p if adjusted_p is None else adjusted_p
    verdict = draft.obstacle or judge(
        draft.difference,
        intervals.walks,
        error,
        p=draft.p,
        adjusted_p=adjusted,
        is_rate=measure.unit == _RATE_UNIT,
    )
    return ComparisonRow(
        **_names_and_counts(draft),
        value=own.value,
        reference_value=reference.value,
        difference=draft.difference,
        walks_low=intervals.walks.low,
        walks_high=intervals.walks.high,
        low=intervals.whole.low,
        high=intervals.whole.high,
        interval_kind=intervals.whole.kind,
        interval_reason=intervals.whole.reason,
        measurement_error=error.error,
        measurement_error_source=error.source,
        measurement_error_is_proposal=error.is_proposal,
        placement_sd=error.placement.own,
        placement_sd_reference=error.placement.reference,
        p=draft.p,
        adjusted_p=adjusted,
        question=question,
        verdict=verdict.code,
        verdict_reason=verdict.reason,
        direction=verdict.direction,
        typical=_typical(draft, verdict),
        labels=_labels(draft, verdict, question),
        matched=_matched(pair, measure, draft.side),
    )


def _names_and_counts(draft: Draft) -> dict[str, Any]:
    own, reference = draft.own, draft.reference
    return {
        "measure": draft.measure.name,
        "side": draft.side,
        "unit": draft.measure.unit,
        "condition": draft.pair.own.name,
        "reference": draft.pair.reference.name,
        "n_walks": own.n_walks,
        "n_strides": own.n_strides,
        "n_walks_reference": reference.n_walks,
        "n_strides_reference": reference.n_strides,
        "n_not_defined": own.n_not_defined,
        "n_not_defined_reference": reference.n_not_defined,
        "n_not_trusted": own.n_not_trusted,
        "n_not_trusted_reference": reference.n_not_trusted,
    }


def _typical(draft: Draft, verdict: Verdict) -> str:
    pair, measure = draft.pair, draft.measure
    norm = pair.typical.get(measure.name)
    if norm is None or verdict.code != LARGER or measure.unit == _RATE_UNIT:
        return ""
    groups = (pair.own, pair.reference)
    if not all(
        norm.holds_at(each.speed_m_s) and norm.holds_on(each.is_barefoot) for each in groups
    ):
        return ""
    return typical_direction(draft.own.value, draft.reference.value, norm, draft.error.error)


def _labels(draft: Draft, verdict: Verdict, question: str) -> tuple[Reason, ...]:
    pair, own, reference = draft.pair, draft.own, draft.reference
    labels = list(pair.again.get((draft.measure.name, draft.side), ()))
    labels += [
        Reason(note.reason.code)
        for note in pair.notes
        if note.level == "warning" and note.side in (None, draft.side)
    ]
    if min(own.n_walks, reference.n_walks) < LEAST_WALKS:
        labels.append(Reason(FEW_WALKS))
    if min(own.n_strides, reference.n_strides) < LEAST_STRIDES:
        labels.append(Reason(FEW_STRIDES))
    for sample, name in ((reference, pair.reference.name), (own, pair.own.name)):
        labels += labels_of_sample(sample, name)
    if draft.measure.name in FIRST_ROCKER_MEASURES:
        labels.append(_heel_contacts(pair, draft.side))
    if verdict.code == LARGER and not question:
        labels.append(Reason(OUTSIDE_QUESTIONS))
    if draft.obstacle is None:
        trend = find_trend(own.walk_values, reference.walk_values)
        labels += [_trend_words(draft, trend)] if trend.is_named else []
    return tuple(dict.fromkeys(labels))


def _trend_words(draft: Draft, trend: Trend) -> Reason:
    """Return the drift of both conditions from one walk to the next; "none" below three walks."""

    def told(slope: float) -> Reason:
        if math.isnan(slope):
            return Reason("no_slope")
        unit, decimals = draft.measure.unit, draft.measure.decimals + 1
        return Reason("slope", value=slope, unit=unit, decimals=decimals)

    return Reason("walks_drift", reference=told(trend.reference_slope), own=told(trend.slope))


def labels_of_sample(sample: Sample, condition: str) -> list[Reason]:
    """Return the labels of the strides of a condition, each with of how many it is."""
    return [
        Reason(OF_CONDITION, condition=condition, label=_counted(label, n, sample.n_strides))
        for label, n in sample.labels.items()
    ]


def _counted(label: Reason, n_strides: int, n_all: int) -> Reason:
    if n_strides == n_all:
        return label
    return Reason("in_some_strides", label=label, n_strides=n_strides, n_all=n_all)


def _heel_contacts(pair: Pair, side: Side) -> Reason:
    own, reference = (contact_shares(group, side) for group in (pair.own, pair.reference))
    return Reason(
        "heel_contacts",
        n_heel=own.n_heel,
        n_known=own.n_known,
        n_heel_reference=reference.n_heel,
        n_known_reference=reference.n_known,
    )


def _matched(pair: Pair, measure: Measure, side: Side) -> MatchedResult | None:
    speeds = (pair.own.speed_m_s, pair.reference.speed_m_s)
    if (measure.name, side) in {**pair.other_points, **pair.again}:
        return None
    if measure.name == SPEED_MEASURE or any(map(math.isnan, speeds)) or not speeds_differ(*speeds):
        return None
    common = sum(speeds) / 2
    own, reference = (
        _near_sample(group, measure, side, common) for group in (pair.own, pair.reference)
    )
    error = pair.error_of(measure.name, own, reference)
    case = RowCase(own, reference, error.placement, measure, pair.is_treadmill)
    interval = row_intervals([case])[0].whole
    return MatchedResult(
        common_speed_m_s=common,
        n_walks=own.n_walks,
        n_strides=own.n_strides,
        n_walks_reference=reference.n_walks,
        n_strides_reference=reference.n_strides,
        value=own.value,
        reference_value=reference.value,
        difference=own.value - reference.value,
        low=interval.low,
        high=interval.high,
        reason=interval.reason,
    )


def _near_sample(group: Group, measure: Measure, side: Side, speed_m_s: float) -> Sample:
    tables = [walk.tables.get((measure.name, side)) for walk in group.walks]
    near = [near_speed(own, speed_m_s, within_m_s=MATCH_M_S) for own in tables if own is not None]
    return sample_of(near, measure)
