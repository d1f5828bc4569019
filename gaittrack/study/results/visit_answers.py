"""What the brace did at each visit of a person: one answer per visit.

In comes a person of a study, out come the answers of each visit's fair pair, compared from what is
stored; and with them the visits in the order of time. A visit with one condition has no answer.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from gaittrack.answer import Answer, answers
from gaittrack.compare.fair.condition import Condition
from gaittrack.errors import ComparisonError, StudyError
from gaittrack.record.visit_facts import PersonFacts, VisitFacts
from gaittrack.study.results.comparing import (
    StoredComparison,
    StoredCondition,
    compare_stored,
    conditions_of,
)
from gaittrack.study.results.first_choice import first_choice
from gaittrack.study.store import Study

Given = tuple[Answer, ...] | str
"""The answer of each condition against the reference, or why they could not be compared."""


@dataclass(frozen=True, eq=False, slots=True)
class VisitAnswer:
    """One visit.

    Attributes
    ----------
    n_walks : dict of str to int
        Measured walks of each condition.
    answer : Answer or None
        Of the first condition against the reference; None with fewer than two conditions.
    others : tuple of Answer
        Of further conditions, as with a second brace.
    why : str
        Why its conditions could not be compared; one such visit costs no other.
    worn : mapping of str to Condition
        What was worn in each condition.
    """

    visit: VisitFacts
    n_walks: dict[str, int]
    answer: Answer | None
    others: tuple[Answer, ...] = ()
    why: str = ""
    worn: Mapping[str, Condition] = field(default_factory=dict)


def compared_visits(study: Study, person_id: int) -> dict[str, StoredComparison | str]:
    """Compare each visit of a person that has two conditions, or return why it cannot be, by visit.

    Parameters
    ----------
    person_id : int
        Row number.
    """
    return {
        own[0].visit: _compared(study, own)
        for own in _by_visit(conditions_of(study, person_id)).values()
        if sum(each.n_walks > 0 for each in own) > 1
    }


def compared_answers(study: Study, person_id: int) -> dict[str, Given]:
    """Compare as :func:`compared_visits`; return what is given."""
    return {visit: given_by(found) for visit, found in compared_visits(study, person_id).items()}


def given_by(found: StoredComparison | str) -> Given:
    """Return what the comparison of a visit gives."""
    return found if isinstance(found, str) else tuple(answers(found.comparison))


def visit_answers(
    study: Study, person: PersonFacts, given: Mapping[str, Given]
) -> list[VisitAnswer]:
    """Return every visit of a person with its answer.

    Parameters
    ----------
    given : mapping of visit to Given
        As :func:`compared_answers` has it, now or when it was kept.
    """
    by_visit = _by_visit(conditions_of(study, person.id))
    return list(_told(person, by_visit, given))


def _told(
    person: PersonFacts,
    by_visit: Mapping[int, list[StoredCondition]],
    given: Mapping[str, Given],
) -> Iterator[VisitAnswer]:
    for visit in person.visits:
        own = [each for each in by_visit.get(visit.id, ()) if each.n_walks]
        walked = {each.code: each.n_walks for each in own}
        worn = {each.code: each.worn for each in own}
        found = given.get(visit.code, ())
        if isinstance(found, str):
            yield VisitAnswer(visit, walked, None, why=found, worn=worn)
        else:
            yield VisitAnswer(visit, walked, next(iter(found), None), found[1:], worn=worn)


def _by_visit(conditions: list[StoredCondition]) -> dict[int, list[StoredCondition]]:
    found: dict[int, list[StoredCondition]] = {}
    for each in conditions:
        found.setdefault(each.visit_id, []).append(each)
    return found


def _compared(study: Study, own: list[StoredCondition]) -> StoredComparison | str:
    choice = first_choice(own, visits={own[0].visit_id})
    if choice is None:
        return ""
    try:
        return compare_stored(
            study, choice.conditions, reference=choice.reference, with_curves=False
        )
    except (ComparisonError, StudyError) as error:
        return str(error)
