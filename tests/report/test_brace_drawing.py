"""A brace is drawn as it is recorded: its angle, its stops, and nothing that nobody wrote down."""

import math
import re

import pytest

from gaittrack.report.brace_drawing import brace_html

LEAF = {"orthosis_class": "dorsal-leaf", "orthosis_ankle_angle_deg": 0.0}


def lean_of(path):
    """Return how far a straight line leans forward, upwards from its first place."""
    x0, y0, x1, y1 = (float(each) for each in re.findall(r"-?\d+\.?\d*", path))
    return math.degrees(math.atan2(x1 - x0, y0 - y1))


def test_stops_turn_by_their_angles_whatever_the_brace_holds():
    """Dorsiflexion leans the shank forward; each stop is a dashed line and in words."""
    stops = {"orthosis_plantar_stop_deg": -5.0, "orthosis_dorsi_stop_deg": 15.0}
    drawn = brace_html({**LEAF, **stops, "orthosis_ankle_angle_deg": 3.0}, "B1/a")
    lines = re.findall(r'class="level" d="([^"]+)"', drawn)
    assert [lean_of(line) for line in lines] == pytest.approx([-5, 15], abs=0.2)
    assert "(°): 3;" in drawn and "stop (°): -5;" in drawn and "Dashed: the stops." in drawn


def test_what_is_not_recorded_or_has_no_drawing_is_not_drawn():
    """No facts, no picture; a shell in front of the leg is not drawn as a leaf behind it."""
    assert brace_html({"orthosis_mass_g": 95.0}, "B1/a") == ""
    front = brace_html({"orthosis_class": "ground-reaction"}, "B1/a")
    assert "leaf" in brace_html(LEAF, "B1") and 'class="leaf' not in front
    assert "drawn upright" in front and "Dashed" not in front
    assert brace_html(LEAF, "B1") != brace_html({**LEAF, "orthosis_ankle_angle_deg": 9.0}, "B1")
    assert "<script>" not in brace_html(LEAF, "<script>")
