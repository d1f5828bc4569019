"""Promises of the watch list."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.watch import CANNOT_SHOW, CAUTION, INTERVAL_SIGNS, LIMIT_SIGNS
from gaittrack.measures import MEASURES
from tests.compare.made_up_walks import walks

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
        (KNEE, 10, 18.5, True),
        (KNEE, 10, 17, False),
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


def test_fired_signs_come_first_with_their_quantity():
    """And the rest is still listed."""
    found = _watched({KNEE: 15, WIDTH: 100}, {KNEE: 30, WIDTH: 100}, scatter=0.1)
    first = found.watch[0]
    assert first.status == "fires" and "30.0 deg (reference 15.0 deg): above 25" in first.text
    assert len(found.watch) == 2 * (len(LIMIT_SIGNS) + len(INTERVAL_SIGNS) + 1)


@pytest.mark.parametrize(
    ("measure", "before", "after", "is_said"),
    [(KNEE, 30, 31, True), (KNEE, 20, 31, False), (STANCE_KNEE, -8, -9, True)],
)
def test_a_limit_that_the_reference_passes_too_is_said_so(measure, before, after, is_said):
    """A sign that was there without the brace is not taken for the brace's doing."""
    found = _watched({measure: before}, {measure: after}, scatter=0.1)
    (item,) = [each for each in found.watch if each.status == "fires"]
    assert ("in the reference too" in item.text) is is_said


def test_signs_are_named_by_what_was_measured():
    """A knee angle is no diagnosis."""
    assert not any("buckling" in sign.name for sign in LIMIT_SIGNS)


def test_sign_without_data_is_not_assessed_rather_than_clear():
    """With the reason."""
    found = _watched({KNEE: 15}, {KNEE: 15})
    missing = [item for item in found.watch if item.measure == STANCE_KNEE]
    assert {item.status for item in missing} == {"not assessed"}
    assert all(item.text for item in missing)


def test_single_walks_still_fire_on_limits_but_not_on_intervals():
    """A number past a limit needs no interval; "wider" does."""
    found = _watched({KNEE: 15, WIDTH: 100}, {KNEE: 30, WIDTH: 150}, n=1)
    assert _fired(found) == {KNEE}
    (wide,) = [i for i in found.watch if i.sign == "wider steps" and i.side == "left"]
    assert wide.status == "not assessed" and "only one walk" in wide.text


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
    for found, status in ((few, "not assessed"), (compare_walks(many, reference="shoe"), "fires")):
        (item,) = [i for i in found.watch if "variable" in i.sign and i.side == "left"]
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
