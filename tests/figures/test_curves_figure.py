"""Curve panels show what the comparison found, and nothing else."""

from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest

from gaittrack.compare.comparison import CurveComparison
from gaittrack.compare.intervals.curve_bands import NOT_COMPARABLE, Location, mean_band
from gaittrack.compare.typical_values.typical_curves import TypicalCurve
from gaittrack.figures.condition_styles import OTHER_STYLES, condition_styles
from gaittrack.figures.curves_figure import (
    BAND,
    STEPS,
    TYPICAL,
    draw_curve_panel,
    draw_difference_panel,
)
from gaittrack.reasons import Reason

FOUND = Reason("differ_at", stretches=(Reason("stretch", start_percent=60.0, end_percent=85.0),))
ORIGINS = Reason("angle_origins_differ", reference=("file",), own=("markers",))
STYLES = condition_styles(["shoe", "brace"], "shoe")
PERCENT = np.linspace(0, 100, 101)


@pytest.fixture
def curves():
    """Give an ankle with five walks in one condition and two in the other."""
    rng = np.random.default_rng(3)
    shape = 10 * np.sin(PERCENT / 100 * 2 * np.pi)
    own = shape + 5 + rng.normal(size=(5, 1))
    reference = shape + rng.normal(size=(2, 1))
    return CurveComparison(
        "left",
        "ankle",
        {"shoe": mean_band(reference), "brace": mean_band(own)},
        {"brace": Location(((60.0, 85.0),), 0.01, 3.0, FOUND)},
    )


@pytest.fixture
def figure(curves):
    """Give its panel with toe-offs and single steps."""
    return draw_curve_panel(
        curves,
        STYLES,
        toe_off_percent={"shoe": 62.0, "brace": 64.0, "elsewhere": 50.0},
        steps={"brace": np.array([PERCENT, PERCENT + 1, np.full(101, np.nan)])},
    )


def test_panel_is_a_valid_figure(figure):
    """Every key is one that the drawing library knows."""
    go.Figure(figure)


def test_axes_have_units_and_the_title_counts(figure):
    """Degrees with the positive direction, per cent, and walks per condition."""
    layout = figure["layout"]
    assert layout["xaxis"]["title"]["text"] == "Gait cycle (%)"
    assert layout["yaxis"]["title"]["text"] == "Angle (°), dorsiflexion +"
    assert layout["title"]["subtitle"]["text"] == "shoe 2 walks, brace 5 walks"


@pytest.mark.parametrize(
    ("location", "shift_deg", "said"),
    [
        (Location(((60.0, 85.0),), 0.01, 3.0, FOUND), 0, "higher in brace at 60–85 %"),
        (Location(((60.0, 85.0),), 0.01, 3.0, FOUND), -10, "lower in brace at 60–85 %"),
        (Location((), 0.4, 3.0, Reason("no_difference_located")), 0, "no difference shown"),
        (
            Location((), float("nan"), float("nan"), Reason(NOT_COMPARABLE, reason=ORIGINS)),
            *(0, "where they differ is not told"),
        ),
    ],
)
def test_the_title_says_where_and_which_way_they_differ(curves, location, shift_deg, said):
    """By the means within the stretches; nothing shown is never called the same."""
    bands = dict(curves.bands)
    bands["brace"] = replace(bands["brace"], mean=bands["brace"].mean + shift_deg)
    one = CurveComparison("left", "ankle", bands, {"brace": location})
    title = draw_curve_panel(one, STYLES)["layout"]["title"]["text"]
    assert title == f"Ankle, left: {said}"


def test_band_is_drawn_only_where_there_is_one(figure):
    """Two walks give a mean without a band."""
    bands = [trace["name"] for trace in figure["data"] if trace.get("meta") == BAND]
    assert bands == ["brace, 95 % band of the mean"]


