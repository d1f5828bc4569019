"""Promises of the comparison as a whole."""

import json
import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from gaittrack.compare.comparison import compare_walks, comparison_dict, pair_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.intervals.certainty import certainty
from gaittrack.compare.intervals.verdict import (
    AWAY,
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NOT_COMPARABLE,
    NOT_DEFINED,
    NOT_SHOWN,
    TOWARD,
)
from gaittrack.compare.measurement_error.marker_errors import NO_ERROR_FIGURE, OwnError
from gaittrack.compare.measurement_error.placement import UNTOUCHED, Placement
from gaittrack.compare.row_words import doubts, family_words
from gaittrack.compare.typical_values.typical import TypicalRange
from gaittrack.compare.walked.questions import QUESTIONS
from gaittrack.compare.walked.same_points import not_measured_so
from gaittrack.errors import ComparisonError
from gaittrack.measures.measure import OF_MEAN_CURVE
from gaittrack.measures.recording import LOWER_BOUND, LOWER_BOUND_OF_CURVE, OF_FILE, RATE_OF_FILE
from gaittrack.measures.swing_dorsiflexion import CARRIED_OVER
from gaittrack.reasons import Reason
from tests.compare.made_up_walks import CLEARANCE, RATE, SWING, row_of, walk, walks

SHARE = "mid_swing_minimum_share_percent"
CONTACT_ANGLE = "dorsiflexion_at_contact_deg"
SPEED = "walking_speed_m_s"
HIP = "peak_hip_flexion_pelvis_thigh_deg"
OF_60_HZ = Reason(LOWER_BOUND, rate_hz=60.0)
SMOOTHED = Reason("smoothed_before")
OWN_SOURCE = Reason("repeat_visits")
VALUES = {SWING: 0.0, RATE: 200.0, CLEARANCE: 12.0, CONTACT_ANGLE: -10.0, "step_width_mm": 100.0}


def _shifted(by):
    return {name: value + by for name, value in VALUES.items()}


def _pair(before=None, after=None, *, reference="shoe", options=None, **more):
    given = [*walks("shoe", before or VALUES, **more), *walks("brace", after or VALUES, **more)]
    return compare_walks(given, reference=reference, **(options or {}))


def test_row_holds_counts_means_difference_and_interval():
    """Recomputed from the strides by hand."""
    given = [*walks("shoe", {SWING: 0}, n=3), *walks("brace", {SWING: 8}, n=5)]
    row = row_of(compare_walks(given, reference="shoe"), SWING)
    means = {
        name: [w.tables[SWING, "left"].values.mean() for w in given if w.condition == name]
        for name in ("shoe", "brace")
    }
    walks_only = certainty(means["brace"], means["shoe"], UNTOUCHED)
    whole = certainty(means["brace"], means["shoe"], Placement(1.0, 1.0))
    assert (row.n_walks, row.n_strides) == (5, 30)
    assert (row.n_walks_reference, row.n_strides_reference) == (3, 18)
    assert row.value == pytest.approx(np.mean(means["brace"]))
    assert row.difference == pytest.approx(row.value - row.reference_value)
    assert (row.walks_low, row.walks_high) == pytest.approx(walks_only.walks)
    assert (row.low, row.high) == pytest.approx(whole.whole)
    assert (row.placement_sd, row.placement_sd_reference) == pytest.approx((1.0, 1.0))
    assert row.p == pytest.approx(whole.p) and row.measurement_error_is_proposal
    assert row.verdict == LARGER and row.direction == "higher"


def test_swapping_conditions_flips_every_sign_and_no_verdict():
    """Differences, bounds, directions; the class stays."""
    forward = _pair(after=_shifted(6))
    backward = _pair(after=_shifted(6), reference="brace")
    for row in forward.rows:
        other = row_of(backward, row.measure, row.side, "shoe")
        assert other.difference == pytest.approx(-row.difference)
        assert (other.low, other.high) == pytest.approx((-row.high, -row.low))
        assert other.measurement_error == pytest.approx(row.measurement_error, nan_ok=True)
        assert other.p == pytest.approx(row.p)
        assert other.verdict == row.verdict
        assert {row.direction, other.direction} in ({""}, {"higher", "lower"})
        assert {row.typical, other.typical} in ({""}, {TOWARD, AWAY})


