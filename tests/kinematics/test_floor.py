"""A floor that rises in the recording changes no measure; a ramp is told."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.cycles import cut_cycles
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.measures import measure_cycles
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk

RECIPE = WalkRecipe(speed_m_s=1.0, n_strides=4)
LIMITS = {"minimum_toe_clearance_mm": 2.0, "peak_swing_dorsiflexion_deg": 1.0}


def tilted(trial, degrees):
    """Turn the walk about the sideways axis, as a volume calibrated askew does."""
    cos, sin = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turn = np.array([[cos, 0.0, sin], [0.0, 1.0, 0.0], [-sin, 0.0, cos]])
    return replace(trial, markers={key: xyz @ turn.T for key, xyz in trial.markers.items()})


def values(trial):
    motion = describe_motion(trial)
    rows = measure_cycles(motion, cut_cycles(motion, detect_events(motion)))
    found = {(r.cycle, r.side, r.measure): r.value for r in rows if r.measure in LIMITS}
    return found, [problem for problem in motion.problems if problem.where == "floor"]


@pytest.fixture(scope="module", params=["one way", "there and back"])
def trial(request):
    recipe = (
        RECIPE if request.param == "one way" else replace(RECIPE, n_strides=10, turn_after_m=5.0)
    )
    return simulate_walk(recipe, seed=5).trial


@pytest.mark.parametrize("degrees", [-0.9, 0.5])
def test_a_tilted_volume_changes_no_clearance(trial, degrees):
    """Each stride has the clearance and dorsiflexion of the level recording, and it is told."""
    level, nothing = values(trial)
    others, told = values(tilted(trial, degrees))
    assert not nothing and [problem.level for problem in told] == ["info"]
    assert level.keys() == others.keys() and len(level) >= 16
    for key, value in level.items():
        assert others[key] == pytest.approx(value, abs=LIMITS[key[2]], nan_ok=True), key


def test_a_ramp_is_told():
    """Three degrees are no slip of a calibration."""
    _, told = values(tilted(simulate_walk(RECIPE, seed=5).trial, 3.0))
    assert [problem.level for problem in told] == ["warning"]


@pytest.mark.parametrize(
    "recipe",
    [
        replace(RECIPE, belt_speed_m_s=1.0),
        replace(RECIPE, n_strides=1),
        replace(RECIPE, marker_noise_m=0.002),
        replace(RECIPE, floor_tilt=0.002),
    ],
)
def test_a_level_floor_is_left_alone(recipe):
    """On a treadmill, from few stances, with scattered markers, over a slight tilt."""
    _, told = values(simulate_walk(recipe, seed=5).trial)
    assert not told
