"""Compare: what is offered, what is kept in memory, and what a browser may not ask for."""

import json
import re
import shutil
from html import unescape

import pytest
from sqlalchemy import delete, select, update

from dashboards.compare.comparison_parts import answered
from dashboards.compare.looks import Looks
from dashboards.compare.strides_of_row import strides
from dashboards.compare.which_conditions import chosen, offered, starting_choice
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import still
from gaittrack.answer import answers
from gaittrack.cohort.kept.visit_answer import kept_answer
from gaittrack.compare.fair.condition import Condition
from gaittrack.errors import StudyError
from gaittrack.study.people.facts import facts_of_conditions
from gaittrack.study.results.compared_trials import compared_trials
from gaittrack.study.results.comparing import StoredCondition, compare_stored, conditions_of
from gaittrack.study.results.first_choice import ComparisonChoice, first_choice
from gaittrack.study.store import open_study
from gaittrack.study.tables import CONDITION, KEPT_CHANGES, PERSON, RESULT
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


def _pairs(study):
    """Return the conditions of each person with the pair of each of their visits."""
    for person in (1, 2):
        conditions = conditions_of(study, person)
        for visit in dict.fromkeys(each.visit_id for each in conditions):
            yield conditions, first_choice(conditions, visits={visit})


def _shown(study, choice, found, told):
    visits = facts_of_conditions(study, choice.conditions).visits
    trials = compared_trials(study, found)
    return str(still(answered(found, told, trials, visits, may_export=True)))


def test_an_answer_that_is_kept_is_shown_as_if_compared_now(study):
    """Of each visit of each person: every word and number, without comparing."""
    shown = []
    for conditions, choice in _pairs(study):
        kept = kept_answer(study, conditions, choice)
        found = compare_stored(study, choice.conditions, reference=choice.reference, joints=())
        shown.append(_shown(study, choice, kept.found, kept.told))
        assert shown[-1] == _shown(study, choice, found, answers(found.comparison))
    assert len(set(shown)) == 4


def _change_cause(study, _walk):
    put_facts(study, PERSON, 1, cause="stroke")


def _change_brace(study, _walk):
    with study.write() as connection:
        wanted = CONDITION.c.id == conditions_of(study, 1)[-1].id
        said = json.loads(
            connection.execute(select(CONDITION.c.description).where(wanted)).scalar()
        )
        told = json.dumps(said | {"orthosis_class": "hinged"})
        connection.execute(update(CONDITION).where(wanted).values(description=told))


def _damage(study, walk):
    with study.write() as connection:
        wanted = RESULT.c.trial_id == walk
        numbers = connection.execute(select(RESULT.c.numbers).where(wanted)).scalar_one()
        connection.execute(update(RESULT).where(wanted).values(numbers=numbers[:-1] + b"x"))


def _measure_again(study, walk):
    with study.write() as connection:
        plant(connection, walk, refusal=REFUSED)


def _take_anothers(study, _walk):
    """Put what is kept of another person in the place of this one's."""
    with study.write() as connection:
        connection.execute(delete(KEPT_CHANGES).where(KEPT_CHANGES.c.person_id == 1))
        theirs = KEPT_CHANGES.c.person_id == 2
        connection.execute(update(KEPT_CHANGES).where(theirs).values(person_id=1))


@pytest.mark.parametrize(
    "act", [_change_cause, _change_brace, _damage, _measure_again, _take_anothers]
)
def test_what_is_kept_is_not_shown_after_a_change(study, act):
    """Of facts, of what was worn, of a result, by damage, or of whose it is."""
    conditions, choice = list(_pairs(study))[1]
    assert kept_answer(study, conditions, choice) is not None
    walks = compare_stored(study, choice.conditions, reference=choice.reference, joints=())
    act(study, next(iter(walks.trial_ids.values())))
    assert kept_answer(study, conditions_of(study, 1), choice) is None


def test_only_the_pair_of_a_visit_is_kept(study):
    """Turned round, or of two visits, it is compared."""
    (conditions, first), (_, second), *_ = _pairs(study)
    other = next(each for each in first.conditions if each != first.reference)
    turned = ComparisonChoice(first.conditions, other)
    both = ComparisonChoice((*first.conditions, *second.conditions), first.reference)
    for choice in (turned, both):
        assert kept_answer(study, conditions, choice) is None


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
        told = answers(found.comparison)
        parts = answered(found, told, compared_trials(study, found), (), may_export=True)
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