def test_swapping_sides_swaps_rows():
    """Nothing depends on which side it is."""

    def swapped(record):
        tables = {(name, "right"): own for (name, _), own in record.tables.items()}
        facts = {name: {"right": getattr(record, name)["left"]} for name in ("cycles", "contacts")}
        return replace(record, tables=tables, **facts)

    given = [*walks("shoe", VALUES), *walks("brace", _shifted(5))]
    plain = compare_walks(given, reference="shoe")
    mirrored = compare_walks([swapped(record) for record in given], reference="shoe")
    for row in plain.rows:
        other = row_of(mirrored, row.measure, "right")
        assert replace(other, side="left") == row


def test_order_of_walks_changes_nothing():
    """But for the order of files in the settings."""
    given = [*walks("shoe", VALUES), *walks("brace", _shifted(5))]
    one, two = (compare_walks(each, reference="shoe") for each in (given, given[::-1]))
    for row in one.rows:
        other = row_of(two, row.measure)
        assert other.verdict == row.verdict and other.low == pytest.approx(row.low)


def test_restored_heel_contact_is_neither_harm_nor_benefit():
    """The row says why and gives both shares."""
    before = walks("shoe", {RATE: 80}, contact=["forefoot", "forefoot", "heel"])
    after = walks("brace", {RATE: 300}, contact="heel")
    row = row_of(compare_walks([*before, *after], reference="shoe"), RATE)
    assert row.verdict == NOT_COMPARABLE and row.direction == ""
    assert str(row.verdict_reason) == (
        "contact type changed: the heel lands first in 33 % of strides of the reference, "
        "in 100 % here"
    )
    assert row.difference > 100


def test_restored_heel_contact_from_none_says_the_same():
    """Also when the reference has no rate at all."""
    before = walks(
        "shoe",
        {RATE: 80},
        contact="forefoot",
        reasons={RATE: Reason("no_first_rocker", contact="forefoot")},
    )
    after = walks("brace", {RATE: 300})
    row = row_of(compare_walks([*before, *after], reference="shoe"), RATE)
    assert row.verdict == NOT_COMPARABLE and row.verdict_reason.code == "contact_type_changed"
    assert math.isnan(row.difference)


def test_rate_is_slower_never_toward_typical():
    """Even with an own range for it."""
    own = {RATE: TypicalRange(RATE, 50, 150, "own")}
    found = _pair(after={**VALUES, RATE: 90}, options={"typical": own})
    row = row_of(found, RATE)
    assert (row.verdict, row.direction, row.typical) == (LARGER, "slower", "")


@pytest.mark.parametrize(
    ("labels", "comparable"),
    [
        (((OF_60_HZ,), (OF_60_HZ,)), True),
        (((OF_60_HZ,), ()), False),
        (((Reason(LOWER_BOUND_OF_CURVE, n_points=101),), (OF_60_HZ,)), False),
        (((Reason(LOWER_BOUND, rate_hz=50.0),), (OF_60_HZ,)), False),
    ],
)
def test_two_kinds_of_rate_are_never_compared(labels, comparable):
    """A lower bound against a full rate is no comparison."""
    given = [
        *walks("shoe", {RATE: 100}, labels={RATE: labels[0]}),
        *walks("brace", {RATE: 200}, labels={RATE: labels[1]}),
    ]
    row = row_of(compare_walks(given, reference="shoe"), RATE)
    assert (row.verdict != NOT_COMPARABLE) == comparable
    if not comparable:
        kinds = (each or Reason("full_rate") for each in labels)
        assert row.verdict_reason == Reason(
            "two_kinds_of_rate", **dict(zip(("reference", "own"), kinds, strict=True))
        )


