"""Everyday outcomes as screens show them: of a comparison, and of a person over the visits.

In come a comparison or the visits of a person, out come components; where nothing is recorded,
none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import folded, table
from gaittrack.answer.outcome_words import source_words
from gaittrack.answer.outcomes import Outcome, outcomes
from gaittrack.compare.comparison import Comparison
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.report.html_parts import Cell
from gaittrack.report.outcome_tables import (
    EVERYDAY,
    OUTCOMES_READING,
    by_condition,
    outcome_cells,
    outcome_heads,
    over_visits,
    visit_lines,
)
from gaittrack.study.results.visit_outcomes import VisitOutcomes

_SAME: Final = "with the same shoes and aid on the same day, else no change is told"


def compared_outcomes(comparison: Comparison, visits: Sequence[VisitFacts]) -> Iterator[Component]:
    """Yield the outcomes of each condition against the reference, and what was counted."""
    found = outcomes(comparison)
    counted = [html.P(line) for line in visit_lines(visits)]
    if not found and not counted:
        return
    yield html.H2(EVERYDAY)
    tables = [_pair_table(own) for own in by_condition(found)]
    yield html.Section([*tables, *counted, *_sources(found)], className="card outcomes")


def _pair_table(own: Sequence[Outcome]) -> Component:
    heads = outcome_heads(own)
    numbers = [place for place, cell in enumerate(heads) if "number" in cell.kind]
    lines = [list(map(shown_cell, outcome_cells(each))) for each in own]
    caption = f"{own[0].own.condition} against {own[0].reference.condition}, {_SAME}"
    return table([cell.text for cell in heads], lines, caption=caption, numbers=numbers)


def outcomes_in_time(told: Sequence[VisitOutcomes]) -> Iterator[Component]:
    """Yield the outcomes of a person: a line each, a column for each visit."""
    if not any(each.is_told for each in told):
        return
    yield html.H2("Everyday, over the visits")
    heads, lines = over_visits(told)
    caption = "Of each day without → with what was worn, and the change of that day"
    shown = table(heads, [list(map(shown_cell, line)) for line in lines], caption=caption)
    sources = _sources([outcome for each in told for outcome in each.outcomes])
    yield html.Section([shown, *sources], className="card outcomes in-time")


def shown_cell(cell: Cell) -> Any:
    """Return what stands in a cell of a table."""
    text = html.Strong(cell.text) if "past" in cell.kind else cell.text
    return [text, html.Small(cell.small)] if cell.small else text


def _sources(found: Sequence[Outcome]) -> Iterator[Component]:
    if not found:
        return
    told = [part for names, said in source_words(found) for part in (html.Dt(names), html.Dd(said))]
    yield folded(
        "Whose errors these outcomes are judged by", html.Dl(told), html.P(OUTCOMES_READING)
    )
