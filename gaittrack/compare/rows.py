"""One row of a comparison: one measure, one side, one condition against the reference.

In come the strides of all walks and the choices of the comparison, out come :class:`ComparisonRow`
objects: values, difference, interval, floor, verdict, labels, and the speed-matched result.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from gaittrack.compare.fairness import (
    FEW_STRIDES,
    FEW_WALKS,
    LEAST_STRIDES,
    LEAST_WALKS,
    MATCH_M_S,
    FairnessNote,
    Group,
    contact_shares,
    speeds_differ,
)
from gaittrack.compare.interval import (
    Interval,
    difference_interval,
    no_interval,
    within_walk_interval,
)
from gaittrack.compare.measurement_error import SPEED_MEASURE, FloorTable, Situation, find_floor
from gaittrack.compare.same_body import why_noise_differs, why_other_body
from gaittrack.compare.typical import TypicalRange
from gaittrack.compare.verdict import (
    CLEARANCE_MEASURES,
    CONTACT_TYPE_CHANGED,
    FIRST_ROCKER_MEASURES,
    LARGER,
    NOT_COMPARABLE,
    NOT_DEFINED,
    NOT_TRUSTED,
    Verdict,
    is_of_mean_curves,
    judge,
    typical_direction,
    why_clearance_not_comparable,
    why_labels_not_comparable,
    why_not_defined,
    why_not_trusted,
    why_rate_not_comparable,
)
from gaittrack.compare.walks import MEASURE_BY_NAME, Sample, Strides, near_speed, sample_of
from gaittrack.measures.measure import Measure
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Side

MINIMUM_SHARE: Final = "mid_swing_minimum_share_percent"
OF_CONDITION: Final = "of_condition"
"""Code of a label that holds for one condition only."""
_RATE_UNIT: Final = "deg/s"
_NO_WALKS: Final = sample_of((), MEASURE_BY_NAME[MINIMUM_SHARE])
Samples = Mapping[tuple[str, Side], Sample]


@dataclass(frozen=True, slots=True)
class MatchedResult:
    """The same difference over strides near the common speed only.

    Attributes
    ----------
    common_speed_m_s : float
        Mean of both conditions' speeds; strides within 0.1 m/s of it are used.
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


@dataclass(frozen=True, slots=True)
class ComparisonRow:
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
    low, high : float
        95 % interval of the difference; NaN when none is shown.
    interval_kind, interval_reason : Reason or None
        How it was made, or why there is none.
    floor : float
        Smallest difference that exceeds measurement error; NaN when none is known.
    verdict : str
        One of ``verdict.VERDICTS``.
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
    low: float
    high: float
    interval_kind: Reason | None
    interval_reason: Reason | None
    floor: float
    floor_source: Reason
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
class Pair:
    """A condition and its reference, with what holds for every row of them.

    Attributes
    ----------
    own_samples, reference_samples : mapping of (measure, side) to Sample
        From :func:`group_samples`.
    other_points : mapping of (measure, side) to Reason
        Why a measure is not of the same points in both, and cannot be.
    again : mapping of (measure, side) to Reason
        The label of a measure whose samples were measured again on the points that both have.
    """

    own: Group
    reference: Group
    own_samples: Samples
    reference_samples: Samples
    situation: Situation
    notes: tuple[FairnessNote, ...]
    n_comparisons: int
    floors: FloorTable | None
    typical: Mapping[str, TypicalRange]
    other_points: Mapping[tuple[str, Side], Reason] = field(default_factory=dict)
    again: Mapping[tuple[str, Side], Reason] = field(default_factory=dict)

    def samples(self, measure: str, side: Side) -> tuple[Sample, Sample]:
        """Return the samples of a measure and side: the condition's, the reference's."""
        key = measure, side
        return self.own_samples.get(key, _NO_WALKS), self.reference_samples.get(key, _NO_WALKS)


def measured_sides(groups: Sequence[Group]) -> list[tuple[str, Side]]:
    """Return every measure and side that occurs, in the order measures are printed."""
    seen = {key for group in groups for walk in group.walks for key in walk.tables}
    order = {name: place for place, name in enumerate(MEASURE_BY_NAME)}
    return sorted(seen, key=lambda key: (order[key[0]], key[1]))


def group_samples(group: Group) -> Samples:
    """Return the samples of all measures and sides of a condition."""
    tables: dict[tuple[str, Side], list[Strides]] = {}
    for walk in group.walks:
        for key, own in walk.tables.items():
            tables.setdefault(key, []).append(own)
    return {key: sample_of(own, MEASURE_BY_NAME[key[0]]) for key, own in tables.items()}


def compare_measure(pair: Pair, measure_name: str, side: Side) -> ComparisonRow:
    """Compare one measure of one side."""
    measure = MEASURE_BY_NAME[measure_name]
    own, reference = pair.samples(measure_name, side)
    other = pair.other_points.get((measure_name, side))
    difference = math.nan if other else own.value - reference.value
    interval = no_interval(other) if other else interval_of(pair, measure, own, reference)
    floor = find_floor(measure_name, pair.situation, own.value, reference.value, own=pair.floors)
    verdict = _obstacle(pair, measure, side, own, reference) or judge(
        difference, interval, floor, is_rate=measure.unit == _RATE_UNIT
    )
    typical, typical_labels = _typical(pair, measure, verdict, own, reference)
    return ComparisonRow(
        measure=measure_name,
        side=side,
        unit=measure.unit,
        condition=pair.own.name,
        reference=pair.reference.name,
        n_walks=own.n_walks,
        n_strides=own.n_strides,
        n_walks_reference=reference.n_walks,
        n_strides_reference=reference.n_strides,
        n_not_defined=own.n_not_defined,
        n_not_defined_reference=reference.n_not_defined,
        n_not_trusted=own.n_not_trusted,
        n_not_trusted_reference=reference.n_not_trusted,
        value=own.value,
        reference_value=reference.value,
        difference=difference,
        low=interval.low,
        high=interval.high,
        interval_kind=interval.kind,
        interval_reason=interval.reason,
        floor=floor.value,
        floor_source=floor.source,
        verdict=verdict.code,
        verdict_reason=verdict.reason,
        direction=verdict.direction,
        typical=typical,
        labels=(*_labels(pair, measure_name, side, own, reference), *typical_labels),
        matched=_matched(pair, measure, side),
    )


