"""What a walk's figure shows is what was measured: places of points, events, strides."""

import numpy as np
import plotly.graph_objects as go
import pytest

from gaittrack.events.from_force import plate_hits
from gaittrack.figures.event_lines import SOURCE_WORDS, SYMBOLS, events_of, symbols
from gaittrack.figures.quality import draw_side, stride_lane
from gaittrack.figures.sheet_curves import draw_sheet_curves
from gaittrack.figures.stick_figure import draw_stick_figure, stick_frames, why_no_replay
from gaittrack.pipeline import measure_file
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.sheets import cycle_rows, write_time_series, write_workbook
from gaittrack.simulate.walk import simulate_walk
from tests.made_up_files import RECIPE

LATE_S = 0.09
"""By how much a mark in the file is late: beyond 50 ms a person should look."""


@pytest.fixture(scope="module")
def truth():
    """Give a made-up walk over two plates, with what is true of it."""
    return simulate_walk(WalkRecipe(speed_m_s=1.2, n_strides=4, with_plates=True), seed=3)


@pytest.fixture(scope="module")
def walk(truth, tmp_path_factory):
    """Give it measured, with one mark in the file that is late."""
    first = next(e for e in truth.truth.events if (e.side, e.kind) == ("left", "initial_contact"))
    path = tmp_path_factory.mktemp("quality") / "walk.c3d"
    trial = truth.trial
    marks = [(first.time_s + LATE_S, "left", "initial_contact")]
    write_c3d(path, rate_hz=trial.rate_hz, markers=trial.markers, plates=trial.plates, events=marks)
    return measure_file(path)


@pytest.fixture(scope="module")
def turning(tmp_path_factory):
    """Give a walk out and back with the turn in view."""
    path = tmp_path_factory.mktemp("turning") / "walk.c3d"
    recipe = WalkRecipe(speed_m_s=1.0, n_strides=10, turn_after_m=5)
    trial = simulate_walk(recipe, seed=5).trial
    write_c3d(path, rate_hz=trial.rate_hz, markers=trial.markers)
    return measure_file(path)


def trace(figure, name, place=0):
    return [one for one in figure["data"] if one["name"] == name][place]


def test_heights_and_speeds_are_those_of_the_recorded_foot(walk, truth):
    """Height agrees with the markers that were written; a foot on the floor does not move."""
    figure = draw_side(walk, "left")
    go.Figure(figure)
    height, speed = trace(figure, "heel"), trace(figure, "heel", 1)
    label = walk.motion.landmark_labels["left_heel"]
    recorded_mm = 1000 * truth.trial.markers[label][:, 2]
    off = np.abs(np.array(height["y"], dtype=float) - recorded_mm)
    assert np.median(off) < 1 and off.max() < 15
    flat = np.flatnonzero(walk.motion.foot_flat["left"])
    assert max(speed["y"][frame] for frame in flat[5:-5]) < 0.5
    assert max(speed["y"]) > 3 * 1.2


def test_every_event_is_one_upright_line_that_differs_by_kind_and_shape_of_source(walk):
    """C solid, T dotted, in no colour; the plate counts before the file, that before markers."""
    events = events_of(walk, "left")
    shapes = draw_side(walk, "left")["layout"]["shapes"]
    assert len({event.source for event in events}) == 3
    for event, shape in zip(events, shapes, strict=True):
        look = {"initial_contact": ("C", "solid"), "toe_off": ("T", "dot")}[event.kind]
        assert shape["x0"] == shape["x1"] == pytest.approx(event.time_s, abs=1e-4)
        assert (shape["name"], shape["line"]["dash"]) == look
        assert shape["line"]["color"] == "#171B20"
        assert SOURCE_WORDS[event.source] in shape["label"]["text"]
    assert symbols(walk, "left") == [SYMBOLS[event.source] for event in events]
    assert len(set(SYMBOLS.values())) == len(SYMBOLS) == len(SOURCE_WORDS)


