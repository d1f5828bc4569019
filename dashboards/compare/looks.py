"""What the callbacks of Compare share: what was picked, compared and measured last.

In come a choice and what was picked, from the browser, out comes the comparison that is shown.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, Final

from dash import Output, State

from dashboards.compare import which_conditions
from dashboards.parts import ids
from dashboards.parts.last_comparisons import CompareMemory
from dashboards.walks.measured_walks import WalkMemory
from gaittrack.answer import Answer, answers
from gaittrack.cohort.kept.visit_answer import kept_answer
from gaittrack.errors import StudyError
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.study.people.facts import facts_of_conditions
from gaittrack.study.results.comparing import StoredComparison, StoredCondition, conditions_of
from gaittrack.study.results.first_choice import ComparisonChoice
from gaittrack.study.store import Study

BODY, PICKED = "compare-body", "compare-picked"
CHOICE: Final = (State(ids.CHOICE, "data"), State(PICKED, "data"))
WORKING: Final = [(Output(BODY, "className"), "at-work", "")]
"""While a callback takes a moment: its button is not pressed again."""


class Looks:
    """The study, and what was compared and measured last."""

    def __init__(self, study: Study) -> None:
        self.study = study
        self.comparisons = CompareMemory()
        self.walks = WalkMemory()

    def compared(self, choice: Any, picked: Any) -> StoredComparison:
        """Return the comparison that is shown; numbers from the browser are checked again.

        Raises
        ------
        StudyError
            It is not of the chosen person, or no longer there.
        """
        person, wanted = (choice or {}).get("person"), picked or {}
        if person is None or wanted.get("person") != person:
            raise StudyError.of("nothing_compared_yet", where="Compare")
        conditions = conditions_of(self.study, person)
        numbers = [str(each) for each in wanted.get("conditions", [])]
        chosen = which_conditions.chosen(conditions, numbers, str(wanted.get("reference")))
        if chosen is None:
            raise StudyError.of("compared_is_gone", where="Compare")
        return self.comparisons.compared(self.study, chosen)

    def told(
        self, conditions: Sequence[StoredCondition], choice: ComparisonChoice
    ) -> tuple[StoredComparison, Sequence[Answer]]:
        """Return a comparison with its answers; without its rows where the answers are kept."""
        kept = kept_answer(self.study, conditions, choice)
        if kept is not None:
            return kept.found, kept.told
        found = self.comparisons.compared(self.study, choice)
        return found, answers(found.comparison)

    def visits(self, conditions: Collection[int]) -> Sequence[VisitFacts]:
        """Return what was found at the visits of conditions."""
        about = facts_of_conditions(self.study, conditions)
        return about.visits if about else ()