def interval_of(
    pair: Pair, measure: Measure, own: Sample, reference: Sample, *, n_signs: int = 1
) -> Interval:
    """Return the interval of a difference: over walks, or within two single treadmill walks.

    Parameters
    ----------
    n_signs : int
        Share the error over this many measures as well.
    """
    n_comparisons = pair.n_comparisons * n_signs
    if is_of_mean_curves(own, reference):
        return no_interval(Reason("scatter_of_means_not_known"))
    walks = (*pair.own.walks, *pair.reference.walks)
    if own.n_walks == reference.n_walks == 1 and all(walk.is_treadmill for walk in walks):
        return within_walk_interval(
            own.strides[0],
            reference.strides[0],
            n_comparisons=n_comparisons,
            summary=measure.walk_value,
        )
    return difference_interval(own.walk_values, reference.walk_values, n_comparisons=n_comparisons)


def _obstacle(
    pair: Pair, measure: Measure, side: Side, own: Sample, reference: Sample
) -> Verdict | None:
    """Return the verdict where there is nothing to judge, else None."""
    samples = {pair.reference.name: reference, pair.own.name: own}
    if reason := why_not_trusted(samples):
        return Verdict(NOT_TRUSTED, reason)
    if reason := why_not_defined(samples):
        changed = _rate_reason(pair, measure, side)
        if changed is not None and changed.code == CONTACT_TYPE_CHANGED:
            return Verdict(NOT_COMPARABLE, changed)
        return Verdict(NOT_DEFINED, reason)
    reason = (
        why_other_body((*pair.reference.walks, *pair.own.walks))
        or _rate_reason(pair, measure, side)
        or _clearance_reason(pair, measure, side, own, reference)
        or why_labels_not_comparable(measure.unit, own, reference)
        or pair.other_points.get((measure.name, side))
    )
    return Verdict(NOT_COMPARABLE, reason) if reason else None


def _rate_reason(pair: Pair, measure: Measure, side: Side) -> Reason | None:
    if measure.name not in FIRST_ROCKER_MEASURES:
        return None
    shares = contact_shares(pair.own, side), contact_shares(pair.reference, side)
    return why_rate_not_comparable(*shares) or why_noise_differs(
        pair.own.walks, pair.reference.walks, side
    )


def _clearance_reason(
    pair: Pair, measure: Measure, side: Side, own: Sample, reference: Sample
) -> Reason | None:
    if measure.name not in CLEARANCE_MEASURES:
        return None
    told = zip(pair.samples(MINIMUM_SHARE, side), (own, reference), strict=True)
    return why_clearance_not_comparable(*(_minimum_share(*each) for each in told))


def _minimum_share(share: Sample, sample: Sample) -> float:
    """Return the share of strides with a mid-swing minimum, else of defined strides, per cent."""
    if share.n_walks:
        return sum(float(each.sum()) for each in share.strides) / share.n_strides
    n_all = sample.n_strides + sample.n_not_defined
    return 100 * sample.n_strides / n_all if n_all else math.nan


def _typical(
    pair: Pair, measure: Measure, verdict: Verdict, own: Sample, reference: Sample
) -> tuple[str, tuple[Reason, ...]]:
    norm = pair.typical.get(measure.name)
    if norm is None or verdict.code != LARGER or measure.unit == _RATE_UNIT:
        return "", ()
    said = typical_direction(own.value, reference.value, norm)
    if not said or all(norm.holds_at(group.speed_m_s) for group in (pair.own, pair.reference)):
        return said, ()
    speeds = {"lowest_m_s": norm.lowest_speed_m_s, "highest_m_s": norm.highest_speed_m_s}
    return said, (Reason("typical_range_speeds", **speeds),)


def _labels(
    pair: Pair, measure: str, side: Side, own: Sample, reference: Sample
) -> tuple[Reason, ...]:
    again = pair.again.get((measure, side))
    labels = [] if again is None else [again]
    labels += [
        Reason(note.reason.code)
        for note in pair.notes
        if note.level == "warning" and note.side in (None, side)
    ]
    if min(own.n_walks, reference.n_walks) < LEAST_WALKS:
        labels.append(Reason(FEW_WALKS))
    if min(own.n_strides, reference.n_strides) < LEAST_STRIDES:
        labels.append(Reason(FEW_STRIDES))
    for sample, name in ((reference, pair.reference.name), (own, pair.own.name)):
        labels += [
            Reason(OF_CONDITION, condition=name, label=_counted(label, count, sample.n_strides))
            for label, count in sample.labels.items()
        ]
    if measure in FIRST_ROCKER_MEASURES:
        labels.append(_heel_contacts(pair, side))
    return tuple(dict.fromkeys(labels))


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
    interval = interval_of(pair, measure, own, reference)
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
