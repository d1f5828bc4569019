"""The foot's zero: from foot-flat, from standing, or none with a reason."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.errors import MissingSignalError
from gaittrack.kinematics import describe_motion
from gaittrack.kinematics.foot_flat import find_neutral
from gaittrack.kinematics.motion import FootNeutral
from gaittrack.reasons import Reason
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk, stand

RECIPE = WalkRecipe(speed_m_s=0.8, n_strides=3)


@pytest.fixture(scope="module")
def walk():
    """Give a plain walk with its truth."""
    return simulate_walk(RECIPE, seed=3)


def on_its_forefoot(trial, *, heel_up_m):
    """Return the trial with the left foot turned about its forefoot: its heel never comes down."""
    markers = dict(trial.markers)
    ball = markers["left metatarsal 5"]
    length_m = np.median(np.linalg.norm(markers["left heel"] - ball, axis=1))
    turn = np.arcsin(heel_up_m / length_m)
    steeper = np.array(
        [[np.cos(turn), 0.0, np.sin(turn)], [0.0, 1.0, 0.0], [-np.sin(turn), 0.0, np.cos(turn)]]
    )
    for name in ("left heel", "left ankle"):
        markers[name] = ball + (markers[name] - ball) @ steeper.T
    return replace(trial, markers=markers)


def test_foot_flat_gives_the_zero_of_the_made_up_shoe(walk):
    """Foot pitch is the planned one within 1 deg, so a flat foot is at 0."""
    motion = describe_motion(walk.trial)
    for side in ("left", "right"):
        assert motion.neutral[side].source == "foot-flat"
        truth = walk.truth.angles_deg[side, "foot_pitch"]
        flat = motion.foot_flat[side]
        assert flat.sum() > 20 and np.abs(truth[flat]).max() < 4.0
        assert np.median(motion.angles[side, "foot_pitch"].values[flat]) == pytest.approx(0, abs=1)
        found = motion.fast_marker_angles[side, "foot_pitch"].values
        assert np.median(np.abs(found - truth)) < 1.0


@pytest.mark.parametrize("heel_up_m", [0.045, 0.09])
def test_foot_that_stands_on_its_forefoot_has_no_zero_and_no_ankle_angle(walk, heel_up_m):
    """Not defined, with the reason and the cure; the other foot keeps its own."""
    motion = describe_motion(on_its_forefoot(walk.trial, heel_up_m=heel_up_m))
    assert motion.neutral["left"].source == "none" and not motion.foot_flat["left"].any()
    assert motion.neutral["left"].reason == Reason("foot_on_forefoot")
    assert "--standing" in str(motion.neutral["left"].reason)
    assert ("left", "ankle") not in motion.angles and ("right", "ankle") in motion.angles
    assert any(p.level == "warning" and p.where == "left" for p in motion.problems)


def test_standing_trial_gives_the_zero_where_the_walk_cannot(walk):
    """Heel held up in the walk, both feet flat in standing: the pitch is the true slope."""
    standing = stand(RECIPE, seed=1)
    motion = describe_motion(on_its_forefoot(walk.trial, heel_up_m=0.09), standing=standing)
    plain = describe_motion(walk.trial, standing=standing)
    assert motion.neutral["left"].source == plain.neutral["left"].source == "standing trial"
    assert ("left", "ankle") in motion.angles
    middle = plain.foot_flat["left"]
    lowered = (plain.angles["left", "ankle"].values - motion.angles["left", "ankle"].values)[middle]
    assert np.median(lowered) == pytest.approx(30.0, abs=6.0)


def test_standing_trial_without_a_foot_is_refused(walk):
    """It is named; nothing is taken from it in silence."""
    standing = stand(RECIPE, seed=1)
    no_feet = {k: v for k, v in standing.markers.items() if "heel" not in k}
    with pytest.raises(MissingSignalError, match="standing trial shows no foot"):
        describe_motion(walk.trial, standing=replace(standing, markers=no_feet))


def test_foot_that_never_stands_still_has_no_zero():
    """A foot dragged along at walking speed is never flat and still."""
    time_s = np.arange(300) / 100.0
    dragged = np.stack([time_s, 0 * time_s, 0.03 + 0 * time_s], axis=1)
    points = {"left_heel": dragged, "left_forefoot": dragged + [0.15, 0.0, 0.0]}
    neutral, flat = find_neutral(points, rate_hz=100.0, standing={})
    assert neutral["left"].source == "none" and neutral["left"].reason == Reason("foot_never_flat")
    assert not flat["left"].any()


def test_given_zero_is_used_as_it_is():
    """A standing trial's zero is not mixed with the walk's own."""
    still = np.tile([0.0, 0.0, 0.04], (100, 1))
    given = FootNeutral(-3.0, 0.04, 0.03, "standing trial")
    points = {"left_heel": still, "left_forefoot": still + [0.15, 0.0, -0.01]}
    neutral, flat = find_neutral(points, rate_hz=100.0, standing={"left": given})
    assert neutral["left"] is given and flat["left"].all()


def test_limp_foot_that_lies_flat_later_keeps_its_zero():
    """Forefoot first is no forefoot-standing: the heel comes down."""
    limp = FootRecipe(contact_pitch_deg=-9.0, swing_pitch_deg=-24.0, toe_off_pitch_deg=-35.0)
    motion = describe_motion(simulate_walk(replace(RECIPE, left=limp), seed=3).trial)
    assert motion.neutral["left"].source == "foot-flat"


def test_a_walk_given_as_standing_trial_is_told(walk):
    """The zero taken from it comes with a warning; from real standing it does not."""
    named = [
        [p.what for p in describe_motion(walk.trial, standing=trial).problems]
        for trial in (walk.trial, stand(RECIPE, seed=1))
    ]
    assert any("walks in the standing trial" in what for what in named[0])
    assert not any("standing trial" in what for what in named[1])


@pytest.mark.parametrize("heel_up_m", [0.006, 0.012, 0.03])
def test_a_standing_trial_of_other_shoes_is_told(walk, heel_up_m):
    """A heel marker 3 cm higher is 10 deg, 12 mm are 4; 6 mm is what shoes and skin may do."""
    standing = stand(RECIPE, seed=1)
    raised = {**standing.markers, "left heel": standing.markers["left heel"] + [0, 0, heel_up_m]}
    motion = describe_motion(walk.trial, standing=replace(standing, markers=raised))
    told = [p.where for p in motion.problems if "against the standing trial" in p.what]
    assert told == (["left foot"] if heel_up_m > 0.01 else [])
