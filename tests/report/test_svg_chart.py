"""Drawings put every value where it belongs and escape every label."""

import re
import xml.etree.ElementTree as ElementTree

import pytest

from gaittrack.report.svg_chart import draw_svg, frame_of, ticks

AXES = {
    "xaxis": {"title": {"text": "x (%)"}, "range": [0, 100]},
    "yaxis": {"title": {"text": "y (deg) <&>"}, "range": [-10, 10]},
}
LINE = {
    **{"type": "scatter", "mode": "lines", "name": "a <b>"},
    **{"x": [0, 50, None, 100], "y": [-10, 10, None, 0], "line": {"color": "#123456"}},
}


def test_line_runs_through_its_points_and_breaks_at_gaps():
    """The ends of the axes are the ends of the drawing area."""
    figure = {"data": [LINE], "layout": AXES}
    frame = frame_of(figure)
    first, second = re.findall(r'points="([^"]+)"', draw_svg(figure, label="t"))
    (x0, y0), (x1, y1) = (map(float, pair.split(",")) for pair in first.split())
    assert (x0, y0) == pytest.approx((frame.left, frame.top + frame.height))
    assert (x1, y1) == pytest.approx((frame.left + frame.width / 2, frame.top))
    assert second.count(",") == 1


def test_labels_are_escaped_and_the_drawing_is_well_formed():
    """A label with a tag in it stays text."""
    drawn = draw_svg({"data": [LINE], "layout": AXES}, label='"><script>')
    assert "<script>" not in drawn
    texts = [each.text for each in ElementTree.fromstring(drawn).iter() if each.text]
    assert {"y (deg) <&>", "a <b>"} <= set(texts)


def test_one_scale_makes_a_square_of_a_square():
    """With a scale anchor a unit is as long upwards as across."""
    layout = {**AXES, "yaxis": {**AXES["yaxis"], "range": [0, 40], "scaleanchor": "x"}}
    frame = frame_of({"data": [], "layout": layout})
    assert frame.x(30) - frame.x(10) == pytest.approx(frame.y(10) - frame.y(30), abs=0.05)


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [(0, 100, [0, 20, 40, 60, 80, 100]), (-7, 12, [-5, 0, 5, 10]), (0, 0.5, None)],
)
def test_ticks_are_round_and_inside(low, high, expected):
    """Steps of 1, 2 or 5 times a power of ten."""
    found = ticks(low, high)
    assert all(low - 1e-9 <= each <= high + 1e-9 for each in found)
    assert expected is None or found == pytest.approx(expected)
    assert 3 <= len(found) <= 8


def named(**more):
    """Make a figure of one line with a name."""
    return {"data": [{**LINE, "name": "with brace <i>", **more}], "layout": AXES}


def test_a_key_names_every_line_that_is_to_be_named_and_makes_room_for_them():
    """Below the drawing; the picture grows by as much."""
    plain, keyed = (
        ElementTree.fromstring(draw_svg(named(), label="t", with_key=key)) for key in (False, True)
    )
    heights = [float(root.attrib["viewBox"].split()[3]) for root in (plain, keyed)]
    (name,) = [
        each for each in keyed.iter() if each.tag.endswith("text") and each.text == "with brace <i>"
    ]
    assert heights[0] < float(name.attrib["y"]) < heights[1]
    hidden = draw_svg(named(showlegend=False), label="t", with_key=True)
    assert hidden.count("with brace") == 1  # the title of its line