def test_the_force_of_a_step_is_drawn_with_the_foot_whose_it_is(walk, truth):
    """As high as the plate has it, over the time of the step; the other foot has its own."""
    (hit,) = [one for one in plate_hits(walk.motion) if one.owner == "left"]
    force = trace(draw_side(walk, "left"), hit.plate.name)
    seen = [(x, y) for x, y in zip(force["x"], force["y"], strict=True) if y is not None]
    assert max(y for _, y in seen) == pytest.approx(hit.load_n.max(), rel=0.02)
    assert seen[0][0] == pytest.approx(hit.start_s, abs=0.03)
    assert seen[-1][0] == pytest.approx(hit.stop_s, abs=0.03)
    assert hit.plate.name not in {one["name"] for one in draw_side(walk, "right")["data"]}


def test_what_another_source_saw_stands_where_it_saw_it(walk, truth):
    """The mark in the file is in use; the markers' own time of the same contact is shown too."""
    seen = trace(draw_side(walk, "left"), "also seen: markers")
    first = next(e for e in truth.truth.events if (e.side, e.kind) == ("left", "initial_contact"))
    in_file = next(event for event in events_of(walk, "left") if event.source == "file")
    assert in_file.time_s == pytest.approx(first.time_s + LATE_S, abs=0.01)
    assert min(abs(time - first.time_s) for time in seen["x"]) < 0.03


def test_strides_not_counted_are_hatched_over_their_time_with_the_reason(walk):
    """Each from its contact to its end, or to the end of the recording; the title counts."""
    figure = draw_side(walk, "left")
    out = [cycle for cycle in walk.cycles if cycle.side == "left" and not cycle.is_kept]
    assert out
    for cycle in out:
        shade = trace(figure, f"{cycle.id} not counted")
        assert min(shade["x"]) == pytest.approx(cycle.start_s, abs=1e-3)
        assert str(cycle.reject_reasons[0])[:20] in shade["text"].replace("<br>", " ")
    lane = [one for one in stride_lane(walk, "left") if not one["counted"]]
    assert [one["from"] for one in lane] == pytest.approx([c.start_s for c in out], abs=1e-3)
    kept = sum(cycle.is_kept for cycle in walk.cycles if cycle.side == "left")
    assert f"{kept} of {kept + len(out)} strides" in figure["layout"]["title"]["text"]


def test_turning_round_makes_no_speed_of_its_own(turning):
    """The direction of progression changes between passes; a foot stays below 10 m/s."""
    for side in ("left", "right"):
        speed = [y for y in trace(draw_side(turning, side), "heel", 1)["y"] if y is not None]
        assert max(speed) < 10


def test_stick_figure_has_the_recorded_points_at_their_time(walk):
    """The knee of every instant lies where the motion has it, ahead of the pelvis."""
    frames = stick_frames(walk)
    go.Figure(draw_stick_figure(walk, frames))
    step = round(frames["step_s"] * walk.motion.rate_hz)
    knee, pelvis = (walk.motion.points[key][::step] for key in ("left_knee_centre", "pelvis"))
    assert [leg[2] for leg in frames["x"][0]] == pytest.approx(
        list(knee[:, 0] - pelvis[:, 0]), abs=0.001
    )
    assert len(frames["x"][0]) * frames["step_s"] == pytest.approx(walk.trial.duration_s, abs=0.03)
    feet = [value for leg in frames["y"][0] for value in leg[4:6]]
    assert -0.05 < min(feet) < 0.03


def test_sheets_show_their_angles_and_say_why_there_is_nothing_to_replay(tmp_path):
    """Angles over time with the sheet's events; curves over the cycle as they were given."""
    made_up = simulate_walk(RECIPE, seed=1)
    write_time_series(tmp_path / "series.csv", made_up)
    write_workbook(tmp_path / "curves.xlsx", cycle_rows(made_up))
    series = measure_file(tmp_path / "series.csv")
    figure = draw_side(series, "left")
    go.Figure(figure)
    ankle = series.motion.angles["left", "ankle"].values
    shown = next(one for one in figure["data"] if one["name"].startswith("Ankle"))
    assert shown["y"] == pytest.approx(list(ankle), abs=0.006)
    assert len(figure["layout"]["shapes"]) == len(events_of(series, "left")) > 4
    assert "no markers" in why_no_replay(series)
    curves = measure_file(tmp_path / "curves.xlsx")
    figure = draw_sheet_curves(curves, "right")
    go.Figure(figure)
    first = next(cycle for cycle in curves.cycles if cycle.side == "right")
    assert figure["data"][0]["y"][:101] == pytest.approx(
        list(first.percent_curves["ankle"]), abs=0.01
    )