def test_a_typical_curve_is_drawn_behind_the_conditions(curves):
    """Its bounds, two standard deviations from the mean, in a grey that no condition has."""
    own = TypicalCurve("ankle", mean=(5.0,) * 101, sd=(2.0,) * 101, source="own")
    panel = draw_curve_panel(curves, STYLES, typical=own)
    go.Figure(panel)
    bounds = [trace for trace in panel["data"] if trace.get("meta") == TYPICAL]
    assert panel["data"][:2] == bounds
    assert [set(trace["y"]) for trace in bounds] == [{1.0}, {9.0}]
    assert [trace["name"] for trace in bounds] == ["typical - 2 SD", "typical + 2 SD"]
    colours = {style.colour for style in STYLES.values()}
    assert not colours & {trace["line"]["color"] for trace in bounds}


def test_single_steps_wait_until_asked_for(figure):
    """One trace with a gap after each whole step; a step with a hole is left out."""
    (steps,) = [trace for trace in figure["data"] if trace.get("meta") == STEPS]
    assert steps["visible"] == "legendonly"
    assert steps["y"].count(None) == 2
    assert len(steps["y"]) == 2 * 102


def test_of_many_steps_evenly_spaced_ones_are_drawn(curves):
    """A long treadmill walk does not swell the page, and the trace says how many it shows."""
    many = np.tile(PERCENT, (120, 1)) + np.arange(120)[:, None]
    drawn = draw_curve_panel(curves, STYLES, toe_off_percent={}, steps={"brace": many})
    (steps,) = [trace for trace in drawn["data"] if trace.get("meta") == STEPS]
    assert steps["y"].count(None) == 50
    assert "50 of 120" in steps["name"]
    assert (steps["y"][0], steps["y"][-2]) == (0.0, 219.0)


def test_stance_ends_at_the_earliest_toe_off_of_the_conditions_shown(figure):
    """Each condition has its own line; a condition that is not shown has none."""
    shapes = {shape["name"]: shape for shape in figure["layout"]["shapes"]}
    assert shapes["stance"]["x1"] == 62.0
    assert shapes["toe-off, brace"]["x0"] == 64.0
    assert "toe-off, elsewhere" not in shapes
    assert (shapes["brace differs"]["x0"], shapes["brace differs"]["x1"]) == (60.0, 85.0)


def test_reference_is_dashed_vermillion_and_brace_solid_blue(figure):
    """Conditions differ in colour and in line."""
    lines = {t["name"]: t["line"] for t in figure["data"] if t["name"] in ("shoe", "brace")}
    assert (lines["shoe"]["color"], lines["shoe"]["dash"]) == ("#D55E00", "dash")
    assert (lines["brace"]["color"], lines["brace"]["dash"]) == ("#0072B2", "solid")


def test_a_condition_keeps_its_colour_where_another_has_no_curve(curves):
    """Of three conditions one has no ankle here."""
    styles = condition_styles(["shoe", "other brace", "brace"], "shoe")
    for drawn in (
        draw_curve_panel(curves, styles),
        draw_difference_panel(curves, styles, reference="shoe"),
    ):
        lines = {trace["name"]: trace["line"] for trace in drawn["data"]}
        assert lines["brace"]["color"] == OTHER_STYLES[1].colour


def test_difference_is_that_of_the_means_with_the_stretches_shaded(curves):
    """Point by point; in degrees."""
    figure = draw_difference_panel(curves, STYLES, reference="shoe")
    go.Figure(figure)
    (trace,) = figure["data"]
    expected = curves.bands["brace"].mean - curves.bands["shoe"].mean
    assert trace["y"] == pytest.approx(expected, abs=0.01)
    (box,) = figure["layout"]["shapes"]
    assert (box["x0"], box["x1"]) == (60.0, 85.0)
    assert figure["layout"]["yaxis"]["title"]["text"] == "Difference (°)"


def test_curves_that_must_not_be_compared_have_no_difference(curves):
    """Angles of two origins, for example."""
    apart = Location((), float("nan"), float("nan"), Reason(NOT_COMPARABLE, reason=ORIGINS))
    other = CurveComparison("left", "ankle", curves.bands, {"brace": apart})
    assert draw_difference_panel(other, STYLES, reference="shoe") is None