@pytest.mark.parametrize(
    "labels", [((SMOOTHED,), (SMOOTHED,)), ((SMOOTHED,), ()), ((), (SMOOTHED,))]
)
def test_rates_of_smoothed_markers_are_not_compared(labels):
    """Of two feet, one twice as quick, a 6 Hz export makes the quicker one the slower."""
    given = [
        *walks("shoe", {RATE: 100}, labels={RATE: labels[0]}),
        *walks("brace", {RATE: 200}, labels={RATE: labels[1]}),
    ]
    row = row_of(compare_walks(given, reference="shoe"), RATE)
    assert row.verdict == NOT_COMPARABLE
    assert row.verdict_reason == Reason("rates_of_smoothed_markers")


def test_clearance_with_unlike_shares_of_minima_is_not_compared():
    """100 % against 67 %; the row points to the value that is."""

    def every_third(stride):
        return Reason("no_minimum") if stride % 3 == 0 else None

    before = walks("shoe", {CLEARANCE: 10}, reasons={CLEARANCE: every_third})
    row = row_of(
        compare_walks([*before, *walks("brace", {CLEARANCE: 22})], reference="shoe"), CLEARANCE
    )
    assert row.verdict == NOT_COMPARABLE
    assert row.verdict_reason.code == "minimum_missing_in_one"
    assert "toe height under the hip is the compared value" in str(row.verdict_reason)
    assert row.n_not_defined_reference == 8


def test_share_measure_is_used_for_the_clearance_rule():
    """Strides without a number for another reason do not count as strides without a minimum."""

    def every_third(stride):
        return Reason("filled_gap", of="toe") if stride % 3 == 0 else None

    before = walks(
        "shoe", {CLEARANCE: 10, SHARE: 100}, reasons={CLEARANCE: every_third}, scatter=0.1
    )
    after = walks("brace", {CLEARANCE: 22, SHARE: 100}, scatter=0.1)
    row = row_of(compare_walks([*before, *after], reference="shoe"), CLEARANCE)
    assert row.verdict == LARGER


def test_maximum_carried_over_from_stance_is_not_compared():
    """Mid-swing dorsiflexion is."""
    found = _pair(after=_shifted(9), labels={SWING: (Reason(CARRIED_OVER),)})
    row = row_of(found, SWING)
    assert row.verdict == NOT_COMPARABLE
    assert row.verdict_reason == Reason("maximum_carried_over", percent=100)


def test_angles_of_two_origins_are_never_mixed():
    """Widths still compare, angles and rates do not."""
    own = {SWING: (OF_FILE,), RATE: (RATE_OF_FILE,)}
    given = [*walks("shoe", VALUES), *walks("brace", _shifted(9), labels=own)]
    found = compare_walks(given, reference="shoe")
    assert row_of(found, SWING).verdict == NOT_COMPARABLE
    assert row_of(found, RATE).verdict == NOT_COMPARABLE
    assert row_of(found, "step_width_mm").verdict != NOT_COMPARABLE


def test_not_defined_carries_the_reason_of_its_condition():
    """Which condition, and why."""
    given = [
        *walks("shoe", {SWING: 1}),
        *walks("brace", {SWING: 1}, reasons={SWING: Reason("no_angle", angle="ankle")}),
    ]
    row = row_of(compare_walks(given, reference="shoe"), SWING)
    assert row.verdict == NOT_DEFINED
    assert str(row.verdict_reason) == "brace: no ankle angle in the recording"
    assert math.isnan(row.difference) and math.isnan(row.low)


def test_one_walk_each_has_no_interval_and_shows_nothing():
    """The reason is in the row."""
    row = row_of(_pair(after=_shifted(20), n=1), SWING)
    assert row.verdict == NOT_SHOWN and row.interval_reason == Reason("only_one_walk")
    assert math.isnan(row.low) and row.difference > 10


def test_one_long_treadmill_walk_each_gets_a_labelled_interval():
    """And still no verdict of a change."""
    found = _pair(after=_shifted(20), n=1, n_strides=60, is_treadmill=True)
    row = row_of(found, SWING)
    assert row.interval_kind["kind"].code == "blocks_of_strides" and row.low > 10
    assert row.verdict == NOT_SHOWN


def test_a_treadmill_walk_against_one_over_ground_gets_no_interval():
    """Blocks of one long walk stand in for walks only where both are on a treadmill."""
    given = [
        walk("shoe", 1, VALUES, n_strides=60, is_treadmill=True),
        walk("brace", 1, _shifted(20), n_strides=60, is_treadmill=False),
    ]
    row = row_of(compare_walks(given, reference="shoe"), SWING)
    assert math.isnan(row.low) and row.interval_reason == Reason("only_one_walk")


