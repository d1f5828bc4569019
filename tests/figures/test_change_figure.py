"""The change plot shows difference, interval and measurement error of each row."""

from dataclasses import replace

import plotly.graph_objects as go
import pytest

from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.verdict import NOT_COMPARABLE
from gaittrack.figures.change import draw_changes
from gaittrack.figures.condition_styles import OTHER_STYLES, condition_styles
from tests.compare.made_up_walks import CLEARANCE, SWING, row_of, walks

STYLES = condition_styles(["shoe", "brace"], "shoe")


@pytest.fixture(scope="module")
def comparison():
    """Give a comparison with one measure raised by 8 and one that stays."""
    return compare_walks(
        [*walks("shoe", {SWING: 0, CLEARANCE: 12}), *walks("brace", {SWING: 8, CLEARANCE: 12})],
        reference="shoe",
    )


def test_row_is_drawn_where_its_numbers_are(comparison):
    """Point, bars and band in units of the row's error; the label in the measure's own unit."""
    row = row_of(comparison, SWING)
    figure = draw_changes([row], STYLES)
    go.Figure(figure)
    (trace,) = figure["data"]
    assert trace["x"] == [pytest.approx(row.difference / row.measurement_error, abs=1e-3)]
    high = (trace["x"][0] + trace["error_x"]["array"][0]) * row.measurement_error
    low = (trace["x"][0] - trace["error_x"]["arrayminus"][0]) * row.measurement_error
    assert (low, high) == (pytest.approx(row.low, abs=1e-2), pytest.approx(row.high, abs=1e-2))
    (box,) = figure["layout"]["shapes"]
    assert (box["x0"], box["x1"]) == (-1, 1)
    (name,) = figure["layout"]["yaxis"]["ticktext"]
    assert f"left: {row.difference:+.1f} deg" in name
    assert figure["layout"]["yaxis"]["tickvals"] == trace["y"]


def test_measures_of_all_units_share_the_axis(comparison):
    """Each divided by its own error; a row without a known error is not drawn."""
    rows = [row_of(comparison, SWING), row_of(comparison, CLEARANCE)]
    drawn = draw_changes(
        [*rows, replace(rows[0], side="right", measurement_error=float("nan"))], STYLES
    )
    (trace,) = drawn["data"]
    assert trace["x"] == [
        pytest.approx(row.difference / row.measurement_error, abs=1e-3) for row in rows
    ]
    assert [
        " deg" in drawn["layout"]["yaxis"]["ticktext"][0],
        " mm" in drawn["layout"]["yaxis"]["ticktext"][1],
    ] == [True, True]


def test_missing_interval_has_no_bar():
    """One walk per condition: a point alone."""
    one = compare_walks(
        [*walks("shoe", {SWING: 0}, n=1), *walks("brace", {SWING: 8}, n=1)], reference="shoe"
    )
    (trace,) = draw_changes([row_of(one, SWING)], STYLES)["data"]
    assert trace["error_x"]["array"] == [None]


def test_what_is_not_comparable_is_not_drawn(comparison):
    """No point beside the band of error for a difference that may not be judged by it."""
    row = row_of(comparison, SWING)
    other = replace(row, side="right", verdict=NOT_COMPARABLE)
    figure = draw_changes([row, other], STYLES)
    assert len(figure["data"][0]["x"]) == 1
    assert "left" in figure["layout"]["yaxis"]["ticktext"][0]


def test_a_condition_keeps_its_colour_and_name_where_another_is_not_drawn(comparison):
    """Of three conditions only the third has a row here; it is named, in its own colour."""
    styles = condition_styles(["shoe", "other brace", "brace"], "shoe")
    figure = draw_changes([row_of(comparison, SWING)], styles)
    assert figure["data"][0]["marker"]["color"] == OTHER_STYLES[1].colour
    assert ", brace: " in figure["layout"]["yaxis"]["ticktext"][0]
    assert figure["layout"]["showlegend"]
