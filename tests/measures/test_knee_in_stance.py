"""The knee under load."""

import math

import pytest

from gaittrack.reasons import Reason
from tests.motions import ANGLE_KNOTS, Walk, one_cycle, with_filled

PEAK = "loading_knee_flexion_peak_deg"
RATE = "loading_knee_flexion_rate_deg_s"
YIELD = "knee_yield_in_loading_deg"
LOWEST = "stance_knee_flexion_minimum_deg"


def test_loading_peak_and_its_speed_are_those_of_the_formula(measured):
    """2 to 18 deg in 110 ms by half a cosine: pi/2 * 16 / 0.11 deg/s."""
    walk = Walk(rate_hz=1000)
    cycle = one_cycle(walk)
    assert measured(PEAK, walk.motion(), cycle).value == pytest.approx(18, abs=0.01)
    rate = measured(RATE, walk.motion(), cycle)
    assert rate.value == pytest.approx(math.pi / 2 * 16 / 0.11, rel=2e-3)
    assert rate.labels == (Reason("low_passed", cutoff_hz=15.0),)


@pytest.mark.parametrize("bent_deg", [-5, 0, 30])
def test_yield_is_what_the_knee_gives_however_bent_it_lands(measured, bent_deg):
    """From 2 to 18 deg it gives 16, and so it does when all of the walk is bent 30 deg further."""
    knots = tuple((at, deg + bent_deg) for at, deg in ANGLE_KNOTS["knee"])
    walk = Walk(rate_hz=1000, knots={**ANGLE_KNOTS, "knee": knots})
    assert measured(YIELD, walk.motion(), one_cycle(walk)).value == pytest.approx(16, abs=0.01)


def test_knee_that_only_straightens_yields_nothing(measured):
    """Its highest angle in loading is the one at contact."""
    knots = ((0, 20), (0.4, -3), (0.72, 62), (1, 20))
    walk = Walk(knots={**ANGLE_KNOTS, "knee": knots})
    assert measured(YIELD, walk.motion(), one_cycle(walk)).value == pytest.approx(0, abs=0.01)


def test_hyperextension_is_negative(measured):
    """The made-up knee goes to -3 in stance."""
    walk = Walk()
    assert measured(LOWEST, walk.motion(), one_cycle(walk)).value == pytest.approx(-3, abs=0.01)


def test_loading_without_the_other_foot_ends_at_20_percent(measured):
    """The label says so."""
    walk = Walk()
    cycle = one_cycle(walk, opposite_toe_off_s=math.nan)
    found = measured(PEAK, walk.motion(), cycle)
    assert found.value == pytest.approx(18, abs=0.1)
    assert found.labels[0] == Reason("window_without_toe_off")


def test_filled_samples_in_loading_are_refused(measured):
    """Also away from the events."""
    walk = Walk()
    cycle = one_cycle(walk, opposite_toe_off_s=walk.start_s + 0.2)
    filled = with_filled(walk.motion(), "right_knee_centre", 0.60, 0.61)
    assert measured(PEAK, filled, cycle).reason.code == "filled_gap"
    assert measured(RATE, filled, cycle).reason.code == "filled_gap"
    assert measured(LOWEST, filled, cycle).is_defined
