"""What the brace did at each visit of a person: one answer per visit.

In comes a person of a study, out come the visits in the order of time, each with the comparison of
its fair pair and the answer of that; a visit with one condition has neither.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gaittrack.answer import Answer, answers
from gaittrack.errors import ComparisonError, StudyError
from gaittrack.study.people.facts import PersonFacts, VisitFacts
from gaittrack.study.results.comparing import StoredComparison, conditions_of
from gaittrack.study.results.first_choice import ComparisonChoice, first_choice
from gaittrack.study.store import Study


@dataclass(frozen=True, eq=False, slots=True)
class VisitAnswer:
    """One visit.

    Attributes
    ----------
    n_walks : dict of str to int
        Measured walks of each condition.
    found, answer : StoredComparison, Answer or None
        Of the first condition against the reference; None with fewer than two conditions.
    others : tuple of Answer
        Of further conditions, as with a second brace.
    why : str
        Why its conditions could not be compared; one such visit costs no other.
    """

    visit: VisitFacts
    n_walks: dict[str, int]
    found: StoredComparison | None
    answer: Answer | None
    others: tuple[Answer, ...] = ()
    why: str = ""


def visit_answers(
    study: Study,
    person: PersonFacts,
    compared: Callable[[Study, ComparisonChoice], StoredComparison],
) -> list[VisitAnswer]:
    """Return every visit of a person with its answer.

    Parameters
    ----------
    compared : callable
        Compares the conditions of a choice, or remembers it.
    """
    conditions = conditions_of(study, person.id)
    told = []
    for visit in person.visits:
        own = [each for each in conditions if each.visit_id == visit.id]
        walked = {each.code: each.n_walks for each in own if each.n_walks}
        choice = first_choice(own, visits={visit.id}) if len(walked) > 1 else None
        try:
            found = compared(study, choice) if choice is not None else None
        except (ComparisonError, StudyError) as error:
            told.append(VisitAnswer(visit, walked, None, None, why=str(error)))
            continue
        given = answers(found.comparison) if found is not None else [None]
        others = tuple(each for each in given[1:] if each is not None)
        told.append(VisitAnswer(visit, walked, found, given[0], others))
    return told
