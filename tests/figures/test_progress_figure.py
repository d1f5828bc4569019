"""The progress figure shows each visit at its time, with its interval and the first one's error."""

import math
from dataclasses import replace

import plotly.graph_objects as go
import pytest

from gaittrack.figures.progress import BAND, draw_progress, time_axis
from gaittrack.study.people.worn_changes import WornChange
from gaittrack.study.results.over_visits import Progress, VisitMark

NAN = math.nan
DAYS = {"v1": 0.0, "v2": 30.44, "v3": 121.76}
VISITS = [VisitMark(name, n, day) for n, (name, day) in enumerate(DAYS.items(), 1)]


def row(visit, value, *, condition="bare", difference=NAN, measurement_error=NAN, half=1.0):
    """Make one row of peak swing dorsiflexion, left."""
    return Progress(
        measure="peak_swing_dorsiflexion_deg",
        unit="deg",
        side="left",
        condition=condition,
        visit=visit,
        days_since_first_visit=DAYS[visit],
        n_walks=3,
        n_strides=12,
        value=value,
        value_low=value - half,
        value_high=value + half,
        difference=difference,
        low=NAN,
        high=NAN,
        measurement_error=measurement_error,
        measurement_error_source=None,
        verdict="not_shown",
        reason=None,
    )


ROWS = [
    row("v1", 2.0),
    row("v2", 3.0, difference=1.0, measurement_error=6.0),
    row("v3", 9.0, difference=7.0, measurement_error=5.0),
]


def line_of(figure, name="bare"):
    return next(t for t in figure["data"] if t["name"] == name)


def test_visits_stand_at_their_months():
    """More than three months: months, to scale."""
    axis = time_axis(VISITS)
    assert list(axis.places.values()) == pytest.approx([0, 1, 4])
    assert "months" in axis.title and axis.note == ""
    figure = draw_progress(ROWS, axis, reference="bare")
    assert line_of(figure)["x"] == pytest.approx([0, 1, 4])
    assert figure["layout"]["xaxis"]["ticktext"] == ["v1<br>0.0", "v2<br>1.0", "v3<br>4.0"]


def test_a_short_span_is_shown_in_days():
    """Weeks apart, months would all be near 0."""
    axis = time_axis([VisitMark("a", 1, 0.0), VisitMark("b", 2, 42.0)])
    assert axis.places == {"a": 0.0, "b": 42.0} and "days" in axis.title


def test_visits_without_a_day_stand_in_their_order_and_say_so():
    """One missing day is enough: a made-up distance would be read as time."""
    axis = time_axis([*VISITS[:2], VisitMark("v3", 3, NAN)])
    assert list(axis.places.values()) == [0.0, 1.0, 2.0]
    assert "their order" in axis.note and "month" not in axis.title


def test_each_point_has_its_interval():
    """And none where there is none."""
    rows = [ROWS[0], row("v2", 3.0, half=NAN)]
    line = line_of(draw_progress(rows, time_axis(VISITS), reference="bare"))
    assert line["error_y"]["array"] == [1.0, None]
    assert line["error_y"]["arrayminus"] == [1.0, None]


def test_a_value_that_is_not_defined_is_a_gap():
    """Never a zero, never a straight line over it."""
    rows = [ROWS[0], row("v2", NAN), ROWS[2]]
    assert line_of(draw_progress(rows, time_axis(VISITS), reference="bare"))["y"] == [
        2.0,
        None,
        9.0,
    ]


def test_the_band_is_the_measurement_error_around_the_first_visit():
    """First value plus and minus the error of each later visit."""
    figure = draw_progress(ROWS, time_axis(VISITS), reference="bare")
    (band,) = [trace for trace in figure["data"] if trace.get("meta") == BAND]
    assert band["y"] == [8.0, 8.0, 7.0, -3.0, -4.0, -4.0]
    assert band["x"] == pytest.approx([0, 1, 4, 4, 1, 0])
    no_error = [row("v1", 2.0), row("v2", 3.0, difference=1.0)]
    without = draw_progress(no_error, time_axis(VISITS), reference="bare")
    assert not any(trace.get("meta") == BAND for trace in without["data"])


def test_changes_of_brace_and_shoe_are_named_marks():
    """At the visit where they were seen; those of a condition that is not drawn are left out."""
    changes = [
        WornChange("v2", "bare", "footwear", "x"),
        WornChange("v2", "bare", "brace", "y"),
        WornChange("v3", "other", "brace", "z"),
    ]
    figure = draw_progress(ROWS, time_axis(VISITS), reference="bare", changes=changes)
    (mark,) = figure["layout"]["shapes"]
    assert (mark["x0"], mark["label"]["text"]) == (pytest.approx(1.0), "footwear, brace")


def test_conditions_differ_in_colour_and_line_and_do_not_cover_each_other():
    """The reference as everywhere else; a little apart in time."""
    rows = [*ROWS, *(row(visit, 5.0, condition="brace") for visit in DAYS)]
    figure = draw_progress(rows, time_axis(VISITS), reference="bare")
    bare, brace = line_of(figure), line_of(figure, "brace")
    assert (bare["line"]["color"], bare["line"]["dash"]) == ("#D55E00", "dash")
    assert (brace["line"]["color"], brace["line"]["dash"]) == ("#0072B2", "solid")
    assert all(0 < b - a < 0.1 for a, b in zip(bare["x"], brace["x"], strict=True))
    go.Figure(figure)


def test_rows_of_two_sides_are_refused():
    """A line through both legs would be nobody's."""
    with pytest.raises(ValueError, match="one measure and side"):
        other = replace(ROWS[1], side="right")
        draw_progress([ROWS[0], other], time_axis(VISITS), reference="bare")
