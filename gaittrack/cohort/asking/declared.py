"""Declared outcomes of a study: what was declared, by whom and when, and what became of each.

In come a study and a :class:`CohortView`, out come mean changes with p-values adjusted so that some
outcome is called changed by chance in at most 5 % of studies: the primary one by itself, the others
by Holm and only behind it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from scipy import stats

from gaittrack.cohort.asking.answering import CohortAnswer, answer_cohort
from gaittrack.cohort.asking.question import CohortQuestion
from gaittrack.cohort.asking.view import CohortView
from gaittrack.compare.intervals.holm import adjust
from gaittrack.compare.walked.declared_outcomes import DeclaredOutcomes
from gaittrack.study.history import entries
from gaittrack.study.laboratory import OUTCOMES, declared_outcomes_of
from gaittrack.study.store import Study


@dataclass(frozen=True, slots=True)
class Declaration:
    """What a study declares.

    Attributes
    ----------
    since, who : str
        Of the last change; empty where nothing is declared.
    n_changes : int
        How often it was set: more than once means that it was changed.
    """

    outcomes: DeclaredOutcomes
    since: str
    who: str
    n_changes: int


@dataclass(frozen=True, slots=True)
class OutcomeResult:
    """The mean change of one declared outcome.

    Attributes
    ----------
    p, adjusted_p : float
        Of a mean of 0 (t test over people), and over the family; NaN without an interval.
    """

    measure: str
    is_primary: bool
    n_people: int
    mean: float
    low: float
    high: float
    p: float
    adjusted_p: float


def declaration_of(study: Study) -> Declaration:
    """Return what a study declares, with when and by whom as its history has it."""
    with study.read() as connection:
        outcomes = declared_outcomes_of(connection)
        told = entries(connection, begins=f"set {OUTCOMES}")
    last = told[-1] if told and outcomes.primary else {"utc": "", "who": ""}
    return Declaration(outcomes, str(last["utc"]), str(last["who"]), len(told))


def declared_results(
    view: CohortView, question: CohortQuestion, declared: DeclaredOutcomes
) -> list[OutcomeResult]:
    """Return what became of each declared outcome, for the people and pair of a question."""
    if not declared.primary:
        return []
    names = (declared.primary, *declared.secondary)
    found = [_result(answer_cohort(view, replace(question, measure=name))) for name in names]
    return list(_adjusted(found))


def _result(answer: CohortAnswer) -> OutcomeResult:
    mean, low, high = answer.mean
    own = answer.differences.to_numpy(dtype=float)
    p = float(stats.ttest_1samp(own, 0).pvalue) if low == low else math.nan
    name = answer.question.measure
    return OutcomeResult(
        measure=name,
        is_primary=False,
        n_people=answer.n_people,
        mean=mean,
        low=low,
        high=high,
        p=p,
        adjusted_p=p,
    )


def _adjusted(found: list[OutcomeResult]) -> Iterator[OutcomeResult]:
    first, *others = found
    yield replace(first, is_primary=True)
    gate = 1.0 if math.isnan(first.p) else first.p
    held = adjust({each.measure: each.p for each in others})
    for each in others:
        own = held[each.measure]
        yield replace(each, adjusted_p=own if math.isnan(own) else max(gate, own))
