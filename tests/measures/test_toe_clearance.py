"""Toe clearance against heights known in closed form."""

import math
from dataclasses import replace

import numpy as np
import pytest

from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.recording import PreparedMotion
from gaittrack.measures.toe_clearance import (
    NO_MINIMUM,
    _depths,
    _height_between,
    find_minimum,
)
from gaittrack.reasons import Reason
from tests.motions import Walk, eased, one_cycle, single_hump, with_filled

CLEARANCE = "minimum_toe_clearance_mm"
UNDER_HIP = "toe_height_under_hip_mm"
FOREFOOT = "minimum_forefoot_clearance_mm"
SHARE = "mid_swing_minimum_share_percent"


def without_flat(motion, side="right", *, before_s=math.inf, after_s=-math.inf):
    """Return the motion with the foot-flat before one time and after another removed."""
    times = np.arange(motion.n_frames) / motion.rate_hz
    keep = (times > before_s) & (times < after_s) if math.isfinite(before_s) else times < after_s
    flat = {**motion.foot_flat, side: motion.foot_flat[side] & keep}
    return replace(motion, foot_flat=flat)


# z(s) = a - b cos(4 pi s): maxima a + b at s = .25 and .75, one minimum a - b at s = .5.
@pytest.mark.parametrize(("a_m", "b_m"), [(0.03, 0.01), (0.02, 0.005), (0.004, 0.010)])
@pytest.mark.parametrize("rate_hz", [60, 100, 200])
def test_double_hump_has_the_minimum_of_the_formula(measured, a_m, b_m, rate_hz):
    """The clearance is a - b, negative where the toe dips below its foot-flat height."""
    walk = Walk(rate_hz=rate_hz, toe_height=lambda s: a_m - b_m * np.cos(4 * np.pi * s))
    found = measured(CLEARANCE, walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(1000 * (a_m - b_m), abs=0.05)
    assert found.labels == (Reason("zero_before_swing"),)
    assert measured(SHARE, walk.motion(), one_cycle(walk)).value == 100.0


@pytest.mark.parametrize(
    "toe_height",
    [
        single_hump,
        lambda s: 0.03 + 0.02 * s,
        lambda s: 0.03 - 0.02 * s,
        lambda s: np.full_like(s, 0.02),
        lambda s: 0.03 + 0.01 * np.sin(np.pi * s) + 0.0001 * np.cos(40 * np.pi * s),
    ],
    ids=["one hump", "rising", "falling", "level", "hump with noise"],
)
def test_swing_without_a_minimum_has_no_clearance(measured, toe_height):
    """It is not defined, and the stride counts as one without a minimum."""
    walk = Walk(toe_height=toe_height)
    found = measured(CLEARANCE, walk.motion(), one_cycle(walk))
    assert math.isnan(found.value)
    assert found.reason == Reason(NO_MINIMUM)
    assert measured(SHARE, walk.motion(), one_cycle(walk)).value == 0.0


@pytest.mark.parametrize(("rise_m", "is_minimum"), [(0.0003, False), (0.0008, True)])
def test_a_minimum_is_half_a_millimetre_below_the_maxima_of_its_own_swing(
    measured, rise_m, is_minimum
):
    """How high the foot was lifted in the swings before does not deepen a dip."""
    knots = ((0, 0.02), (0.3, 0.02 + rise_m), (0.45, 0.02), (0.9, 0.035), (1, 0.0))
    walk = Walk(toe_height=lambda swing: eased(knots, swing))
    late = [cycle for cycle in walk.cycles() if cycle.side == "right"][-1]
    assert measured(SHARE, walk.motion(), late).value == (100.0 if is_minimum else 0.0)


def test_minimum_outside_mid_swing_does_not_count(measured):
    """A dip at 12 % of swing is the foot leaving the floor."""
    walk = Walk(toe_height=lambda s: 0.03 - 0.02 * np.exp(-(((s - 0.12) / 0.05) ** 2)))
    assert measured(CLEARANCE, walk.motion(), one_cycle(walk)).reason == Reason(NO_MINIMUM)


def test_lowest_of_two_minima_is_taken(measured):
    """Three humps of equal height over a rising line: the first dip is the lower one."""
    walk = Walk(toe_height=lambda s: 0.03 - 0.01 * np.cos(6 * np.pi * s) + 0.004 * s)
    dips = np.array([1 / 3, 2 / 3])
    truth = (0.03 - 0.01 + 0.004 * dips).min()
    found = measured(CLEARANCE, walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(1000 * truth, abs=0.1)


@pytest.mark.parametrize("late_s", [-0.004, 0.003])
def test_the_minimum_lies_between_the_frames(measured, late_s):
    """Mid-swing off a frame by a third of one: 20 mm and its instant are found all the same."""
    walk = Walk(start_s=0.5 + late_s, toe_height=lambda s: 0.03 + 0.01 * (16 * (s - 0.5) ** 2 - 1))
    cycle = one_cycle(walk)
    assert measured(CLEARANCE, walk.motion(), cycle).value == pytest.approx(20, abs=0.001)
    low = find_minimum(CyclesView(PreparedMotion(walk.motion()), [cycle]))
    assert low.fraction == pytest.approx([0.8], abs=1e-6)


def test_floor_is_that_of_the_neighbouring_foot_flat(measured):
    """On a floor rising 10 mm per stride the toe is 5 mm higher at mid-swing, no more."""
    walk = Walk(floor_tilt=0.01 / 1.2)
    late = [c for c in walk.cycles() if c.side == "right"][-1]
    found = measured(CLEARANCE, walk.motion(), late)
    assert found.value == pytest.approx(20 + 5, abs=0.3)


def rising(walk, forward, left):
    """Return the motion with the rise of its floor told."""
    rise = np.tile([forward, left], (len(walk.time_s), 1))
    return replace(walk.motion(), slight_rise=rise)


def test_floor_is_followed_along_a_rise_that_is_told(measured):
    """On a floor rising 10 mm per stride the toe is 20 mm over the floor below it at mid-swing."""
    walk = Walk(floor_tilt=0.01 / 1.2)
    late = [c for c in walk.cycles() if c.side == "right"][-1]
    found = measured(CLEARANCE, rising(walk, 0.01 / 1.2, 0.0), late)
    assert found.value == pytest.approx(20, abs=0.3)


def test_floor_is_followed_to_the_side_where_the_foot_is_brought_round(measured):
    """Brought round 30 mm to its right over a floor that sinks there by 1 in 20: 1.5 mm more."""
    walk = Walk()
    found = measured(CLEARANCE, rising(walk, 0.0, 0.05), one_cycle(walk))
    assert found.value == pytest.approx(20 + 1.5, abs=0.05)


def test_zero_falls_back_to_the_foot_flat_after_the_swing(measured):
    """With no foot-flat before, the next one of the same foot counts, and is named."""
    walk = Walk(floor_tilt=0.01 / 1.2)
    motion = without_flat(walk.motion(), before_s=1.5, after_s=9.0)
    found = measured(CLEARANCE, motion, one_cycle(walk))
    assert found.labels == (Reason("zero_after_swing"),)
    assert found.value == pytest.approx(20 - 5, abs=0.3)


def test_foot_that_is_never_flat_is_measured_from_where_the_toe_stood_still(measured):
    """The stances before and after serve, the rise of the floor between them included."""
    walk = Walk(floor_tilt=0.01 / 1.2)
    found = measured(CLEARANCE, without_flat(walk.motion()), one_cycle(walk))
    assert found.value == pytest.approx(20, abs=0.3)
    assert found.labels == (Reason("zero_of_still_stances"),)


def test_no_zero_at_all_is_a_reason(measured):
    """Neither foot-flat nor a stance on both sides in which the toe stood still: no clearance."""
    walk = Walk()
    motion = without_flat(walk.motion())
    toe = motion.points["right_toe_point"].copy()
    after = np.arange(len(toe)) / motion.rate_hz >= 1.5
    toe[after, 0] += 0.3 * (np.arange(len(toe))[after] / motion.rate_hz - 1.5)
    gliding = replace(motion, points={**motion.points, "right_toe_point": toe})
    assert measured(CLEARANCE, gliding, one_cycle(walk)).reason == Reason(
        "no_floor_height", of="toe_point"
    )


def test_filled_toe_in_mid_swing_is_refused(measured):
    """Samples filled in 25-85 % of swing could have made the minimum; before, they could not."""
    walk = Walk()
    inside = with_filled(walk.motion(), "right_toe_point", 1.35, 1.40)
    before = with_filled(walk.motion(), "right_toe_point", 1.16, 1.18)
    for name in (CLEARANCE, UNDER_HIP, SHARE):
        assert measured(name, inside, one_cycle(walk)).reason.code == "filled_gap"
        assert measured(name, before, one_cycle(walk)).is_defined


def test_toe_height_under_the_hip_is_read_where_the_two_pass(measured):
    """Toe 0.2 + 1.2 s and hip 0.72 + 0.48 s meet at s = 0.52 / 0.72."""
    walk = Walk()
    passing = 0.52 / 0.72
    truth = 30 - 10 * math.cos(4 * math.pi * passing)
    found = measured(UNDER_HIP, walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(truth, abs=0.1)


def test_toe_height_under_the_hip_needs_no_minimum(measured):
    """It is there for every stride."""
    walk = Walk(toe_height=single_hump)
    truth = 30 + 10 * math.sin(math.pi * 0.52 / 0.72)
    found = measured(UNDER_HIP, walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(truth, abs=0.1)


def test_missing_hip_falls_back_to_the_toes_fastest_instant(measured):
    """The fall-back is named; here the toe is made fastest at 60 % of swing."""
    walk = Walk(toe_height=lambda s: 0.02 + 0.05 * s)
    motion = walk.motion()
    toe = motion.points["right_toe_point"].copy()
    _, u = walk.phase("right")
    swing = np.clip((u - 0.6) / 0.4, 0, 1)
    toe[:, 0] += 0.05 * np.tanh((swing - 0.6) / 0.05)
    points = {k: v for k, v in motion.points.items() if k != "right_hip_centre"}
    motion = replace(motion, points={**points, "right_toe_point": toe})
    found = measured(UNDER_HIP, motion, one_cycle(walk))
    assert found.value == pytest.approx(20 + 50 * 0.6, abs=1.0)
    assert found.labels[-1] == Reason("hip_not_seen")


def test_toe_that_stays_behind_the_hip_is_not_defined(measured):
    """A step-to gait may never bring the toe under the hip."""
    walk = Walk()
    motion = walk.motion()
    hip = motion.points["right_hip_centre"] + np.array([2.0, 0, 0])
    motion = replace(motion, points={**motion.points, "right_hip_centre": hip})
    assert measured(UNDER_HIP, motion, one_cycle(walk)).reason.code == "toe_does_not_pass"


def test_forefoot_clearance_only_when_it_is_another_point(measured):
    """Its height here is the toe's plus 10 mm over swing: not a second name for the same."""
    walk = Walk()
    motion = walk.motion()
    assert measured(FOREFOOT, motion, one_cycle(walk)).value == pytest.approx(25, abs=0.2)
    same = {**motion.points, "right_forefoot": motion.points["right_toe_point"]}
    found = measured(FOREFOOT, replace(motion, points=same), one_cycle(walk))
    assert found.reason.code == "toe_is_forefoot"


def test_missing_toe_is_a_reason(measured):
    """Without the marker there is no clearance and no share."""
    walk = Walk()
    motion = walk.motion()
    points = {k: v for k, v in motion.points.items() if k != "right_toe_point"}
    motion = replace(motion, points=points)
    for name in (CLEARANCE, UNDER_HIP, SHARE):
        found = measured(name, motion, one_cycle(walk))
        assert found.reason == Reason("no_point", point="toe_point")


def test_the_depth_of_a_dip_is_counted_from_the_lower_hump_however_near():
    """At a low rate the hump may be the sample after the dip; what is not of the swing is none."""
    heights_m = np.array([[0.02, 0.06, 0.03, 0.05, 0.04], [0.05, 0.03, 0.08, 0.0, 9.0]])
    are = np.array([[True] * 5, [True] * 4 + [False]])
    depths_m = _depths(heights_m, are)
    assert (depths_m[0, 2], depths_m[1, 1]) == pytest.approx((0.02, 0.02))
    assert depths_m[:, 0].tolist() == [0, 0] and depths_m[0, -1] == depths_m[1, 3] == 0


def test_floor_between_two_stances_is_never_beyond_either():
    """In proportion to the way from 0.1 m on, half for less; past an end it is that stance's."""
    cases = np.array(
        [
            (0.05, 0.15, 0.25),
            (0.03, 0.09, 0.25),
            (0.02, 0.07, 0.5),
            (-0.5, 1.0, 0.0),
            (1.0, -0.5, 1.0),
            (-0.5, 0.0, 0.5),
        ]
    )
    back_m, on_m, wanted = cases.T
    here_m, none = np.full(len(cases), 0.8), np.zeros(len(cases))
    before, after = (here_m - back_m, none, none), (here_m + on_m, none, none + 1)
    found = _height_between(np.array(before), np.array(after), here_m)
    assert found == pytest.approx(wanted)
