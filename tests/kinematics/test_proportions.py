"""A picture or volume that is stretched one way is told; walks as they are raise no doubt."""

from dataclasses import replace
from pathlib import Path

import pytest

from gaittrack.kinematics import describe_motion
from gaittrack.read import read_trial
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk

REFERENCE = Path(__file__).parents[1] / "reference"
RECORDED = ("walk_two_plates_100hz.c3d", "walk_overground_two_plates_100hz.c3d")
SHUFFLING = WalkRecipe(speed_m_s=0.25, n_strides=3, left=FootRecipe(contact_pitch_deg=-5.0))


def stretched(trial, *, along=1.0, up=1.0):
    """Return by how many per cent the walk is said to be stretched along its way; None if not."""
    axis = max(range(2), key=lambda n: abs(float(_way(trial)[n])))
    factors = [along if n == axis else 1.0 for n in range(2)] + [up]
    markers = {label: xyz * factors for label, xyz in trial.markers.items()}
    problems = describe_motion(replace(trial, markers=markers, plates=())).problems
    told = [dict(p.reason.parameters) for p in problems if p.reason.code == "stretched"]
    return told[0]["percent"] if told else None


def _way(trial):
    heel = next(xyz for label, xyz in trial.markers.items() if "hee" in label.lower())
    seen = heel[~(heel != heel).any(axis=1)]
    return seen[-1] - seen[0]


@pytest.mark.parametrize("name", [*RECORDED, "made up", "shuffling"])
def test_a_stretched_walk_is_told_and_no_other(name):
    """Proportions of another picture either way; skin that moves is no stretching."""
    if name in RECORDED:
        trial = read_trial(REFERENCE / name, in_child=False)
    else:
        recipe = SHUFFLING if name == "shuffling" else WalkRecipe(n_strides=3)
        trial = simulate_walk(recipe, seed=4).trial
    assert stretched(trial) is None
    assert stretched(trial, along=4 / 3) == pytest.approx(33, abs=12)
    assert stretched(trial, up=4 / 3) == pytest.approx(-25, abs=8)
