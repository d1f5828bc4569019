"""Compare: what is offered, what is kept in memory, and what a browser may not ask for."""

import re
import shutil
from html import unescape

import pytest

from dashboards.compare.comparison_parts import answered
from dashboards.compare.screen import Looks
from dashboards.compare.strides_of_row import strides
from dashboards.compare.which_conditions import chosen, offered, starting_choice
from dashboards.parts.dash_private import Markup
from gaittrack.compare.fair.condition import Condition
from gaittrack.errors import StudyError
from gaittrack.study.results.compared_trials import compared_trials
from gaittrack.study.results.comparing import StoredCondition, compare_stored, conditions_of
from gaittrack.study.results.first_choice import ComparisonChoice, first_choice
from gaittrack.study.store import open_study
from gaittrack.study.tables import PERSON
from tests.planted_facts import put_facts
from tests.study.planted_results import plant

REFUSED = '{"code": "truncated_file", "text": "The file was cut.", "where": "x.c3d"}'


@pytest.fixture
def study(study_folder, tmp_path):
    """Give a copy of the study that may be changed."""
    folder = tmp_path / "study"
    shutil.copytree(study_folder, folder)
    opened = open_study(folder)
    yield opened
    opened.close()


def _one(number, visit, code, *, footwear="shoe", orthosis="none", n_walks=3):
    worn = Condition(code, orthosis=orthosis, footwear=footwear)
    return StoredCondition(number, visit, 1, f"visit-{visit}", code, worn, n_walks)


ROWS = [
    _one(1, 1, "bare", footwear="barefoot"),
    _one(2, 1, "shoe"),
    _one(3, 1, "brace", orthosis="ankle-foot orthosis"),
    _one(4, 2, "brace", orthosis="ankle-foot orthosis"),
    _one(5, 2, "later", n_walks=0),
]


def test_numbers_from_the_browser_are_checked_again():
    """Those of nobody, of a condition without walks, or words are passed over."""
    assert chosen(ROWS, ["1", "3", "99", "5", "x"], "3") == ComparisonChoice((1, 3), 3)
    assert chosen(ROWS, ["1", "2", "3"], "99") == ComparisonChoice((1, 2, 3), 2)
    assert chosen(ROWS, ["1", "5"], "1") is None
    assert chosen(ROWS, None, None) is None


def test_what_was_compared_last_comes_back_only_for_the_same_rows():
    """Else the visit of another screen, else the fair pair."""
    picked = {"conditions": [1, 3], "reference": 3}
    assert starting_choice(ROWS, picked, None) == ComparisonChoice((1, 3), 3)
    assert starting_choice(ROWS, {"conditions": [1, 77], "reference": 1}, None) == ComparisonChoice(
        (2, 3), 2
    )
    assert starting_choice(ROWS, None, 1) == ComparisonChoice((2, 3), 2)
    assert starting_choice(ROWS, None, 2) == ComparisonChoice((2, 3), 2)


def test_conditions_without_walks_are_not_offered():
    """In groups by visit, with the visit in the name where there are several."""
    (first,) = offered(ROWS, {1})
    assert [item["label"] for item in first["items"]] == ["bare", "shoe", "brace"]
    both = offered(ROWS, {1, 2})
    assert [item["label"] for item in both[1]["items"]] == ["brace, visit-2"]


def _picked(study, person=1):
    choice = first_choice(conditions_of(study, person))
    return {"person": person, "conditions": list(choice.conditions), "reference": choice.reference}


def test_a_comparison_is_kept_until_the_study_changes(study):
    """The same object; then another, with what is new."""
    looks, picked = Looks(study), _picked(study)
    first = looks.compared({"person": 1}, picked)
    assert looks.compared({"person": 1}, picked) is first
    put_facts(study, PERSON, 1, affected_side="both")
    again = looks.compared({"person": 1}, picked)
    assert again is not first
    assert again.comparison.settings["affected"] == "both"
    with study.write() as connection:
        plant(connection, next(iter(first.trial_ids.values())), refusal=REFUSED)
    assert len(looks.compared({"person": 1}, picked).records) == len(first.records) - 1


def test_another_persons_comparison_is_refused(study):
    """The chosen person decides; numbers of somebody else are never shown under their code."""
    looks = Looks(study)
    with pytest.raises(StudyError, match="Nothing of the chosen person"):
        looks.compared({"person": 2}, _picked(study))
    with pytest.raises(StudyError, match="no longer there"):
        looks.compared({"person": 2}, _picked(study) | {"person": 2})
    with pytest.raises(StudyError, match="Nothing of the chosen person"):
        looks.compared(None, None)


def _words(component):
    """Return every text in components, in order."""
    if isinstance(component, Markup):
        return [unescape(word) for word in re.split(r"<[^>]*>", component.html) if word]
    if isinstance(component, str | int | float):
        return [str(component)]
    if isinstance(component, list | tuple):
        return [word for each in component for word in _words(each)]
    children = getattr(component, "children", None)
    return [] if children is None else _words(children)


def test_stale_and_refused_recordings_are_named(study):
    """With the way to do something about them."""
    choice = first_choice(conditions_of(study, 1))
    number = next(
        iter(
            compare_stored(study, choice.conditions, reference=choice.reference).trial_ids.values()
        )
    )
    for values, said in (
        ({"software_version": "0.0"}, "stale (measured by version 0.0)"),
        ({"refusal": REFUSED}, "x.c3d: The file was cut."),
    ):
        with study.write() as connection:
            plant(connection, number, **values)
        found = compare_stored(study, choice.conditions, reference=choice.reference, joints=())
        parts = answered(found, compared_trials(study, found), (), may_export=True)
        shown = " ".join(_words(parts[:4]))
        assert said in shown
        assert "Look at this walk" in shown or "Measure them again" in shown


def test_every_stride_of_a_row_is_listed_with_its_value_or_its_reason(study):
    """As many as the row counts, in both conditions; those left out as well."""
    choice = first_choice(conditions_of(study, 2))
    found = compare_stored(study, choice.conditions, reference=choice.reference, joints=())
    trials = compared_trials(study, found)
    row = next(
        row
        for row in found.comparison.rows
        if (row.measure, row.side) == ("minimum_toe_clearance_mm", "right")
    )
    assert row.n_not_defined_reference > 0
    words = _words(strides(found, row, trials))
    tables = [record.tables[row.measure, row.side] for record in found.records]
    reasons = [str(reason) for one in tables for reason in one.reasons if reason]
    assert sum(word.split("; ")[0] in reasons for word in words) == len(reasons) > 0
    ids = [word for word in words if word.startswith("right-") and ":" not in word]
    counted = row.n_strides + row.n_strides_reference
    assert len(ids) == counted + row.n_not_defined + row.n_not_defined_reference
