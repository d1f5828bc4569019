"""Pictures of a cohort hold each person's own numbers and nothing that is not comparable."""

import pandas as pd
import plotly.graph_objects as go
import pytest

from gaittrack.compare.verdict import NO_CHANGE, NOT_COMPARABLE
from gaittrack.figures.cohort_changes import MOST_MARKERS, draw_everybodys_change, draw_pairs

NAMES = ("no-orthosis_shod", "orthosis_shod")


def changes():
    """Return three people: a fall, a rise, and one that is not comparable."""
    return pd.DataFrame(
        {
            "person": ["P01", "P02", "P03"],
            "measure_id": "peak_swing_dorsiflexion_deg",
            "unit": "deg",
            "reference_value": [4.0, -3.0, 1.0],
            "value": [3.0, 2.0, 9.0],
            "difference": [-1.0, 5.0, 8.0],
            "low": [-2.0, 3.5, 7.0],
            "high": [0.5, 6.5, 9.0],
            "measurement_error": [3.0, 3.0, 3.0],
            "verdict": [NO_CHANGE, NO_CHANGE, NOT_COMPARABLE],
        }
    )


def test_each_persons_pair_is_joined():
    """A line goes from the reference value to the condition's value of the same person."""
    figure = draw_pairs(changes(), names=NAMES)
    go.Figure(figure)
    lines = figure["data"][0]
    assert (lines["x"], lines["y"]) == ([0.25, 0.75, 0.75, 0.25], [4.0, 3.0, 2.0, -3.0])
    assert lines["text"] == ["P01", "P01", "P02", "P02"]
    boxes = [trace for trace in figure["data"] if trace["type"] == "box"]
    assert [(box["name"], box["y"]) for box in boxes] == [
        (NAMES[0], [4.0, -3.0]),
        (NAMES[1], [3.0, 2.0]),
    ]


def test_changes_stand_in_order_with_interval_and_error():
    """The lowest change stands first; the bars reach to the ends of its own interval."""
    figure = draw_everybodys_change(changes().iloc[::-1])
    go.Figure(figure)
    band, bars, points = figure["data"]
    assert (points["mode"], points["x"], points["y"]) == ("markers", [1, 2], [-1.0, 5.0])
    assert [text.split(":")[0] for text in points["text"]] == ["P01", "P02"]
    assert bars["x"][:5] == pytest.approx([0.996, 0.996, 1.004, 1.004, None])
    assert bars["y"] == [-2.0, 0.5, 0.5, -2.0, None, 3.5, 6.5, 6.5, 3.5, None]
    assert (max(band["y"]), min(band["y"])) == (3.0, -3.0)


def test_without_an_interval_there_is_no_bar():
    """The point alone; the next person's bar stands at its own place."""
    rows = changes().assign(low=[float("nan"), 3.5, 7.0], high=[float("nan"), 6.5, 9.0])
    _, bars, points = draw_everybodys_change(rows)["data"]
    assert bars["x"] == pytest.approx([1.996, 1.996, 2.004, 2.004, None])
    assert bars["y"] == [3.5, 6.5, 6.5, 3.5, None]
    assert points["y"] == [-1.0, 5.0]


def test_many_people_are_lines_that_still_say_whose_they_are():
    """No mark each: a thousand of them take seconds to draw; every value and name is there."""
    one, n_people = changes().iloc[:1], MOST_MARKERS + 1
    many = pd.concat([one.assign(person=f"N{n}", value=n) for n in range(n_people)])
    pairs, every = draw_pairs(many, names=NAMES), draw_everybodys_change(many)
    for figure in (pairs, every):
        go.Figure(figure)
        assert not any(trace.get("mode") == "markers" for trace in figure["data"])
    lines = pairs["data"][0]
    assert sorted(lines["y"]) == sorted([*range(n_people), *[4.0] * n_people])
    assert lines["text"][::2] == [f"N{n}" for n in range(n_people)]
    points = every["data"][-1]
    assert (len(points["y"]), points["mode"]) == (n_people, "lines")
    assert points["text"][0].startswith("N0:")


def test_rows_of_two_measures_are_refused():
    """Numbers of two measures never share an axis."""
    mixed = changes()
    mixed.loc[0, "measure_id"] = "minimum_toe_clearance_mm"
    with pytest.raises(ValueError, match="one measure_id"):
        draw_pairs(mixed, names=NAMES)