@pytest.mark.parametrize(
    ("speeds_m_s", "typical"), [((1.3, 1.3), TOWARD), ((1.3, 0.8), ""), ((0.8, 1.3), "")]
)
def test_a_typical_range_of_other_speeds_is_silent(speeds_m_s, typical):
    """The range is of 1.2 to 1.5 m/s: one condition outside of it is enough."""
    norm = TypicalRange(SWING, 2.0, 6.0, "made up", 1.2, 1.5)
    slow, fast = speeds_m_s
    given = [
        *walks("shoe", {SWING: -10.0}, speed=slow),
        *walks("brace", {SWING: 4.0}, speed=fast),
    ]
    row = row_of(compare_walks(given, reference="shoe", typical={SWING: norm}), SWING)
    assert (row.verdict, row.typical) == (LARGER, typical)


def test_pairs_are_those_of_the_comparison():
    """What is worn counts in both: the same warnings, and the same rows."""
    given = [*walks("shoe", VALUES), *walks("brace", _shifted(8))]
    worn = {
        "shoe": Condition("shoe", orthosis="none", footwear="shoe"),
        "brace": Condition("brace", orthosis="ankle-foot orthosis", footwear="barefoot"),
    }
    (pair,) = pair_walks(given, reference="shoe", conditions=worn)
    found = compare_walks(given, reference="shoe", conditions=worn)
    assert pair.notes == found.fairness and found.fairness
    assert pair.notes != pair_walks(given, reference="shoe")[0].notes


def test_values_of_mean_curves_get_no_interval():
    """Their scatter is not known."""
    row = row_of(_pair(after=_shifted(20), labels={SWING: (Reason(OF_MEAN_CURVE),)}), SWING)
    assert row.interval_reason == Reason("scatter_of_means_not_known")
    assert row.verdict == NOT_SHOWN


def test_several_conditions_are_one_family_and_widen_no_interval():
    """With another condition the same difference is judged among more questions."""
    three = [*walks("shoe", VALUES), *walks("brace", _shifted(3)), *walks("soft", _shifted(1))]
    alone = row_of(compare_walks(three[:8], reference="shoe"), CONTACT_ANGLE)
    shared = row_of(compare_walks(three, reference="shoe"), CONTACT_ANGLE)
    assert (shared.low, shared.high, shared.p) == (alone.low, alone.high, alone.p)
    assert shared.adjusted_p > alone.adjusted_p
    assert {r.condition for r in compare_walks(three, reference="soft").rows} == {"shoe", "brace"}


def test_speed_matched_result_stands_beside_where_speeds_differ():
    """Strides within 0.1 m/s of the common speed, 1.1 m/s here."""
    slow = [walk("shoe", k, {SWING: 0}, speed=s) for k, s in enumerate((0.9, 1.02, 1.02, 1.02))]
    fast = [walk("brace", k, {SWING: 9}, speed=s) for k, s in enumerate((1.3, 1.18, 1.18, 1.18))]
    row = row_of(compare_walks([*slow, *fast], reference="shoe"), SWING)
    matched = row.matched
    assert matched.common_speed_m_s == pytest.approx(1.1)
    assert (matched.n_walks, matched.n_walks_reference, matched.n_strides) == (3, 3, 18)
    assert (row.n_walks, Reason("speed_differs") in row.labels) == (4, True)
    assert matched.difference == pytest.approx(matched.value - matched.reference_value)
    assert matched.difference == pytest.approx(9, abs=2)
    assert row_of(_pair(), SWING).matched is None


def test_a_label_says_of_how_many_strides_it_holds():
    """Of all: its words alone; of one walk in four: 6 of 24 strides."""
    marked = {"labels": {SWING: (Reason(CARRIED_OVER),)}}
    given = [
        *walks("shoe", VALUES, **marked),
        walk("brace", 0, VALUES, **marked),
        *[walk("brace", number, VALUES) for number in (1, 2, 3)],
    ]
    said = row_of(compare_walks(given, reference="shoe"), SWING).labels
    told = Reason(CARRIED_OVER)
    some = Reason("in_some_strides", label=told, n_strides=6, n_all=24)
    assert Reason("of_condition", condition="shoe", label=told) in said
    assert Reason("of_condition", condition="brace", label=some) in said


