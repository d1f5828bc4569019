"""Everyday outcomes of a person at each visit.

In comes a person of a study, out come the visits in the order of time, each with the outcomes of
its conditions against the fair reference of that day, walks or no walks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gaittrack.answer.outcomes import (
    NOTHING_WORN,
    Outcome,
    counted_outcomes,
    outcomes_of_pair,
)
from gaittrack.compare.fair.fair_pair import choose_reference
from gaittrack.record.registry import Fact
from gaittrack.record.visit_facts import PersonFacts, VisitFacts
from gaittrack.study.results.comparing import StoredCondition, conditions_of
from gaittrack.study.store import Study


@dataclass(frozen=True, slots=True)
class VisitOutcomes:
    """One visit.

    Attributes
    ----------
    outcomes : tuple of Outcome
        Of each condition against the reference; of a single one, against nothing.
    counted : tuple of (Fact, str)
        Of the visit, in words.
    """

    visit: VisitFacts
    outcomes: tuple[Outcome, ...]
    counted: tuple[tuple[Fact, str], ...]

    @property
    def is_told(self) -> bool:
        """Whether anything was recorded."""
        return bool(self.outcomes or self.counted)


def outcomes_over_visits(study: Study, person: PersonFacts) -> list[VisitOutcomes]:
    """Return every visit of a person with its outcomes."""
    conditions = conditions_of(study, person.id)
    cause = person.facts["cause"]
    return [
        VisitOutcomes(
            visit,
            tuple(_of_day([each for each in conditions if each.visit_id == visit.id], cause)),
            tuple(counted_outcomes(visit.facts)),
        )
        for visit in person.visits
    ]


def _of_day(day: Sequence[StoredCondition], cause: object) -> list[Outcome]:
    worn = [each.worn.known_as(each.code) for each in day]
    if len(worn) < 2:
        return [found for own in worn for found in outcomes_of_pair(own, NOTHING_WORN)]
    reference = worn.pop(choose_reference(worn))
    return [each for own in worn for each in outcomes_of_pair(own, reference, cause=cause)]
