"""Promises of the watch list."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.judged.watch import (
    CANNOT_SHOW,
    CAUTION,
    INTERVAL_SIGNS,
    LIMIT_SIGNS,
    MORE_VARIABLE,
)
from gaittrack.compare.walked.questions import QUESTION_MEASURES
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.measures import MEASURES
from gaittrack.reasons import Reason
from tests.compare.made_up_walks import row_of, walk, walks

YIELD = "knee_yield_in_loading_deg"
KNEE = "loading_knee_flexion_peak_deg"
STANCE_KNEE = "stance_knee_flexion_minimum_deg"
DORSIFLEXION = "peak_stance_dorsiflexion_deg"
RANGE = "push_off_range_deg"
WIDTH = "step_width_mm"


def _watched(before, after, n=4, **more):
    pair = [*walks("shoe", before, n=n, **more), *walks("brace", after, n=n, **more)]
    return compare_walks(pair, reference="shoe")


def _fired(comparison):
    return {item.measure for item in comparison.watch if item.status == "fires"}


@pytest.mark.parametrize(
    ("measure", "before", "after", "fires"),
    [
        (KNEE, 20, 24, False),
        (KNEE, 20, 26, True),
        (KNEE, 10, 18.5, False),
        (STANCE_KNEE, 0, -4, False),
        (STANCE_KNEE, 0, -6, True),
        (DORSIFLEXION, 10, 4, True),
        (DORSIFLEXION, 10, 6, False),
        (RANGE, 20, 14, True),
        (RANGE, 20, 26, False),
        (WIDTH, 100, 140, True),
        (WIDTH, 140, 100, False),
    ],
)
def test_sign_fires_past_its_limit_only(measure, before, after, fires):
    """The limits of the design page."""
    found = _watched({measure: before}, {measure: after}, scatter=0.1)
    assert (measure in _fired(found)) == fires


@pytest.mark.parametrize(
    ("measure", "least"),
    [
        ("loading_knee_flexion_rate_deg_s", 35),
        (WIDTH, 5),
        ("peak_pelvic_hike_deg", 3),
        ("circumduction_mm", 5),
        ("opposite_vaulting_plantarflexion_deg", 3),
        ("opposite_heel_rise_at_mid_swing_mm", 5),
    ],
)
def test_a_rise_that_noise_alone_makes_is_no_sign(measure, least):
    """However surely it rose: a sixth less than the least rise is none, a sixth more is."""
    fired = [
        measure in _fired(_watched({measure: 20}, {measure: 20 + rise}, scatter=0.02 * least))
        for rise in (5 / 6 * least, 7 / 6 * least)
    ]
    assert fired == [False, True]


def test_fired_signs_come_first_with_their_quantity():
    """And the rest is still listed."""
    before, after = {KNEE: 15, YIELD: 10, WIDTH: 100}, {KNEE: 30, YIELD: 25, WIDTH: 100}
    found = _watched(before, after, scatter=0.1)
    first = found.watch[0]
    assert first.status == "fires"
    assert str(first.reason).startswith("30.0° (reference 15.0°): ")
    assert "8 or more above" in str(first.reason) and "25.0°" in str(first.reason)
    assert str(first.reason).endswith("above 25 in 24 of 24 steps")
    assert len(found.watch) == 2 * (len(LIMIT_SIGNS) + len(INTERVAL_SIGNS) + 1)


def _knee(found, measure=KNEE):
    return next(item for item in found.watch if item.measure == measure and item.side == "left")


@pytest.mark.parametrize(
    ("measure", "before", "after", "status", "code"),
    [
        (KNEE, 30, 31, "in_both", "above_there_without_too"),
        (KNEE, 20, 27, "fires", "above_new"),
        (STANCE_KNEE, -8, -9, "in_both", "below_there_without_too"),
        (STANCE_KNEE, 0, -9, "fires", "below_new"),
    ],
)
def test_a_level_that_the_reference_has_too_is_told_apart(measure, before, after, status, code):
    """It is no sign of the brace's doing; both counts are told."""
    item = _knee(_watched({measure: before}, {measure: after}, scatter=0.1), measure)
    assert (item.status, item.reason["limits"][0].code) == (status, code)
    if status == "in_both":
        assert str(item.reason).endswith("in 24 of 24 steps, in the reference too, in 24 of 24")


def test_a_level_of_one_walk_is_seen_once_and_no_sign():
    """Walk and step are told, counted as people count them."""
    given = [*walks("shoe", {KNEE: 20}, scatter=0.1), *walks("brace", {KNEE: 20}, scatter=0.1)]
    odd = given[6]
    values = odd.tables[KNEE, "left"].values.copy()
    values[[3, 4, 5]] = 30.0
    own = odd.tables[KNEE, "left"]._replace(values=values)
    given[6] = replace(odd, tables={(KNEE, "left"): own})
    item = _knee(compare_walks(given, reference="shoe"))
    assert item.status == "some_steps"
    assert str(item.reason).endswith(
        "above 25 seen in one walk only, in 3 of 24 steps: first in walk 3, step 4"
    )


