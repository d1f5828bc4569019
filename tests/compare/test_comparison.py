"""Promises of the comparison as a whole."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from gaittrack.compare.comparison import compare_walks, comparison_dict, pair_walks, rows_table
from gaittrack.compare.condition import Condition
from gaittrack.compare.interval import difference_interval
from gaittrack.compare.measurement_error import FloorRule
from gaittrack.compare.typical import TypicalRange
from gaittrack.compare.verdict import (
    AWAY,
    LARGER,
    NOT_COMPARABLE,
    NOT_DEFINED,
    NOT_SHOWN,
    TOWARD,
    VERDICTS,
    WITHIN,
)
from gaittrack.errors import ComparisonError
from gaittrack.measures.measure import OF_MEAN_CURVE
from gaittrack.measures.recording import FROM_FILE, FROM_FILE_RATE
from gaittrack.measures.swing_dorsiflexion import CARRIED_OVER
from tests.compare.made_up_walks import CLEARANCE, RATE, SWING, row_of, walk, walks

SHARE = "mid_swing_minimum_share_percent"
CONTACT_ANGLE = "dorsiflexion_at_contact_deg"
SPEED = "walking_speed_m_s"
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
    interval = difference_interval(means["brace"], means["shoe"])
    assert (row.n_walks, row.n_strides) == (5, 30)
    assert (row.n_walks_reference, row.n_strides_reference) == (3, 18)
    assert row.value == pytest.approx(np.mean(means["brace"]))
    assert row.difference == pytest.approx(row.value - row.reference_value)
    assert (row.low, row.high) == (interval.low, interval.high)
    assert row.verdict == LARGER and row.direction == "higher"


def test_swapping_conditions_flips_every_sign_and_no_verdict():
    """Differences, bounds, directions; the class stays."""
    forward = _pair(after=_shifted(6))
    backward = _pair(after=_shifted(6), reference="brace")
    for row in forward.rows:
        other = row_of(backward, row.measure, row.side, "shoe")
        assert other.difference == pytest.approx(-row.difference)
        assert (other.low, other.high) == pytest.approx((-row.high, -row.low))
        assert other.floor == pytest.approx(row.floor, nan_ok=True)
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
    assert row.verdict_reason == (
        "contact type changed: heel contact in 33 % of reference strides and 100 % of these"
    )
    assert row.difference > 100


def test_restored_heel_contact_from_none_says_the_same():
    """Also when the reference has no rate at all."""
    before = walks("shoe", {RATE: 80}, contact="forefoot", reasons={RATE: "forefoot contact"})
    after = walks("brace", {RATE: 300})
    row = row_of(compare_walks([*before, *after], reference="shoe"), RATE)
    assert row.verdict == NOT_COMPARABLE and "contact type changed" in row.verdict_reason
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
        ((("lower bound: 60 Hz",), ("lower bound: 60 Hz",)), True),
        ((("lower bound: 60 Hz",), ()), False),
        ((("lower bound: from a 101-point curve",), ("lower bound: 60 Hz",)), False),
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


def test_clearance_with_unlike_shares_of_minima_is_not_compared():
    """100 % against 67 %; the row points to the value that is."""

    def every_third(stride):
        return "no mid-swing minimum" if stride % 3 == 0 else ""

    before = walks("shoe", {CLEARANCE: 10}, reasons={CLEARANCE: every_third})
    row = row_of(
        compare_walks([*before, *walks("brace", {CLEARANCE: 22})], reference="shoe"), CLEARANCE
    )
    assert row.verdict == NOT_COMPARABLE
    assert "toe height under the hip is the compared value" in row.verdict_reason
    assert row.n_not_defined_reference == 8


def test_share_measure_is_used_for_the_clearance_rule():
    """Strides without a number for another reason do not count as strides without a minimum."""

    def every_third(stride):
        return "toe filled in mid-swing" if stride % 3 == 0 else ""

    before = walks(
        "shoe", {CLEARANCE: 10, SHARE: 100}, reasons={CLEARANCE: every_third}, scatter=0.1
    )
    after = walks("brace", {CLEARANCE: 22, SHARE: 100}, scatter=0.1)
    row = row_of(compare_walks([*before, *after], reference="shoe"), CLEARANCE)
    assert row.verdict == LARGER


def test_maximum_carried_over_from_stance_is_not_compared():
    """Mid-swing dorsiflexion is."""
    found = _pair(after=_shifted(9), labels={SWING: (CARRIED_OVER,)})
    row = row_of(found, SWING)
    assert row.verdict == NOT_COMPARABLE and "mid-swing dorsiflexion" in row.verdict_reason


def test_angles_of_two_origins_are_never_mixed():
    """Widths still compare, angles and rates do not."""
    own = {SWING: (FROM_FILE,), RATE: (FROM_FILE_RATE,)}
    given = [*walks("shoe", VALUES), *walks("brace", _shifted(9), labels=own)]
    found = compare_walks(given, reference="shoe")
    assert row_of(found, SWING).verdict == NOT_COMPARABLE
    assert row_of(found, RATE).verdict == NOT_COMPARABLE
    assert row_of(found, "step_width_mm").verdict != NOT_COMPARABLE


def test_not_defined_carries_the_reason_of_its_condition():
    """Which condition, and why."""
    given = [
        *walks("shoe", {SWING: 1}),
        *walks("brace", {SWING: 1}, reasons={SWING: "no ankle angle"}),
    ]
    row = row_of(compare_walks(given, reference="shoe"), SWING)
    assert (row.verdict, row.verdict_reason) == (NOT_DEFINED, "brace: no ankle angle")
    assert math.isnan(row.difference) and math.isnan(row.low)


def test_one_walk_each_has_no_interval_and_shows_nothing():
    """The reason is in the row."""
    row = row_of(_pair(after=_shifted(20), n=1), SWING)
    assert row.verdict == NOT_SHOWN and "only one walk" in row.interval_reason
    assert math.isnan(row.low) and row.difference > 10


def test_one_long_treadmill_walk_each_gets_a_labelled_interval():
    """And still no verdict of a change."""
    found = _pair(after=_shifted(20), n=1, n_strides=60, is_treadmill=True)
    row = row_of(found, SWING)
    assert "within this walk only" in row.interval_kind and row.low > 10
    assert row.verdict == NOT_SHOWN


def test_a_treadmill_walk_against_one_over_ground_gets_no_interval():
    """Blocks of one long walk stand in for walks only where both are on a treadmill."""
    given = [
        walk("shoe", 1, VALUES, n_strides=60, is_treadmill=True),
        walk("brace", 1, _shifted(20), n_strides=60, is_treadmill=False),
    ]
    row = row_of(compare_walks(given, reference="shoe"), SWING)
    assert math.isnan(row.low) and "only one walk" in row.interval_reason


@pytest.mark.parametrize(
    ("speeds_m_s", "is_told"), [((1.3, 1.3), False), ((1.3, 0.8), True), ((0.8, 1.3), True)]
)
def test_a_typical_range_of_other_speeds_is_told(speeds_m_s, is_told):
    """The range is of 1.2 to 1.5 m/s: one condition outside of it is enough."""
    norm = TypicalRange(SWING, 2.0, 6.0, "made up", 1.2, 1.5)
    slow, fast = speeds_m_s
    given = [
        *walks("shoe", {SWING: -10.0}, speed=slow),
        *walks("brace", {SWING: 4.0}, speed=fast),
    ]
    row = row_of(compare_walks(given, reference="shoe", typical={SWING: norm}), SWING)
    assert row.typical == TOWARD
    told = "the typical range is of walking at 1.2-1.5 m/s"
    assert (told in row.labels) == is_told


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
    row = row_of(_pair(after=_shifted(20), labels={SWING: (OF_MEAN_CURVE,)}), SWING)
    assert "mean curves" in row.interval_reason and row.verdict == NOT_SHOWN


def test_several_conditions_share_the_error():
    """Intervals against one reference are wider than alone."""
    three = [*walks("shoe", VALUES), *walks("brace", _shifted(3)), *walks("soft", _shifted(1))]
    alone = row_of(compare_walks(three[:8], reference="shoe"), SWING)
    shared = row_of(compare_walks(three, reference="shoe"), SWING)
    assert shared.high - shared.low > alone.high - alone.low
    assert "simultaneous over 2 comparisons" in shared.interval_kind
    assert {r.condition for r in compare_walks(three, reference="soft").rows} == {"shoe", "brace"}


def test_speed_matched_result_stands_beside_where_speeds_differ():
    """Strides within 0.1 m/s of the common speed, 1.1 m/s here."""
    slow = [walk("shoe", k, {SWING: 0}, speed=s) for k, s in enumerate((0.9, 1.02, 1.02, 1.02))]
    fast = [walk("brace", k, {SWING: 9}, speed=s) for k, s in enumerate((1.3, 1.18, 1.18, 1.18))]
    row = row_of(compare_walks([*slow, *fast], reference="shoe"), SWING)
    matched = row.matched
    assert matched.common_speed_m_s == pytest.approx(1.1)
    assert (matched.n_walks, matched.n_walks_reference, matched.n_strides) == (3, 3, 18)
    assert matched.difference == pytest.approx(matched.value - matched.reference_value)
    assert matched.difference == pytest.approx(9, abs=2)
    assert (row.n_walks, "speed differs" in row.labels) == (4, True)
    assert row_of(_pair(), SWING).matched is None


def test_a_label_says_of_how_many_strides_it_holds():
    """Of all: its words alone; of one walk in four: 6 of 24 strides."""
    marked = {"labels": {SWING: (CARRIED_OVER,)}}
    given = [
        *walks("shoe", VALUES, **marked),
        walk("brace", 0, VALUES, **marked),
        *[walk("brace", number, VALUES) for number in (1, 2, 3)],
    ]
    said = row_of(compare_walks(given, reference="shoe"), SWING).labels
    assert f"shoe: {CARRIED_OVER}" in said
    assert f"brace: {CARRIED_OVER} (6 of 24 strides)" in said


def test_unfair_comparison_keeps_its_numbers_and_is_labelled():
    """Few walks, another event source."""
    given = [*walks("shoe", VALUES, n=2), *walks("brace", _shifted(9), n=2, event_source="file")]
    row = row_of(compare_walks(given, reference="shoe"), SWING)
    assert {"few walks", "event source differs"} <= set(row.labels)
    assert math.isfinite(row.low)


def test_own_floor_decides_and_is_cited():
    """A floor of 20 deg makes 9 deg fall within error."""
    own = {(SWING, "same session, markers moved"): FloorRule(20, 0, "own repeat visits")}
    row = row_of(_pair(after=_shifted(9), options={"floors": own}), SWING)
    assert (row.floor, row.floor_source, row.verdict) == (20, "own repeat visits", WITHIN)


def test_toward_typical_needs_a_change_past_error_and_a_norm():
    """Dorsiflexion at contact has one; peak swing dorsiflexion has none."""
    found = _pair(after=_shifted(9), speed=1.3)
    assert row_of(found, CONTACT_ANGLE).typical == TOWARD
    assert row_of(found, SWING).typical == ""
    small = row_of(_pair(after=_shifted(3), speed=1.3), CONTACT_ANGLE)
    assert (small.verdict, small.typical) == (WITHIN, "")
    slow = row_of(_pair(after=_shifted(9), speed=0.6), CONTACT_ANGLE)
    assert any("1.04-1.6 m/s" in label for label in slow.labels)


def test_markers_said_untouched_use_the_lower_floor():
    """3 deg instead of 5."""
    worn = {
        "brace": Condition("brace", orthosis="solid", markers_replaced=False),
        "shoe": Condition("shoe"),
    }
    assert row_of(_pair(options={"conditions": worn}), SWING).floor == 3
    assert row_of(_pair(), SWING).floor == 5


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
    assert few.locations["brace"].text == "too few walks to locate a difference"
    assert few.bands["shoe"].reason and not few.bands["brace"].reason


def test_curves_of_two_origins_are_not_located():
    """Angles from a file against angles from markers."""
    given = [walk("shoe", k, {SWING: 0}, curves=_curves(0, k)) for k in range(4)]
    given += [
        walk("brace", k, {SWING: 0}, curves=_curves(20, 9 + k), angle_origin="file")
        for k in range(4)
    ]
    (found,) = compare_walks(given, reference="shoe").curves
    assert "not comparable" in found.locations["brace"].text


def test_everything_goes_into_json_and_a_table():
    """NaN is null; the keys of a row are those of the table."""
    comparison = _pair(after=_shifted(9), speed=1.0)
    plain = comparison_dict(comparison)
    text = json.dumps(plain, allow_nan=False)
    assert json.loads(text) == plain
    assert set(plain) == {"rows", "watch", "fairness", "settings", "curves"}
    row = next(each for each in plain["rows"] if each["measure"] == "step_width_mm")
    assert row["floor"] is None and row["verdict"] == "no error figure known"
    assert len(rows_table(comparison)) == len(comparison.rows)
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


def test_copy_of_a_walk_is_refused_as_a_duplicate():
    """Under another name and id."""
    given = [*walks("shoe", VALUES), *walks("brace", VALUES)]
    copy = replace(given[0], walk_id="again", file_name="again.c3d")
    with pytest.raises(ComparisonError, match="given twice"):
        compare_walks([*given, copy], reference="shoe")


def test_unknown_measure_is_refused():
    """It would have no rules."""
    one, two = walks("shoe", VALUES)[0], walks("brace", VALUES)[0]
    two = replace(two, tables={("stiffness_n_m", "left"): two.tables[SWING, "left"]})
    with pytest.raises(ComparisonError, match="Unknown measures: stiffness_n_m"):
        compare_walks([one, two], reference="shoe")


def test_every_verdict_is_one_of_the_closed_list():
    """Over many made-up pairs."""
    for seed in range(5):
        found = _pair(after=_shifted(seed * 3 - 6), n=2 + seed % 3)
        assert {row.verdict for row in found.rows} <= set(VERDICTS)


def test_random_splits_of_one_person_claim_a_change_in_at_most_one_of_twenty():
    """All 70 splits of eight walks, headline angle; no floor helps: the interval alone decides."""
    from itertools import combinations

    claimed = 0
    given = walks("shoe", {SWING: 0.0}, n=8)
    for group in combinations(range(8), 4):
        split = [
            replace(record, condition="a" if place in group else "b")
            for place, record in enumerate(given)
        ]
        row = row_of(compare_walks(split, reference="a"), SWING, condition="b")
        claimed += row.low > 0 or row.high < 0
    assert claimed <= 70 * 0.10
