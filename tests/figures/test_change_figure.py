"""The change plot shows difference, interval and measurement error of each row."""

from dataclasses import replace

import plotly.graph_objects as go
import pytest

from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.verdict import NOT_COMPARABLE
from gaittrack.figures.change import draw_changes
from tests.compare.made_up_walks import CLEARANCE, SWING, row_of, walks


@pytest.fixture(scope="module")
def comparison():
    """Give a comparison with one measure raised by 8 and one that stays."""
    return compare_walks(
        [*walks("shoe", {SWING: 0, CLEARANCE: 12}), *walks("brace", {SWING: 8, CLEARANCE: 12})],
        reference="shoe",
    )


def test_row_is_drawn_where_its_numbers_are(comparison):
    """Point at the difference, bars to the interval's ends, box to plus and minus the error."""
    row = row_of(comparison, SWING)
    figure = draw_changes([row])
    go.Figure(figure)
    (trace,) = figure["data"]
    assert trace["x"] == [pytest.approx(row.difference, abs=1e-3)]
    assert trace["x"][0] + trace["error_x"]["array"][0] == pytest.approx(row.high, abs=1e-3)
    assert trace["x"][0] - trace["error_x"]["arrayminus"][0] == pytest.approx(row.low, abs=1e-3)
    (box,) = figure["layout"]["shapes"]
    assert (box["x0"], box["x1"]) == (-row.floor, row.floor)
    assert "(deg)" in figure["layout"]["xaxis"]["title"]["text"]
    assert "4+4 walks" in figure["layout"]["yaxis"]["ticktext"][0]


def test_units_are_never_mixed(comparison):
    """Degrees and millimetres do not share an axis."""
    with pytest.raises(ValueError, match="one unit"):
        draw_changes([row_of(comparison, SWING), row_of(comparison, CLEARANCE)])


def test_missing_interval_has_no_bar():
    """One walk per condition: a point alone."""
    one = compare_walks(
        [*walks("shoe", {SWING: 0}, n=1), *walks("brace", {SWING: 8}, n=1)], reference="shoe"
    )
    (trace,) = draw_changes([row_of(one, SWING)])["data"]
    assert trace["error_x"]["array"] == [None]


def test_what_is_not_comparable_is_not_drawn(comparison):
    """No point beside the band of error for a difference that may not be judged by it."""
    row = row_of(comparison, SWING)
    other = replace(row, side="right", verdict=NOT_COMPARABLE)
    figure = draw_changes([row, other])
    assert len(figure["data"][0]["x"]) == len(figure["layout"]["shapes"]) == 1
    assert "left" in figure["layout"]["yaxis"]["ticktext"][0]
