"""Markers that were low-passed before the file was written are told from those that were not."""

from dataclasses import replace
from pathlib import Path

import pytest

from gaittrack.kinematics import describe_motion
from gaittrack.kinematics.smoothing import low_pass
from gaittrack.measures.recording import SMOOTHED_BEFORE
from gaittrack.read import read_trial
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from tests.faults.good_recordings import measured
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
    assert not describe_motion(trial).markers.smoothed_before
    assert describe_motion(smoothed(trial, 6.0)).markers.smoothed_before


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
    found = {name: describe_motion(each).markers.smoothed_before for name, each in trials.items()}
    assert {name: bool(keys) for name, keys in found.items()} == files
    assert not describe_motion(read_trial(path, in_child=False)).markers.smoothed_before


@pytest.mark.parametrize("cutoff_hz", [8.0, 12.0, 15.0])
@pytest.mark.parametrize("name", ["brisk, quiet", "60 Hz"])
def test_a_filter_that_is_not_low_shows_in_how_noise_falls(name, cutoff_hz):
    """What is left of quick movement is usual then; a filter of 30 Hz lowers no rate."""
    trial = simulate_walk(WALKS[name], seed=5).trial
    assert describe_motion(smoothed(trial, cutoff_hz)).markers.smoothed_before


def test_a_filter_that_lowers_no_rate_is_not_told():
    """30 Hz at 120 frames a second: a falling foot is looked at at 20 Hz."""
    trial = simulate_walk(WALKS["brisk, quiet"], seed=5).trial
    assert not describe_motion(smoothed(trial, 30.0)).markers.smoothed_before


def test_one_smoothed_marker_is_told_for_its_leg():
    """The other leg's rates are as recorded."""
    trial = simulate_walk(WALKS["brisk, quiet"], seed=5).trial
    low = smoothed(trial, 6.0).markers["left metatarsal 5"]
    odd = replace(trial, markers={**trial.markers, "left metatarsal 5": low})
    walk = measured(odd)
    assert walk.motion.markers.smoothed_before == {"left_metatarsal_5"}
    labelled = {
        row.side
        for row in walk.rows
        if row.measure == "loading_response_plantarflexion_rate_deg_s"
        and SMOOTHED_BEFORE in {label.code for label in row.labels}
    }
    assert labelled == {"left"}
