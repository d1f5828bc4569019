"""From a trial to a motion: what is kept, what is said, and what cannot change it."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.errors import LayoutError
from gaittrack.kinematics import describe_motion
from gaittrack.lab_map import LabMap
from gaittrack.simulate.recipe import Gap, WalkRecipe
from gaittrack.simulate.walk import simulate_walk

RECIPE = WalkRecipe(n_strides=2)


@pytest.fixture(scope="module")
def walk():
    """Give a plain walk with its truth."""
    return simulate_walk(RECIPE, seed=4)


@pytest.mark.parametrize(
    ("joint", "limit_deg"),
    [("knee", 3.0), ("shank_lean", 3.0), ("hip_thigh_vertical", 3.0), ("foot_pitch", 2.0)],
)
def test_angles_are_those_the_walk_was_built_with(walk, joint, limit_deg):
    """Simulated truth; the hip centre is an estimate, hence degrees and not tenths."""
    motion = describe_motion(walk.trial)
    for side in ("left", "right"):
        away = motion.angles[side, joint].values - walk.truth.angles_deg[side, joint]
        assert np.median(np.abs(away)) < limit_deg


def test_filled_samples_are_remembered_in_every_point_made_of_them():
    """A gap of 60 ms in a knee marker marks the knee centre, not the ankle."""
    gaps = (Gap("left knee", 0.995, 1.055),)
    motion = describe_motion(simulate_walk(replace(RECIPE, gaps=gaps), seed=4).trial)
    assert motion.filled["left_knee_centre"].sum() == 6
    assert not motion.filled["left_ankle_centre"].any()
    assert not np.isnan(motion.points["left_knee_centre"]).any()


def test_long_gap_stays_open_in_points_and_angles():
    """300 ms are not bridged."""
    gaps = (Gap("left knee", 0.995, 1.295),)
    motion = describe_motion(simulate_walk(replace(RECIPE, gaps=gaps), seed=4).trial)
    lost = np.isnan(motion.angles["left", "knee"].values)
    assert np.flatnonzero(lost).tolist() == list(range(100, 130))
    assert not np.isnan(motion.angles["right", "knee"].values).any()


def test_labels_that_spell_nothing_are_refused_with_the_labels():
    """The message lists them and shows a map's form."""
    trial = simulate_walk(RECIPE, seed=4).trial
    odd = {f"P{number}": xyz for number, xyz in enumerate(trial.markers.values())}
    with pytest.raises(LayoutError, match=r"left_heel = .*P0, P1"):
        describe_motion(replace(trial, markers=odd))


def test_map_makes_odd_labels_usable(walk):
    """A map file alone is enough."""
    names = {key.replace(" ", "_"): f"P{n}" for n, key in enumerate(walk.trial.markers)}
    markers = dict(zip(names.values(), walk.trial.markers.values(), strict=True))
    lab_map = LabMap(landmarks=names)
    motion = describe_motion(replace(walk.trial, markers=markers), lab_map=lab_map)
    plain = describe_motion(walk.trial)
    assert np.array_equal(motion.angles["left", "knee"].values, plain.angles["left", "knee"].values)


def test_labelled_marker_that_is_never_seen_is_named(walk):
    """It is said, and the rest still works."""
    lost = np.full((walk.trial.n_frames, 3), np.nan)
    markers = {**walk.trial.markers, "left toe": lost}
    motion = describe_motion(replace(walk.trial, markers=markers))
    assert any("left" in p.where + p.what and "toe" in p.where + p.what for p in motion.problems)
    assert "left_heel" in motion.points and "left_toe" not in motion.points


def test_inputs_are_not_touched(walk):
    """The trial's own arrays are as before."""
    before = {key: xyz.copy() for key, xyz in walk.trial.markers.items()}
    describe_motion(walk.trial)
    assert all(np.array_equal(walk.trial.markers[k], before[k], equal_nan=True) for k in before)