def test_unfair_comparison_keeps_its_numbers_and_is_labelled():
    """Few walks, another event source."""
    given = [*walks("shoe", VALUES, n=2), *walks("brace", _shifted(9), n=2, event_source="file")]
    row = row_of(compare_walks(given, reference="shoe"), SWING)
    assert {Reason("few_walks"), Reason("event_source_differs")} <= set(row.labels)
    assert math.isfinite(row.low)


def test_own_error_decides_and_is_cited():
    """An own scatter of 7 deg takes 9 deg for something that measuring can make."""
    own = {(SWING, "same day, same tester"): OwnError(Placement(7, 7), 20.0, OWN_SOURCE)}
    row = row_of(_pair(after=_shifted(9), options={"own_errors": own}), SWING)
    assert row.measurement_error == pytest.approx(19.4, abs=0.01)
    assert (row.measurement_error_source, row.placement_sd) == (OWN_SOURCE, 7)
    assert (row.verdict, row.verdict_reason) == (CHANGE_IN_THESE_WALKS, Reason("size_of_error"))


def test_toward_typical_needs_a_change_past_error_and_a_norm():
    """Dorsiflexion at contact has one; peak swing dorsiflexion has none."""
    found = _pair({**VALUES, CONTACT_ANGLE: -16.0}, _shifted(9), speed=1.3)
    assert row_of(found, CONTACT_ANGLE).typical == TOWARD
    assert row_of(found, SWING).typical == ""
    near = row_of(_pair(after=_shifted(9), speed=1.3), CONTACT_ANGLE)
    assert (near.verdict, near.typical) == (LARGER, "")  # only 3 deg nearer, of an error of 3.3
    small = row_of(_pair(after=_shifted(0.4), speed=1.3), CONTACT_ANGLE)
    assert small.verdict != LARGER and small.typical == ""


def test_markers_said_untouched_keep_an_error_beside_the_interval():
    """3 deg asked for once, in place of 1 deg of scatter inside."""
    worn = {
        "brace": Condition("brace", orthosis="ankle-foot orthosis", markers_replaced=False),
        "shoe": Condition("shoe"),
    }
    left_on = row_of(_pair(options={"conditions": worn}), SWING)
    assert (left_on.measurement_error, left_on.placement_sd) == (3, 0)
    assert (left_on.low, left_on.high) == (left_on.walks_low, left_on.walks_high)
    moved = row_of(_pair(), SWING)
    assert moved.measurement_error == pytest.approx(2.77, abs=0.01) and moved.low < moved.walks_low


def test_markers_that_were_left_on_cost_other_measures_nothing():
    """Only the foot's were put on again: the hip keeps its walks' interval."""
    worn = {
        "brace": Condition("brace", orthosis="ankle-foot orthosis", markers_put_on_again="foot")
    }
    hip = "peak_hip_flexion_pelvis_thigh_deg"
    values = {SWING: 0.0, hip: 30.0}
    found = _pair(values, values, options={"conditions": worn})
    assert row_of(found, hip).placement_sd == 0 < row_of(found, SWING).placement_sd < 1
    assert found.settings["markers"] == {"brace": "same day, same tester (foot)"}


def test_a_drift_over_the_walks_is_named_with_both_slopes():
    """Both conditions rise by 1 deg a walk; without it nothing is said."""
    given = [
        walk(name, k, {SWING: mean + k}, scatter=0.2)
        for name, mean in (("shoe", 0), ("brace", 9))
        for k in range(6)
    ]
    (label,) = [
        each
        for each in row_of(compare_walks(given, reference="shoe"), SWING).labels
        if each.code == "walks_drift"
    ]
    assert str(label).startswith("the walks drift, from one to the next: +")
    assert [label[name]["value"] for name in ("reference", "own")] == pytest.approx([1, 1], abs=0.1)
    assert not any(each.code == "walks_drift" for each in row_of(_pair(), SWING).labels)


