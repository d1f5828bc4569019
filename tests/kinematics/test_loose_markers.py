"""Markers that are not on the bone they are named after are left out and told."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.kinematics import describe_motion
from gaittrack.kinematics.loose_markers import find_loose_markers
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk


@pytest.fixture(scope="module")
def walk():
    """Give a walk with inner knee and ankle markers."""
    trial = simulate_walk(WalkRecipe(n_strides=2), seed=1).trial
    inner = {
        f"{side} {joint} medial": trial.markers[f"{side} {joint}"] + [0.0, shift, 0.0]
        for joint in ("knee", "ankle")
        for side, shift in (("left", -0.09), ("right", 0.09))
    }
    return replace(trial, markers={**trial.markers, **inner})


def test_inner_marker_of_the_other_leg_is_left_out_with_a_warning(walk):
    """The knee angle stays that of the leg when the inner marker is on the other one."""
    right = describe_motion(walk).angles["right", "knee"].values
    swapped = {
        **walk.markers,
        "right knee medial": walk.markers["left knee medial"],
    }
    motion = describe_motion(replace(walk, markers=swapped))
    assert np.abs(motion.angles["right", "knee"].values - right).max() < 2.0
    told = [problem for problem in motion.problems if problem.where == "right_knee_medial"]
    assert [problem.level for problem in told] == ["warning"]


def test_markers_on_one_bone_are_kept(walk):
    """Nothing is said of a clean walk, and the inner markers move the joint's centre."""
    motion = describe_motion(walk)
    assert not [p for p in motion.problems if p.where.endswith(("medial", "shank"))]
    inward = motion.points["right_knee_centre"][:, 1] - motion.points["right_knee"][:, 1]
    assert np.allclose(inward, 0.045, atol=0.003)


def test_shank_that_changes_its_length_is_told(walk):
    """A knee label on the hip of the other side: angles cannot be trusted."""
    shank = {
        "left_knee": walk.markers["left knee"],
        "left_ankle": walk.markers["right ankle"],
    }
    loose, problems = find_loose_markers(shank)
    assert loose == () and [problem.where for problem in problems] == ["left shank"]


@pytest.mark.parametrize("mirrored", [False, True])
def test_left_markers_on_the_right_are_told(walk, mirrored):
    """An axis negated (a left-handed file): warned of; the walk as recorded is not."""
    flip = [1.0, -1.0 if mirrored else 1.0, 1.0]
    trial = replace(walk, markers={key: xyz * flip for key, xyz in walk.markers.items()})
    told = [p.level for p in describe_motion(trial).problems if p.where == "sides"]
    assert told == (["warning"] if mirrored else [])


def jumping(change):
    """Return a made-up walk whose markers are changed, and its motion."""
    walk = simulate_walk(WalkRecipe(n_strides=4), seed=3)
    markers = {label: xyz.copy() for label, xyz in walk.trial.markers.items()}
    change(markers)
    return describe_motion(replace(walk.trial, markers=markers))


def exchange(markers, one, other, frames):
    markers[one][frames], markers[other][frames] = (
        markers[other][frames].copy(),
        markers[one][frames].copy(),
    )


def test_a_marker_that_jumps_for_a_moment_is_a_gap():
    """One frame 0.3 m away must not become a rate of a thousand deg/s: filled, and said."""

    def jump(markers):
        markers["left heel"][310] += 0.3

    motion = jumping(jump)
    assert motion.filled["left_heel"][310]
    assert any("lies where no body" in problem.what for problem in motion.problems)
    good = jumping(lambda markers: None)
    rest = np.abs(motion.points["left_heel"] - good.points["left_heel"])
    assert np.nanmax(rest) < 0.01
    assert not any("lies where no body" in problem.what for problem in good.problems)


def test_markers_that_change_names_for_a_while_are_missing_there():
    """Heel and toe exchanged for 0.4 s: too long to fill, so the foot is not seen."""
    motion = jumping(lambda m: exchange(m, "left heel", "left toe", slice(250, 290)))
    assert np.isnan(motion.points["left_heel"][255:285]).all()
    assert np.isnan(motion.angles["left", "ankle"].values[255:285]).all()
    assert not np.isnan(motion.angles["right", "ankle"].values[255:285]).any()


def test_a_foot_named_back_to_front_is_told():
    """Heel and toe exchanged in the whole walk keep their distances, but not their order."""
    motion = jumping(lambda m: exchange(m, "left heel", "left toe", slice(None)))
    (problem,) = [p for p in motion.problems if "ahead of the forefoot" in p.what]
    assert problem.level == "warning" and problem.where == "left foot"
