"""What landings are told from: the body's path, a heel that was not seen, pieces of one way."""

from types import SimpleNamespace

import numpy as np
import pytest

from gaittrack.events import foot_stretch
from gaittrack.events.foot_stretch import body_reference, foot_ends, foot_stretches
from gaittrack.kinematics import describe_motion
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk

ON = np.linspace(0.0, 2.0, 100)[:, None] * [1.0, 0.0, 0.0]


def seen(path, *stretches):
    """Return a path that is hidden but for some stretches."""
    is_seen = np.zeros(len(path), dtype=bool)
    for start, stop in stretches:
        is_seen[start:stop] = True
    return np.where(is_seen[:, None], path, np.nan)


def test_the_body_is_followed_by_the_marker_that_is_seen_longest():
    """One that two others know stands in while it is hidden; who is never seen with it does not."""
    points = {
        "left_asis": seen(ON, (0, 40), (60, 100)),
        "right_asis": seen(ON + [0.0, 0.3, 0.1], (30, 70)),
        "sacrum": seen(ON - [0.2, 0.0, 0.0], (0, 5)),
        "left_psis": seen(ON + [0.1, 0.0, 0.0], (45, 55)),
    }
    path = body_reference(SimpleNamespace(points=points), "left")
    assert path == pytest.approx(ON)
    knee = {"left_knee_centre": ON}
    assert body_reference(SimpleNamespace(points=knee), "left") is ON
    alike = {name: ON + [place, 0, 0] for place, name in ((0, "left_asis"), (0.2, "right_asis"))}
    assert body_reference(SimpleNamespace(points=alike), "left") == pytest.approx(ON + [0.1, 0, 0])


def turned(line, turn_rad):
    """Return a line, forward and up, turned up by an angle in each frame."""
    cos, sin = np.cos(turn_rad), np.sin(turn_rad)
    forward, up = line
    flat = np.zeros_like(cos)
    return np.stack([cos * forward - sin * up, flat, sin * forward + cos * up], axis=1)


def test_a_heel_that_was_not_seen_turns_with_its_foot():
    """Its place on a flat foot, turned as the line from ankle to forefoot is."""
    turn_rad = np.radians(np.concatenate([np.zeros(60), np.linspace(0, -50, 20)]))
    ankle = np.tile([0.4, 0.1, 0.09], (80, 1))
    forefoot = ankle + turned((0.15, -0.05), turn_rad)
    points = {"left_ankle": ankle, "left_forefoot": forefoot, "left_toe": forefoot}
    ends = foot_ends(SimpleNamespace(fast_points=points), "left")
    behind, below = foot_stretch.HEEL_BEHIND_ANKLE, foot_stretch.HEEL_BELOW_ANKLE
    expected = ankle + turned((-0.15 * behind, -0.15 * below), turn_rad)
    assert ends["rear"] == pytest.approx(expected)


def test_an_end_that_is_seldom_seen_is_left_out_and_a_lone_toe_is_cut_short():
    """Less than four fifths of the best seen one; the front is the middle of what is left."""
    heel = ON - [0.2, 0.0, 0.0]
    points = {"left_heel": heel, "left_toe": ON, "left_metatarsal_5": seen(ON, (0, 79))}
    ends = foot_ends(SimpleNamespace(fast_points=points), "left")
    assert ends["front"] == pytest.approx(ON - [0.2 * (1 - foot_stretch.SOLE_SHARE), 0, 0])
    points["left_metatarsal_5"] = seen(ON - [0.04, 0, 0], (0, 80))
    front = foot_ends(SimpleNamespace(fast_points=points), "left")["front"]
    assert front[:80] == pytest.approx(ON[:80] - [0.02, 0, 0])
    assert foot_ends(SimpleNamespace(fast_points={"left_heel": heel}), "left").keys() == {"rear"}


@pytest.mark.parametrize(("turn", "pieces"), [(150, 2), (20, 2), (19, 1), (-10, 1), (None, 1)])
def test_a_stretch_ends_where_the_walk_turns_round(turn, pieces):
    """At that frame, neither before nor after; a piece under a fifth of a second is none."""
    motion = describe_motion(simulate_walk(WalkRecipe(n_strides=3), seed=1).trial)
    forward = motion.axes.forward.copy()
    forward = np.broadcast_to(forward, (motion.n_frames, forward.shape[-1])).copy()
    if turn is not None:
        forward[turn:] *= -1
    axes = SimpleNamespace(forward=forward)
    values = {name: getattr(motion, name) for name in ("points", "fast_points", "rate_hz")}
    found = foot_stretches(SimpleNamespace(axes=axes, **values), "left")
    assert len(found) == pieces
    ends = [(each.start, each.start + each.n_frames) for each in found]
    turn = turn and turn % motion.n_frames
    cuts = sorted({0, turn or 0, motion.n_frames})
    assert ends == [each for each in zip(cuts, cuts[1:], strict=False) if each[1] - each[0] >= 20]


def test_a_foot_that_also_stands_on_its_forefoot_is_flat_where_it_mostly_rests():
    """Flat for half of the time, then heel up and still, then turning."""
    turn_rad = np.radians(
        np.concatenate([np.zeros(60), np.full(20, -35.0), np.linspace(0, 40, 40)])
    )
    ankle = np.tile([0.4, 0.1, 0.09], (120, 1))
    forefoot = ankle + turned((0.15, -0.05), turn_rad)
    ends = foot_ends(
        SimpleNamespace(fast_points={"left_ankle": ankle, "left_forefoot": forefoot}), "left"
    )
    behind, below = foot_stretch.HEEL_BEHIND_ANKLE, foot_stretch.HEEL_BELOW_ANKLE
    expected = ankle + turned((-0.15 * behind, -0.15 * below), turn_rad)
    assert ends["rear"] == pytest.approx(expected)
