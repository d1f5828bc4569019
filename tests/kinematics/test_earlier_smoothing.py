"""Markers that were low-passed before the file was written are told from those that were not."""

from dataclasses import replace
from pathlib import Path

import pytest

from gaittrack.kinematics import describe_motion
from gaittrack.kinematics.smoothing import low_pass
from gaittrack.read import read_trial
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from tests.made_up_files import SAMPLES

REFERENCE = Path(__file__).parents[1] / "reference"
LIMP = FootRecipe(contact_pitch_deg=-8.0, swing_pitch_deg=-22.0)
WALKS = {
    "brisk, quiet": WalkRecipe(speed_m_s=1.4, marker_noise_m=0.0002, rate_hz=120.0),
    "slow, quiet": WalkRecipe(speed_m_s=0.3, n_strides=3, marker_noise_m=0.00005),
    "forefoot first, 200 Hz": WalkRecipe(speed_m_s=0.8, right=LIMP, rate_hz=200.0),
    "60 Hz": WalkRecipe(rate_hz=60.0),
}


def smoothed(trial, cutoff_hz):
    low = {
        label: low_pass(xyz, cutoff_hz=cutoff_hz, rate_hz=trial.rate_hz)
        for label, xyz in trial.markers.items()
    }
    return replace(trial, markers=low)


@pytest.mark.parametrize("name", WALKS)
def test_a_walk_as_recorded_is_none_and_one_that_was_smoothed_is(name):
    """Brisk and slow, quiet markers and usual ones, any rate; 6 Hz is the trade's habit."""
    trial = simulate_walk(WALKS[name], seed=5).trial
    assert not describe_motion(trial).markers.were_smoothed
    assert describe_motion(smoothed(trial, 6.0)).markers.were_smoothed


def test_recorded_walks_show_what_was_done_to_them():
    """Two exports of laboratories hold nothing above 16 Hz, digitised points and others all."""
    files = {
        "walk_two_plates_100hz.c3d": True,
        "walk_overground_two_plates_100hz.c3d": True,
        "walk_from_standing_150hz.trc": False,
        "handbook_walk_2d_coordinates_70hz.txt": False,
    }
    path = SAMPLES / "P01" / "visit-1" / "with-brace" / "walk-1.c3d"
    trials = {name: read_trial(REFERENCE / name, in_child=False) for name in files}
    found = {name: describe_motion(each).markers.were_smoothed for name, each in trials.items()}
    assert found == files
    assert not describe_motion(read_trial(path, in_child=False)).markers.were_smoothed
