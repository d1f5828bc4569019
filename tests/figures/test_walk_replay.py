"""The replay shows the recorded points, at their places and times."""

import numpy as np
import plotly.graph_objects as go
import pytest

from gaittrack.figures.condition_styles import OTHER_STYLES, condition_styles
from gaittrack.figures.walk_replay import draw_replay, draw_toe_paths, find_replay
from gaittrack.pipeline import measure_file
from tests.made_up_files import write_walk


@pytest.fixture(scope="module")
def walk(tmp_path_factory):
    """Give a made-up walk, measured."""
    path = tmp_path_factory.mktemp("replay") / "walk.c3d"
    write_walk(path)
    return measure_file(path)


@pytest.fixture(scope="module")
def replay(walk):
    """Give one left step of it."""
    return find_replay("brace", [walk], "left")


def test_replay_is_one_cycle_of_the_recording(walk, replay):
    """Its length is the cycle's; the knee lies where the walk's motion has it."""
    cycle = next(each for each in walk.cycles if each.id == replay.cycle)
    assert replay.time_s[-1] == pytest.approx(cycle.duration_s, abs=0.03)
    frame = round(cycle.start_s * walk.motion.rate_hz)
    knee, pelvis = (walk.motion.points[key][frame] for key in ("left_knee_centre", "pelvis"))
    assert replay.legs["left"][0, 1, 0] == pytest.approx(knee[0] - pelvis[0])


def test_feet_stand_on_the_floor(replay):
    """The lowest point of the leg is within a few centimetres of it."""
    assert -0.05 < np.nanmin(replay.legs["left"][:, :, 1]) < 0.03


def test_figures_are_valid_and_to_scale(replay):
    """One frame per instant; both axes have one length; titles count."""
    styles = condition_styles(["shoe", "other brace", "brace"], "shoe")
    stick = draw_replay(replay, styles["brace"])
    go.Figure(stick)
    assert len(stick["frames"]) == len(replay.time_s)
    path = draw_toe_paths([replay], styles)
    go.Figure(path)
    for figure in (stick, path):
        assert figure["layout"]["yaxis"]["scaleanchor"] == "x"
        assert "1 " in figure["layout"]["title"]["subtitle"]["text"]
    second = OTHER_STYLES[1].colour
    assert (stick["data"][-1]["line"]["color"], path["data"][0]["line"]["color"]) == (second,) * 2
    assert path["data"][0]["x"][0] == 0
    assert max(path["data"][0]["x"]) > 500


def test_sheet_of_angles_has_no_replay(walk):
    """Without markers there is nothing to draw a leg from."""
    assert find_replay("brace", [], "left") is None