def _curves(shift, seed):
    rng = np.random.default_rng(seed)
    x = np.linspace(0, 2 * np.pi, 101)
    waves = np.stack([np.sin(x), np.cos(2 * x), np.sin(3 * x)])
    return {("left", "ankle"): 5 * np.sin(x) + shift + rng.normal(0, 1, (6, 3)) @ waves}


def test_curves_are_compared_by_walks():
    """Band and location; a shift of 20 deg is everywhere."""
    given = [walk("shoe", k, {SWING: 0}, curves=_curves(0, k)) for k in range(4)]
    given += [walk("brace", k, {SWING: 0}, curves=_curves(20, 9 + k)) for k in range(4)]
    (found,) = compare_walks(given, reference="shoe").curves
    assert found.bands["shoe"].n_walks == 4 and found.locations["brace"].p_value < 0.03
    few = compare_walks(given[1:], reference="shoe").curves[0]
    assert few.locations["brace"].finding == Reason("too_few_walks_to_locate")
    assert few.bands["shoe"].reason and not few.bands["brace"].reason


def test_curves_of_two_origins_are_not_located():
    """Angles from a file against angles from markers."""
    given = [walk("shoe", k, {SWING: 0}, curves=_curves(0, k)) for k in range(4)]
    given += [
        walk("brace", k, {SWING: 0}, curves=_curves(20, 9 + k), angle_origin="file")
        for k in range(4)
    ]
    (found,) = compare_walks(given, reference="shoe").curves
    assert not found.locations["brace"].is_comparable


HEEL, ANKLE = ("heel", ("heel marker",)), ("heel", ("ankle marker",))


def _made_of(origin, key=(SWING, "left")):
    return {"origins": {key: frozenset({origin})}, "landmarks": frozenset({"ankle marker", "toe"})}


def test_values_of_other_points_are_compared_on_those_that_all_have():
    """Measured again on them, with a label; else not compared; of the same points, never again."""
    given = [*walks("shoe", VALUES, **_made_of(HEEL)), *walks("brace", VALUES, **_made_of(ANKLE))]
    asked = []

    def again(own, shared):
        asked.append(shared)
        at = {"shoe": 3.0, "brace": 9.0}
        return [walk(w.condition, w.walk_id[-1], {**VALUES, SWING: at[w.condition]},
                     **_made_of(ANKLE)) for w in own]  # fmt: skip

    row = row_of(compare_walks(given, reference="shoe", again=again), SWING)
    assert row.difference == pytest.approx(6, abs=1.5)
    (said,) = [label for label in row.labels if label.code == "measured_again"]
    assert said["points"] == (Reason("made_of", point="heel", of=("ankle marker",)),) or said
    assert asked[0].landmarks == {"ankle marker", "toe"}
    assert asked[0].uses_standing and asked[0].uses_file_angles
    row = row_of(compare_walks(given, reference="shoe"), SWING)
    assert (row.verdict, row.verdict_reason.code) == (NOT_COMPARABLE, "other_points")
    assert row_of(compare_walks(given, reference="shoe"), RATE).verdict != NOT_COMPARABLE
    alike = [*walks("shoe", VALUES, **_made_of(HEEL)), *walks("brace", VALUES, **_made_of(HEEL))]
    asked.clear()
    row = row_of(compare_walks(alike, reference="shoe", again=again), SWING)
    assert asked == [] and row.verdict != NOT_COMPARABLE
    assert not any(label.code == "measured_again" for label in row.labels)


def test_a_walk_that_gives_nothing_on_what_all_have_is_named_beside_the_number():
    """With the reason, in the row and in JSON; of a measure that it never gave, not."""
    given = [*walks("shoe", VALUES, **_made_of(HEEL)), *walks("brace", VALUES, **_made_of(ANKLE))]

    def again(own, shared):
        made = [
            walk(w.condition, w.walk_id[-1], VALUES, **_made_of(ANKLE)).known_as(walk_id=w.walk_id)
            for w in own
        ]
        return [not_measured_so(made[0], "Up cannot be told."), *made[1:]]

    found = compare_walks(given, reference="shoe", again=again)
    row = row_of(found, SWING)
    n = sum(each.condition == "shoe" for each in given)
    assert row.n_walks_reference == n - 1 and row.n_not_defined_reference > 0
    lost = [text for text in doubts(row.labels) if text.startswith("left out")]
    assert len(lost) == 1 and "(shoe): Up cannot be told." in lost[0]
    assert lost[0] in json.dumps(comparison_dict(found))
    assert not any("left out" in text for text in doubts(row_of(found, RATE).labels))


