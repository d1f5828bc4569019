"""One foot over a stretch of frames: whose path it is told against, and where the stretch ends."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.events.foot_stretch import (
    HEEL_BEHIND_ANKLE,
    HEEL_BELOW_ANKLE,
    body_reference,
    foot_ends,
    foot_stretches,
)
from gaittrack.events.swings import find_swings
from gaittrack.kinematics import describe_motion
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk


@pytest.fixture(scope="module")
def motion():
    """Give a walk with every marker in view."""
    return describe_motion(simulate_walk(WalkRecipe(), seed=1).trial)


def test_a_marker_of_the_body_that_is_never_seen_hides_no_step(motion):
    """The others give the path, which is their mean."""
    hidden = motion.points["left_asis"] * np.nan
    points = {**motion.points, "left_asis": hidden}
    path = body_reference(replace(motion, points=points), "left")
    whole = body_reference(motion, "left")
    assert not np.isnan(path).any()
    assert np.ptp(path - whole, axis=0) == pytest.approx([0, 0, 0], abs=0.02)


def test_the_heel_of_a_rigid_foot_is_reckoned_from_ankle_and_forefoot_however_it_turns(motion):
    """It lies flat half of the time, stands on its forefoot, then turns by up to 40 degrees."""
    n = motion.n_frames
    turn = np.deg2rad(np.where(np.arange(n) < n // 2, 0.0, 40 * np.sin(np.arange(n) / 9)))
    turn[n // 2 : n * 2 // 3] = np.deg2rad(-35.0)
    ankle = np.column_stack([np.linspace(0, 4, n), np.zeros(n), np.full(n, 0.1)])

    def turned(forward_m, up_m):
        ahead = forward_m * np.cos(turn) - up_m * np.sin(turn)
        above = forward_m * np.sin(turn) + up_m * np.cos(turn)
        return ankle + np.column_stack([ahead, np.zeros(n), above])

    long_m = 0.13
    forefoot = turned(long_m, -0.05)
    fast = {"left_ankle": ankle, "left_forefoot": forefoot, "left_metatarsal_2": forefoot}
    heel = foot_ends(replace(motion, fast_points=fast), "left")["rear"]
    expected = turned(-HEEL_BEHIND_ANKLE * long_m, -HEEL_BELOW_ANKLE * long_m)
    assert np.abs(heel - expected).max() < 1e-9


def test_an_end_that_is_hidden_for_a_quarter_of_the_time_is_left_out(motion):
    """Seen in under 80 % of the frames of the best seen one, a heel tells no landing."""
    heel = motion.fast_points["left_heel"].copy()
    heel[: motion.n_frames // 4] = np.nan
    fast = {**motion.fast_points, "left_heel": heel}
    assert set(foot_ends(motion, "left")) == {"rear", "front"}
    assert set(foot_ends(replace(motion, fast_points=fast), "left")) == {"front"}


def test_a_stretch_ends_in_the_frame_in_which_the_direction_of_walking_changes(motion):
    """No frame is lost or taken twice."""
    n, turn = motion.n_frames, motion.n_frames // 2
    forward = np.repeat(motion.axes.forward[:1], n, axis=0)
    forward[turn:] *= -1
    axes = replace(motion.axes, forward=forward)
    first, second = foot_stretches(replace(motion, axes=axes), "left")
    assert (first.start, first.n_frames) == (0, turn)
    assert (second.start, second.n_frames) == (turn, n - turn)


@pytest.fixture(scope="module")
def stepping(motion):
    """Give a function: a foot that makes steps of given lengths, each between stances."""
    foot = foot_stretches(motion, "left")[0]

    def made(*steps_m, begins_inside=False):
        parts = [] if begins_inside else [np.zeros(30)]
        for way_m in steps_m:
            parts += [np.full(4, way_m / 4 * foot.rate_hz), np.zeros(30)]
        speed = np.concatenate(parts)
        return replace(foot, toe_m_s=speed, body_m_s=np.zeros(len(speed)))

    return made


@pytest.mark.parametrize(
    ("steps_m", "begins_inside", "found"),
    [
        ((0.6, 0.6), False, 2),
        ((1.0, 0.07), False, 1),
        ((1.0, 0.09), False, 2),
        ((0.2, 0.035), False, 1),
        ((0.2, 0.05), False, 2),
        ((0.035, 0.2), True, 2),
        ((0.015, 0.2), True, 1),
    ],
)
def test_a_step_is_as_long_as_a_step_must_be(stepping, steps_m, begins_inside, found):
    """4 cm and 8 % of the longest; 2 cm where its beginning is not in the recording."""
    assert len(find_swings(stepping(*steps_m, begins_inside=begins_inside))) == found


@pytest.mark.parametrize(("rest_s", "found"), [(0.06, 1), (0.1, 2)])
def test_a_foot_that_hesitates_has_not_been_put_down(stepping, rest_s, found):
    """It stands still for up to 80 ms on its way; for longer, it has made two steps."""
    whole = stepping(0.5).toe_m_s
    middle = 32
    rest = np.zeros(int(rest_s * stepping(0.5).rate_hz))
    speed = np.concatenate([whole[:middle], rest, whole[middle:]])
    foot = replace(stepping(0.5), toe_m_s=speed, body_m_s=np.zeros(len(speed)))
    assert len(find_swings(foot)) == found
