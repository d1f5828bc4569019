"""Styles tell conditions apart without colour too."""

from gaittrack.figures.condition_styles import condition_styles


def test_five_conditions_have_five_colours_and_five_lines():
    """Wherever the reference stands in the list, it keeps its own style."""
    styles = condition_styles(["a", "shoe", "b", "c", "d"], "shoe")
    assert len({style.colour for style in styles.values()}) == 5
    assert len({style.dash for style in styles.values()}) == 5
    assert styles["shoe"].colour == "#D55E00"


def test_clear_colour_keeps_its_hue():
    """``#0072B2`` is 0, 114, 178."""
    assert condition_styles(["x"], "shoe")["x"].clear(0.5) == "rgba(0,114,178,0.5)"
