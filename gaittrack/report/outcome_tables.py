"""Everyday outcomes as tables for screens and pages: without, with, change, and what may be said.

In come outcomes of a comparison or of visits, out come cells and HTML.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from markupsafe import Markup

from gaittrack.answer.outcome_words import (
    change_words,
    error_words,
    outcome_title,
    repeats_interval_words,
    told_repeats,
    told_value,
    visit_outcome_words,
)
from gaittrack.answer.outcomes import Outcome, counted_outcomes, outcomes
from gaittrack.answer.sentences import CHIPS
from gaittrack.compare.comparison import Comparison
from gaittrack.compare.intervals.verdict import LARGER
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.record.published_errors import OUTCOMES
from gaittrack.record.registry import Fact
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.record.wording import NOT_RECORDED, fact_label
from gaittrack.report.html_parts import Cell, paragraph, table
from gaittrack.study.results.visit_outcomes import VisitOutcomes

EVERYDAY: Final = "Everyday"
OUTCOMES_READING: Final = (
    "Values are means of the repeats. No change is told without the same day, shoes and aid. A "
    "change is larger than measurement error where it passes what two tests of one person differ "
    "by in the people named, and the repeats agree; all outcomes of a pair are one family (Holm)."
)


def outcome_heads(found: Sequence[Outcome]) -> tuple[Cell, ...]:
    """Return the heads of a table of one pair of conditions."""
    first = found[0]
    return (
        Cell("Outcome"),
        Cell(first.reference.condition, kind="number"),
        Cell(first.own.condition, kind="number"),
        Cell("Change", kind="number"),
        Cell("Error", kind="number"),
        Cell("What may be said of it"),
    )


def outcome_cells(outcome: Outcome) -> list[Cell]:
    """Return one outcome, a cell per head of :func:`outcome_heads`."""
    past = "past" if outcome.verdict.code == LARGER else ""
    values = [
        Cell(told_value(each, outcome.decimals), told_repeats(each, outcome.fact), "number")
        for each in (outcome.reference, outcome.own)
    ]
    return [
        Cell(outcome_title(outcome), kind="full"),
        *values,
        Cell(with_minus(change_words(outcome)), kind=f"number {past}"),
        Cell(error_words(outcome), kind="number"),
        Cell(outcome.verdict.say(), with_minus(repeats_interval_words(outcome)), f"full {past}"),
    ]


def by_condition(found: Sequence[Outcome]) -> list[list[Outcome]]:
    """Return the outcomes of each condition against the reference."""
    names = dict.fromkeys(each.own.condition for each in found)
    return [[each for each in found if each.own.condition == name] for name in names]


def outcomes_html(comparison: Comparison, visits: Sequence[VisitFacts]) -> Markup:
    """Return what everyday tests and answers say of a comparison; empty where nothing does."""
    found = outcomes(comparison)
    tables = Markup().join(
        table(outcome_heads(own), map(outcome_cells, own)) for own in by_condition(found)
    )
    asked = Markup().join(paragraph(line) for line in visit_lines(visits))
    notes = paragraph(OUTCOMES_READING, kind="soft") if found else Markup()
    return tables + asked + notes


def everyday_lines(
    name: str, comparison: Comparison, visits: Sequence[VisitFacts]
) -> Iterator[str]:
    """Yield outcomes told of both conditions in a line each, the others and counts after them.

    Parameters
    ----------
    name : str
        What the comparison is called; empty where there is no other.
    """
    start = f"{name}, " if name else ""
    of_one = []
    for each in outcomes(comparison):
        title, before, here, change, error, said = (cell.text for cell in outcome_cells(each))
        if not each.is_of_both:
            of_one.append(f"{title} {told_value(each.known[0], each.decimals)}")
            continue
        size = f", {change}" + (f" (error {error})" if error else "") if change else ""
        yield f"{start}{title}: {before} → {here}{size}: {said}"
    if of_one:
        yield f"{start}in one condition alone: {'; '.join(of_one)}"
    yield from visit_lines(visits)


def visit_lines(visits: Sequence[VisitFacts]) -> Iterator[str]:
    """Yield what was counted or answered before each visit, in a line."""
    for visit in visits:
        if said := visit_outcome_words(counted_outcomes(visit.facts)):
            yield f"{visit.code}: {said}."


def over_visits(told: Sequence[VisitOutcomes]) -> tuple[list[str], list[list[Cell]]]:
    """Return the outcomes of a person over the visits.

    Returns
    -------
    list of str
        Heads: a column for each visit.
    list of list of Cell
        An outcome and what was told of it at each visit.
    """
    found = {(o.fact.name, o.own.condition) for each in told for o in each.outcomes}
    order = list(OUTCOMES)
    names = {name for _, name in found}
    lines = [
        _line(told, *key, is_one=len(names) == 1)
        for key in sorted(found, key=lambda key: (order.index(key[0]), key))
    ]
    counted = dict.fromkeys(fact for each in told for fact, _ in each.counted)
    return ["", *(each.visit.code for each in told)], [
        *lines,
        *(_counted(told, f) for f in counted),
    ]


def _line(told: Sequence[VisitOutcomes], name: str, condition: str, *, is_one: bool) -> list[Cell]:
    own = [
        next(
            (o for o in each.outcomes if (o.fact.name, o.own.condition) == (name, condition)), None
        )
        for each in told
    ]
    title = next(outcome_title(each) for each in own if each is not None)
    return [Cell(title, "" if is_one else condition), *map(_at_visit, own)]


def _at_visit(outcome: Outcome | None) -> Cell:
    """Return both values with the change; of one condition alone its value and its name."""
    if outcome is None:
        return Cell(NOT_RECORDED)
    values = " → ".join(told_value(each, outcome.decimals) for each in outcome.known)
    if not outcome.is_of_both:
        return Cell(values, outcome.known[0].condition)
    said = str(CHIPS[outcome.verdict.code])
    change = with_minus(change_words(outcome))
    return Cell(values, ": ".join(filter(None, (change, said))))


def _counted(told: Sequence[VisitOutcomes], fact: Fact) -> list[Cell]:
    return [
        Cell(fact_label(fact)),
        *(Cell(dict(each.counted).get(fact, NOT_RECORDED)) for each in told),
    ]
