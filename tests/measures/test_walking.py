"""Speed, steps and phases."""

import math
from dataclasses import replace

import numpy as np
import pytest

from gaittrack.reasons import Reason
from tests.motions import STRIDE_M, Walk, one_cycle


@pytest.mark.parametrize(
    ("name", "truth"),
    [
        ("walking_speed_m_s", 1.2),
        ("cadence_steps_min", 120),
        ("stride_length_m", 1.2),
        ("stride_time_s", 1.0),
        ("step_length_m", 0.6),
        ("step_time_s", 0.5),
        ("step_width_mm", 100),
        ("stance_percent", 60),
        ("swing_percent", 40),
        ("double_support_percent", 22),
        ("step_time_asymmetry_percent", 0),
        ("step_length_asymmetry_percent", 0),
    ],
)
def test_even_walk_has_the_values_it_was_built_with(measured, name, truth):
    """Both feet walk alike, 10 cm apart."""
    walk = Walk()
    for cycle in walk.cycles():
        assert measured(name, walk.motion(), cycle).value == pytest.approx(truth, abs=1e-6)


# The handbook's walking trial: contacts at frames 28 and 97, toe-off at 70, 0.0143 s a frame
# (Winter, Biomechanics and Motor Control of Human Movement, appendix A): stride 0.987 s,
# stance 60.9 %, cadence 121.6 steps/min.
def test_handbook_events_give_the_handbook_times(measured):
    """Frame numbers to seconds to per cent."""
    walk = Walk()
    times = {"start_s": 28 * 0.0143, "toe_off_s": 70 * 0.0143, "end_s": 97 * 0.0143}
    cycle = one_cycle(walk, **times)
    motion = walk.motion()
    assert measured("stride_time_s", motion, cycle).value == pytest.approx(0.987, abs=5e-4)
    assert measured("stance_percent", motion, cycle).value == pytest.approx(60.9, abs=0.05)
    assert measured("cadence_steps_min", motion, cycle).value == pytest.approx(121.6, abs=0.05)


def test_late_step_is_asymmetric_with_the_sign_of_the_own_step(measured):
    """The other foot lands at 45 %: own step 0.55, other 0.45 of the cycle, 20 %."""
    walk = Walk()
    cycle = one_cycle(walk, opposite_contact_s=walk.start_s + 0.45)
    found = measured("step_time_asymmetry_percent", walk.motion(), cycle)
    assert found.value == pytest.approx(20.0)


def test_a_toe_off_of_the_next_cycle_bounds_no_double_support(measured):
    """The other foot's was not seen; the one after the cycle's end is not in its place."""
    walk = Walk()
    cycle = one_cycle(walk, opposite_toe_off_s=walk.start_s + 1.12)
    found = measured("double_support_percent", walk.motion(), cycle)
    assert found.reason == Reason("no_other_toe_off")


@pytest.mark.parametrize("stride_m", [0.0, 1.0])
def test_a_foot_that_does_not_move_makes_no_step(measured, stride_m):
    """Strides of 1 m are halved by the other foot; without a way there is no half of it."""
    walk = Walk()
    motion = walk.motion()
    scale = np.array([stride_m / STRIDE_M, 1.0, 1.0])
    points = {key: xyz * scale for key, xyz in motion.points.items()}
    found = measured("step_length_m", replace(motion, points=points), one_cycle(walk))
    if stride_m:
        assert found.value == pytest.approx(0.5)
    else:
        assert found.reason == Reason("foot_does_not_move")


def test_a_step_takes_its_share_of_the_stride(measured):
    """A stride of 1.25 s whose other foot lands after 0.5 s: the own step takes 0.75 s."""
    walk = Walk()
    times = {"end_s": walk.start_s + 1.25, "opposite_contact_s": walk.start_s + 0.5}
    found = measured("step_time_s", walk.motion(), one_cycle(walk, **times))
    assert found.value == pytest.approx(0.75)


@pytest.mark.parametrize(
    "name", ["step_time_s", "step_length_m", "step_width_mm", "double_support_percent"]
)
def test_unseen_other_foot_is_a_reason(measured, name):
    """No step is made up."""
    walk = Walk()
    cycle = one_cycle(walk, opposite_contact_s=math.nan)
    assert measured(name, walk.motion(), cycle).reason.code == "no_other_contact"


def test_unknown_speed_is_a_reason(measured):
    """NaN in the cycle is not a speed."""
    walk = Walk()
    cycle = one_cycle(walk, speed_m_s=math.nan)
    assert measured("walking_speed_m_s", walk.motion(), cycle).reason == Reason("no_speed")


def test_other_foot_landing_further_ahead_shortens_the_own_step(measured):
    """The left heel 0.1 m further on: own step 0.5, other 0.7 m, difference -33.3 %."""
    walk = Walk()
    motion = walk.motion()
    ahead = motion.points["left_heel"] + [0.1, 0, 0]
    motion = replace(motion, points={**motion.points, "left_heel": ahead})
    assert measured("step_length_m", motion, one_cycle(walk)).value == pytest.approx(0.5)
    found = measured("step_length_asymmetry_percent", motion, one_cycle(walk))
    assert found.value == pytest.approx(-100 / 3)
