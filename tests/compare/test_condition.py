"""Promises of the description of a condition."""

import tomllib
from pathlib import Path

import pytest

from gaittrack.compare.fair.condition import (
    Condition,
    parse_conditions,
    read_conditions,
)
from gaittrack.errors import LayoutError
from gaittrack.record.registry import CONDITION
from gaittrack.record.wording import NOT_RECORDED, full_label, value_words

SAMPLES = sorted((Path(__file__).parents[2] / "sample_trials").glob("P*/*/conditions.toml"))
TEXT = """
[conditions.shoe]
walking_aid = "none"
[conditions.brace]
order = 2
markers_replaced = false
orthosis = "ankle-foot orthosis"
orthosis_side = "left"
days_worn = 30
footwear = "walking shoe"
heel_height_mm = 25
fore_sole_height_mm = 12
"""


def _read(tmp_path, text):
    path = tmp_path / "conditions.toml"
    path.write_text(text, encoding="utf-8")
    return read_conditions(path)


def test_file_gives_every_condition_with_what_it_says(tmp_path):
    """Both tables; integers where numbers are asked."""
    found = _read(tmp_path, TEXT)
    assert list(found) == ["shoe", "brace"]
    assert found["brace"].is_braced and found["shoe"].is_braced is None
    assert found["brace"].days_worn == 30


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: "-".join(path.parts[-3:-1]))
def test_made_up_sample_files_are_read(path):
    """One condition without an orthosis, the others with one, whatever else the file holds."""
    found = read_conditions(path)
    assert [each.is_braced for each in found.values()].count(False) == 1
    assert all(each.is_braced for name, each in found.items() if name != "without-brace")


def test_there_are_sample_files():
    """Else the test above would pass on nothing."""
    assert len(SAMPLES) == 13


def test_heel_sole_differential_is_computed(tmp_path):
    """25 less 12 is 13 mm."""
    assert _read(tmp_path, TEXT)["brace"].heel_sole_differential_mm == 13


def test_contradicting_differential_is_refused(tmp_path):
    """The message gives all three numbers."""
    with pytest.raises(LayoutError, match="is 20, but heel 25 less fore-sole 12 is 13"):
        _read(tmp_path, TEXT + "heel_sole_differential_mm = 20\n")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[conditions.a]\nshoe = 1", "Unknown: shoe.*Allowed are: .*footwear.*walking_aid"),
        ("[conditons.a]", "Unknown: conditons.*Allowed are: .*conditions"),
        ("[conditions.a]\nname = 'x'", "Unknown: name"),
        ("[conditions.a]\norder = 'first'", "order is 'first'.*a whole number"),
        ("[conditions.a]\nmarkers_replaced = 1", "true or false"),
        ("[conditions.a]\nwalking_aid = true", "text in quotes"),
        ("[conditions.a]\northosis_mass_g = '95 g'", "a number"),
        ("[conditions]\na = 1", "A table was expected"),
        ("[conditions.a]\northosis_side = 'L'", "left, right, both"),
        ("[conditions.a]\northosis_stiffness_n_m_per_deg = 120", "0.01 to 10 N.m/deg"),
        (
            "[conditions.a]\northosis = 'none'\northosis_class = 'solid'",
            "yet it has orthosis_class",
        ),
        ("[conditions", "cannot be read"),
    ],
)
def test_what_is_wrong_is_said_with_what_is_allowed(tmp_path, text, words):
    """Where, what, what to do."""
    with pytest.raises(LayoutError, match=f"(?s)conditions.toml.*{words}"):
        _read(tmp_path, text)


def described(condition):
    """Return every fact of a condition by its full label, in words."""
    return {full_label(fact): value_words(condition.facts.get(n)) for n, fact in CONDITION.items()}


def test_absence_is_shown():
    """Nothing is invented for a condition of which only the name is known."""
    rows = described(Condition("brace"))
    assert len(rows) > 50 and set(rows.values()) == {NOT_RECORDED}


def test_what_is_recorded_is_said():
    """Yes, no, numbers without needless decimals."""
    rows = described(Condition("a", orthosis_tuned=True, order=2, heel_height_mm=25.0))
    found = [
        rows[key]
        for key in ("orthosis and shoe tuned", "place in the order of the day", "heel height (mm)")
    ]
    assert found == ["yes", "2", "25"]


def test_braced_and_barefoot_are_known_only_when_said():
    """None, true, false."""
    shoes = (None, "Barefoot", "shoe", "other", "barfuß", "never barefoot")
    worn = [Condition("a", footwear=shoe) for shoe in shoes]
    assert [each.is_barefoot for each in worn] == [None, True, False, False, None, None]
    braces = (None, "None", "ankle-foot orthosis", "other", "ohne", "ankle-foot orthosis, no hinge")
    worn = [Condition("a", orthosis=brace) for brace in braces]
    assert [each.is_braced for each in worn] == [None, False, True, True, None, None]
    assert Condition("c", orthosis_class="solid").is_braced


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("markers_put_on_again = 'foot, knee'", "one of: foot, shank, thigh, pelvis"),
        ("markers_replaced = false\nmarkers_put_on_again = 'foot'", "Correct one of the two"),
    ],
)
def test_markers_that_contradict_or_are_none_are_refused(lines, words):
    """A wrong word would make the error smaller than it is."""
    table = tomllib.loads(f"[conditions.a]\n{lines}")
    with pytest.raises(LayoutError, match=words):
        parse_conditions(table, where="it")


def test_which_markers_were_put_on_again_is_none_only_where_it_is_said():
    """Not recorded, or only that some were, is not none."""
    for told, groups in (
        ({"markers_replaced": False}, ()),
        ({"markers_replaced": True}, None),
        ({}, None),
        ({"markers_put_on_again": "shank,foot"}, ("foot", "shank")),
    ):
        assert Condition("a", **told).groups_put_on_again == groups
