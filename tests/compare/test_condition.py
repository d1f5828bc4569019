"""Promises of the description of a condition."""

import pytest

from gaittrack.compare.condition import (
    NOT_RECORDED,
    Condition,
    describe_condition,
    read_conditions,
)
from gaittrack.errors import LayoutError

TEXT = """
[conditions.shoe]
aid = "none"
[conditions.brace]
order = 2
markers_replaced = false
[conditions.brace.orthosis]
side = "left"
days_worn = 30
[conditions.brace.footwear]
kind = "walking shoe"
heel_height_mm = 25
fore_sole_height_mm = 12
"""


def _read(tmp_path, text):
    path = tmp_path / "conditions.toml"
    path.write_text(text, encoding="utf-8")
    return read_conditions(path)


def test_file_gives_every_condition_with_what_it_says(tmp_path):
    """Both tables, nested parts, integers where numbers are asked."""
    found = _read(tmp_path, TEXT)
    assert list(found) == ["shoe", "brace"]
    assert found["brace"].is_braced and found["shoe"].is_braced is None
    assert found["brace"].orthosis.days_worn == 30


def test_heel_sole_differential_is_computed(tmp_path):
    """25 less 12 is 13 mm."""
    assert _read(tmp_path, TEXT)["brace"].footwear.heel_sole_differential_mm == 13


def test_contradicting_differential_is_refused(tmp_path):
    """The message gives all three numbers."""
    with pytest.raises(LayoutError, match="is 20, but heel 25 less fore-sole 12 is 13"):
        _read(tmp_path, TEXT + "heel_sole_differential_mm = 20\n")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[conditions.a]\nshoe = 1", "Unknown: shoe.*Allowed are: .*aid.*surface"),
        ("[conditions.a.orthosis]\ncolour = 1", "Unknown: colour.*Allowed are: .*ankle_angle_deg"),
        ("[conditons.a]", "Unknown: conditons.*Allowed are: conditions"),
        ("[conditions.a]\nname = 'x'", "Unknown: name"),
        ("[conditions.a]\norder = 'first'", "order is 'first'.*a whole number"),
        ("[conditions.a]\nmarkers_replaced = 1", "true or false"),
        ("[conditions.a]\naid = true", "text in quotes"),
        ("[conditions]\na = 1", "A table was expected"),
        ("[conditions.a.orthosis]\nside = 'L'", "left, right or both"),
        ("[conditions.a.orthosis]\nstiffness_n_m_per_deg = 120", "newton metres per degree"),
        ("[conditions.a]\nbraced = false\n[conditions.a.orthosis]\nside='left'", "Keep one"),
        ("[conditions", "cannot be read"),
    ],
)
def test_what_is_wrong_is_said_with_what_is_allowed(tmp_path, text, words):
    """Where, what, what to do."""
    with pytest.raises(LayoutError, match=f"(?s)conditions.toml.*{words}"):
        _read(tmp_path, text)


def test_absence_is_shown():
    """Nothing is invented for a condition of which only the name is known."""
    rows = describe_condition(Condition("brace"))
    assert rows and all(text == NOT_RECORDED for _, text in rows if _ != "footwear")


def test_barefoot_is_known_only_when_said(tmp_path):
    """None, true, false."""
    found = _read(
        tmp_path,
        "[conditions.a]\n[conditions.b.footwear]\nkind='Barefoot'\n"
        "[conditions.c.footwear]\nkind='shoe'",
    )
    assert [each.footwear.is_barefoot for each in found.values()] == [None, True, False]