def test_curves_of_other_points_are_not_located():
    """The reason is theirs, as for values; curves of another angle are not meant."""
    for key, is_comparable in ((("ankle", "left"), False), (("knee", "left"), True)):
        given = [
            walk(worn, k, {SWING: 0}, curves=_curves(20 * n, 9 * n + k), **_made_of(origin, key))
            for n, (worn, origin) in enumerate((("shoe", HEEL), ("brace", ANKLE)))
            for k in range(4)
        ]
        (found,) = compare_walks(given, reference="shoe").curves
        assert found.locations["brace"].is_comparable == is_comparable


def test_questions_are_counted_once_for_both_legs_and_else_by_leg():
    """What is of both legs is one, whatever leg it stands at; what was not asked counts not."""
    of_both = next(each.code for each in QUESTIONS if each.is_of_both_legs)
    of_legs = [each.code for each in QUESTIONS if not each.is_of_both_legs][:2]
    rows = [
        SimpleNamespace(condition="brace", question=question, side=side, p=p)
        for question, p in ((of_both, 0.1), (of_legs[0], 0.2), (of_legs[1], np.nan), ("", 0.3))
        for side in ("left", "right")
    ]
    one = SimpleNamespace(rows=rows, settings={"aims": ()})
    assert family_words(one).startswith("3 questions were asked at once")
    assert family_words(SimpleNamespace(rows=rows[:2], settings={"aims": ()})) == ""
    aimed = SimpleNamespace(rows=rows[:4], settings={"aims": (of_both,)})
    assert f"The aims share 80 % of the 5 %: {Reason(of_both)}." in family_words(aimed)


def test_everything_goes_into_json_and_a_table():
    """NaN is null; reasons and verdicts have their code and words."""
    comparison = _pair(after=_shifted(9), speed=1.0)
    plain = comparison_dict(comparison)
    text = json.dumps(plain, allow_nan=False)
    assert json.loads(text) == plain
    assert set(plain) == {"rows", "watch", "heel_first", "fairness", "settings", "curves"}
    row = next(each for each in plain["rows"] if each["measure"] == "step_width_mm")
    assert row["measurement_error"] is None and row["verdict"] == NO_ERROR_FIGURE
    assert row["words"].startswith("no error figure known")
    (fair,) = [
        each for each in plain["fairness"] if each["reason"]["code"] == "footwear_not_recorded"
    ]
    assert fair["reason"]["words"] == "Footwear is not recorded in both conditions."
    assert len(comparison.changes()) == len(comparison.rows)
    assert plain["settings"]["walks"][0]["sha256"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"reference": "barefoot"}, "no walks of 'barefoot'.*shoe, brace"),
        ({"reference": "shoe", "conditions": {"brase": Condition("brase")}}, "no walks of 'brase'"),
    ],
)
def test_names_that_are_not_there_are_refused(options, words):
    """With those that are."""
    with pytest.raises(ComparisonError, match=words):
        compare_walks([*walks("shoe", VALUES), *walks("brace", VALUES)], **options)


@pytest.mark.parametrize("given", [[], walks("shoe", VALUES)])
def test_one_condition_is_no_comparison(given):
    """Two are needed."""
    with pytest.raises(ComparisonError, match="two are needed"):
        compare_walks(given, reference="shoe")


def test_unknown_measure_is_refused():
    """It would have no rules."""
    one, two = walks("shoe", VALUES)[0], walks("brace", VALUES)[0]
    two = replace(two, tables={("stiffness_n_m", "left"): two.tables[SWING, "left"]})
    with pytest.raises(ComparisonError, match="Unknown measures: stiffness_n_m"):
        compare_walks([one, two], reference="shoe")
