"""The file's own angles win; their disagreement with markers is told."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gaittrack.kinematics import describe_motion
from gaittrack.kinematics.file_angles import choose_angles
from gaittrack.read import read_trial
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Signal

KEY = ("left", "knee")


@pytest.fixture(scope="module")
def walk():
    """Give a walk with truth."""
    return simulate_walk(WalkRecipe(n_strides=2), seed=1)


def with_own_knee(walk, values):
    return replace(walk.trial, angles={KEY: Signal(values, "deg", "knee")})


def test_own_angle_is_used_and_the_marker_angle_kept_beside_it(walk):
    """Origin is named for each angle; a comparison can tell them apart."""
    own = walk.truth.angles_deg[KEY] + 3.0
    motion = describe_motion(with_own_knee(walk, own))
    assert motion.angle_origin[KEY] == "file" and motion.angle_origin["right", "knee"] == "markers"
    assert np.array_equal(motion.angles[KEY].values, own)
    assert np.abs(motion.marker_angles[KEY].values - own + 3.0).mean() < 2.0


def test_disagreement_is_told_in_degrees(walk):
    """Mean difference as planted: +3 deg."""
    trial = with_own_knee(walk, describe_motion(walk.trial).angles[KEY].values + 3.0)
    (problem,) = [p for p in describe_motion(trial).problems if "from markers" in p.what]
    assert problem.level == "info" and "mean +3.0, SD 0.0°, correlation 1.00" in problem.what


def test_angle_of_the_opposite_sign_is_not_used(walk):
    """An extension-positive knee gives no number: the marker angle does, with a warning."""
    trial = with_own_knee(walk, -walk.truth.angles_deg[KEY])
    motion = describe_motion(trial)
    (problem,) = [p for p in motion.problems if "from markers" in p.what]
    assert problem.level == "warning" and "sign" in problem.action
    assert motion.angle_origin[KEY] == "markers"
    assert np.array_equal(motion.angles[KEY].values, motion.marker_angles[KEY].values)


def test_angle_of_the_other_leg_is_not_used(walk):
    """Left and right exchanged in the file: half a cycle apart, so not the same angle."""
    motion = describe_motion(with_own_knee(walk, walk.truth.angles_deg["right", "knee"]))
    assert motion.angle_origin[KEY] == "markers"


def test_stiff_ankle_is_not_judged_by_its_noise(walk):
    """An ankle held by a brace hardly moves: no correlation, but the file's own is kept."""
    noise = np.random.default_rng(1).normal(0.0, 0.5, walk.trial.n_frames)
    trial = replace(walk.trial, angles={("left", "ankle"): Signal(noise, "deg", "ankle")})
    assert describe_motion(trial).angle_origin["left", "ankle"] == "file"


def test_angle_seen_in_too_few_frames_is_not_judged(walk):
    """Nothing is said from fewer than ten frames in common."""
    values = np.full(walk.trial.n_frames, np.nan)
    values[:9] = 1.0
    trial = with_own_knee(walk, values)
    assert choose_angles(trial.angles, describe_motion(walk.trial).marker_angles).problems == ()


def test_a_turn_says_nothing_of_the_angles_of_a_file():
    """Beside the marker angles of the straight pass each of the laboratory's own is the same."""
    path = Path(__file__).parents[1] / "reference" / "walk_overground_two_plates_100hz.c3d"
    motion = describe_motion(read_trial(path))
    found = [each for each in motion.problems if each.reason.code.startswith("file_angle_is_")]
    assert len(found) == 6 and {each.level for each in found} == {"info"}
    assert max(each.reason["sd_deg"] for each in found) <= 3.0
    assert motion.angle_origin["left", "pelvic_tilt"] == "file"