def test_a_change_within_measurement_error_is_no_sign():
    """+8 deg between two pairs of unlike walks."""
    before = [walk("shoe", k, {KNEE: v}, scatter=0.1) for k, v in enumerate((4, 12))]
    after = [walk("brace", k, {KNEE: v}, scatter=0.1) for k, v in enumerate((13, 20))]
    found = compare_walks([*before, *after], reference="shoe")
    assert row_of(found, KNEE).difference > 8 and _knee(found).status == "clear"


def test_signs_are_no_harder_where_more_is_asked():
    """By its own p, a sign fires where the family of questions calls no change."""
    rng = np.random.default_rng(0)
    asked = [f for f in QUESTION_MEASURES if f != RANGE and f in MEASURE_BY_NAME]
    offs = rng.normal(0, 3.2, (2, 4))
    given = [
        walk(name, k, {**dict.fromkeys(asked, k + at / 2), RANGE: mean + offs[at, k]}, scatter=0.1)
        for at, (name, mean) in enumerate((("shoe", 20), ("brace", 13)))
        for k in range(4)
    ]
    found = compare_walks(given, reference="shoe")
    row = row_of(found, RANGE)
    assert row.p <= 0.05 < row.adjusted_p and row.difference < -5
    assert RANGE in _fired(found) and row.verdict == "change_in_these_walks"


def test_signs_are_named_by_what_was_measured():
    """A knee angle is no diagnosis."""
    assert not any("buckling" in str(Reason(sign.code)) for sign in LIMIT_SIGNS)


def test_sign_without_data_is_not_assessed_rather_than_clear():
    """With the reason."""
    found = _watched({KNEE: 15}, {KNEE: 15})
    missing = [item for item in found.watch if item.measure == STANCE_KNEE]
    assert {item.status for item in missing} == {"not_assessed"}
    assert {item.reason for item in missing} == {Reason("no_strides")}


def test_single_walks_are_told_and_are_no_sign():
    """Beyond the level in every step of the one walk; "wider" needs an interval."""
    found = _watched({KNEE: 15, WIDTH: 100}, {KNEE: 30, WIDTH: 150}, n=1)
    assert not _fired(found) and _knee(found).status == "some_steps"
    (wide,) = [i for i in found.watch if i.sign == "wider_steps" and i.side == "left"]
    assert wide.status == "not_assessed" and wide.reason["reason"] == Reason("only_one_walk")


def test_signs_without_a_limit_share_the_error():
    """A change of step width just past its own interval does not fire yet."""
    found = _watched({WIDTH: 100}, {WIDTH: 100.65})
    (row,) = [row for row in found.rows if row.measure == WIDTH]
    assert row.low > 0 and WIDTH not in _fired(found)


def test_variability_is_judged_from_fifty_strides_only():
    """Few strides say nothing of variability."""
    few = _watched({WIDTH: 100}, {WIDTH: 100})
    many = [
        *walks("shoe", {WIDTH: 100}, n_strides=15),
        *walks("brace", {WIDTH: 100}, n_strides=15, scatter=9),
    ]
    for found, status in ((few, "not_assessed"), (compare_walks(many, reference="shoe"), "fires")):
        (item,) = [i for i in found.watch if i.sign == MORE_VARIABLE and i.side == "left"]
        assert item.status == status
    spreads = {
        name: np.mean(
            [w.tables[WIDTH, "left"].values.std(ddof=1) for w in many if w.condition == name]
        )
        for name in ("shoe", "brace")
    }
    shown = (item.value, item.reference_value, item.difference)
    wanted = (spreads["brace"], spreads["shoe"], spreads["brace"] - spreads["shoe"])
    assert shown == pytest.approx(wanted)
    said = Reason("step_width_scatter", value=item.value, reference_value=item.reference_value)
    assert said in (item.reason, *dict(item.reason.parameters).values())


def test_every_sign_names_a_measure():
    """A renamed measure would silence its sign."""
    known = {measure.name for measure in MEASURES}
    assert {sign.measure for sign in LIMIT_SIGNS} | {name for _, name in INTERVAL_SIGNS} <= known


def test_what_cannot_be_shown_and_the_caution_stand_beside_it_always():
    """Also when nothing fires; deferring to the treating professional."""
    settings = _watched({KNEE: 15}, {KNEE: 15}).settings
    assert settings["cannot_show"] == CANNOT_SHOW and settings["caution"] == CAUTION
    assert "treating professional" in CAUTION and "pain" in CANNOT_SHOW


def test_false_alarms_stay_rare():
    """Nothing changed: any interval sign fires for at most 5 % of persons; 99.9 % bound of 40."""
    names = dict.fromkeys((name for _, name in INTERVAL_SIGNS), 10.0)
    fired = 0
    for person in range(40):
        pair = [*walks(f"a{person}", names, n=4), *walks(f"b{person}", names, n=4)]
        pair = [replace(each, condition=each.condition[0]) for each in pair]
        fired += bool(_fired(compare_walks(pair, reference="a")))
    assert fired <= 8
