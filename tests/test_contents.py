"""What a recording shows and what it does not."""

from dataclasses import replace
from pathlib import Path

import numpy as np
from click.testing import CliRunner

from gaittrack.commands import main
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.contents import contents_of
from gaittrack.pipeline import measure_file
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.walk import simulate_walk
from tests.made_up_files import RECIPE

SAMPLES = Path(__file__).parents[1] / "sample_trials"


def test_a_whole_recording_lacks_nothing_that_its_markers_serve():
    """Strides, landmarks and where events come from are counted."""
    walk = measure_file(SAMPLES / "P02" / "visit-1" / "with-brace" / "walk-1.c3d")
    found = contents_of(walk)
    assert found.missing == ()
    assert found.labels == tuple(walk.trial.markers)
    assert found.n_cycles == {
        side: sum(cycle.side == side for cycle in walk.cycles) for side in ("left", "right")
    }
    assert 0 < found.n_kept["left"] <= found.n_cycles["left"]
    assert sum(found.sources.values()) == len(walk.events.events)
    assert found.questions == dict.fromkeys(("left", "right"), QUESTION_CODES)
    half = replace(walk, rows=tuple(row for row in walk.rows if row.side == "left"))
    assert contents_of(half).questions == {"left": QUESTION_CODES, "right": ()}


def test_a_recording_without_heels_says_what_it_lacks_and_what_for():
    """The missing point is named with both sides, and so are measures without a value."""
    found = contents_of(measure_file(SAMPLES / "broken" / "no_heel.c3d"))
    assert ("left_heel", "right_heel") in [each.names for each in found.missing]
    titles = [title for each in found.not_measured for title in each.titles]
    assert any("plantarflexion" in title.lower() for title in titles)
    sheet = measure_file(SAMPLES / "P03" / "visit-1" / "with-brace" / "walk-1.csv")
    told = contents_of(sheet).questions["left"]
    assert "how_fast_it_comes_down" in told, "one of its two marks is enough"
    assert "how_the_toe_clears_the_floor" not in told
    assert found.questions["left"] == (
        *("how_the_toe_clears_the_floor", "how_far_the_leg_must_lift", "whether_the_knee_holds"),
        "how_the_person_walks",
    )


def test_how_often_each_landmark_was_seen_is_printed_and_what_its_gaps_cost(tmp_path):
    """A heel gone for the first third: its share of frames, the strides lost, and the noise."""
    trial = simulate_walk(RECIPE, seed=4).trial
    markers = {label: xyz.copy() for label, xyz in trial.markers.items()}
    markers["left heel"][: trial.n_frames // 3] = np.nan
    path = tmp_path / "walk.c3d"
    write_c3d(path, rate_hz=trial.rate_hz, markers=markers)
    said = CliRunner().invoke(main, ["check", str(path)]).output
    assert "seen in every frame: all but left heel 67%" in " ".join(said.split()).replace("_", " ")
    assert "noise of a coordinate from frame to frame" in said
    assert "of the left side (left heel" in " ".join(said.split())
