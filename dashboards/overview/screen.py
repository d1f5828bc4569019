"""Overview: one page of a person over the visits, what the brace changes and whether it still does.

In comes the chosen person, out come the newest answer, the visits in time, the course of each
question over them, what is recorded and what waits.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from dashboards.overview import about_person
from dashboards.parts import ids
from dashboards.parts.controls import choose_first, folded, table
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import still
from dashboards.parts.outcomes_shown import outcomes_in_time
from dashboards.parts.saving import BOTH, PICTURE, save_menu
from dashboards.shell.access import require
from dashboards.shell.bars import address_of
from gaittrack.answer import Answer, several_sentences
from gaittrack.cohort.kept.compared import told_of_person
from gaittrack.compare.intervals.verdict import Verdict
from gaittrack.compare.row_words import (
    count_words,
    doubts,
    interval_words,
    measure_words,
    number,
    signed,
)
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.figures.visit_panels import draw_panels
from gaittrack.record.visit_facts import VisitFacts, examined_points
from gaittrack.report.board import signs_and_board
from gaittrack.report.html_parts import marks, numbered
from gaittrack.report.setting_panels import visits_settings_html
from gaittrack.report.visit_panels import panels_html, visit_line_html
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.recordings.overview import Waiting, waiting_of
from gaittrack.study.results.follow import HEADLINE
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.results.over_visits import Following, Progress
from gaittrack.study.results.visit_answers import VisitAnswer, visit_answers
from gaittrack.study.results.visit_outcomes import outcomes_over_visits
from gaittrack.study.store import Study

_SHOWN: Final = "overview-shown"
_TABLE_READING: Final = (
    "Change is from the first visit of the same condition. It is called larger only if its "
    "interval excludes 0 and it reaches the measurement error between days. 'Not shown' is not "
    "'no effect'."
)
_HEADS: Final = ("Condition", "Visit", "Mean", "Change", "What may be said")
_NUMBERS: Final = (2, 3)


def layout(study: Study) -> Component:
    """Return the screen; what it shows follows when a person is known."""
    visitor = require("view")
    return html.Div(
        [
            dcc.Loading(html.Div(html.H1("Overview"), id=_SHOWN), delay_show=400),
            about_person.layout(may_edit="edit" in visitor.rights),
            html.Div(id="overview-numbers"),
        ]
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    about_person.register(app, study)

    @app.callback(
        Output(_SHOWN, "children"),
        Output("overview-numbers", "children"),
        Input(ids.CHOICE, "data"),
        Input(ids.CHANGED, "data"),
    )
    def show(choice: dict[str, int] | None, _changed: int) -> tuple[Any, Any]:
        require("view")
        person = facts_of_person(study, (choice or {}).get("person") or 0)
        if person is None:
            return [html.H1("Overview"), choose_first()], []
        stale = stale_trials(study, person=person.code)
        given, found = told_of_person(study, person, stale)
        told = visit_answers(study, person, given)
        waiting = waiting_of(study, person.id, stale)
        everyday = outcomes_in_time(outcomes_over_visits(study, person))
        screen = [*shown(person.id, told, waiting, found), *everyday]
        return still(screen), still(list(numbers(found)))


def shown(
    person: int, told: Sequence[VisitAnswer], waiting: Waiting, found: Following
) -> Iterator[Component]:
    """Yield what the screen says of a person: the answer, the visits, the questions over them."""
    answered = [
        (each.visit, (each.answer, *each.others)) for each in told if each.answer is not None
    ]
    yield from _not_up_to_date(found)
    for visit_told in told:
        if visit_told.why:
            words = f"{visit_told.visit.code} could not be compared: {visit_told.why}"
            yield html.P(words, className="watch")
    yield html.H1(_heading(answered))
    ways = [
        html.A("Page for the person", href=address_of("/for-the-person", person), className="main"),
        html.A("Compare", href=address_of("/compare", person)),
        html.A("Walks", href=address_of("/walks", person)),
    ]
    yield html.Div([*ways, html.Span(_waits(waiting), className="soft")], className="row ways")
    if told:
        yield html.Div(Markup(visit_line_html(told)), className="card")
    if answered:
        visit, newest = answered[-1]
        drawn = Markup(signs_and_board(newest, examined_points([visit])))
        board = save_menu("Newest answer", BOTH, of="#overview-shown .board")
        title = html.H2(f"Newest answer, {visit.code}")
        yield html.Div([title, board], className="savable")
        yield html.Section(drawn, className="answer")
        panels_menu = save_menu("Over the visits", PICTURE, of="#overview-shown .panels")
        yield html.Div([html.H2("Over the visits"), panels_menu], className="savable")
        yield from _which_condition(told)
        panels = draw_panels(told)
        yield Markup(panels_html([each for each in panels if each.is_known]))
        unknown = dict.fromkeys(each.title.lower() for each in panels if not each.is_known)
        if unknown:
            yield html.P(f"Not in these recordings: {'; '.join(unknown)}.", className="soft")
        yield Markup(visits_settings_html(told))


def _which_condition(told: Sequence[VisitAnswer]) -> Iterator[Component]:
    """Say which condition the panels show, where a visit has several or they differ in name."""
    shown_names = {each.visit.code: each.answer.condition for each in told if each.answer}
    if any(each.others for each in told) or len(set(shown_names.values())) > 1:
        said = "; ".join(f"{visit}: {name}" for visit, name in shown_names.items())
        words = f"The panels show one condition a visit ({said}); Compare shows all of them."
        yield html.P(words, className="soft")


def _heading(answered: Sequence[tuple[VisitFacts, Sequence[Answer]]]) -> str:
    if not answered:
        return "No visit has walks in two conditions yet: there is nothing to compare."
    visit, newest = answered[-1]
    first, *_ = several_sentences(newest)
    if newest[0].is_brace_against_none:
        return f"{visit.code}, {first[:1].lower()}{first[1:]}"
    return f"{visit.code}: {first}"


def _waits(waiting: Waiting) -> str:
    if not waiting.n:
        return "No recording waits."
    kinds = (
        (waiting.to_look_at, "to look at"),
        (waiting.refused, "could not be measured"),
        (waiting.stale, "stale"),
        (waiting.untold, "of which nobody said whether a brace was worn"),
    )
    said = (f"{count_words(len(trials), 'walk')} {words}" for trials, words in kinds if trials)
    return f"Waiting: {'; '.join(said)}."


def _not_up_to_date(found: Following) -> Iterator[Component]:
    if found.stale:
        again = dcc.Link("Measure them again on the screen People", href="/")
        said = f"Not up to date: {count_words(len(found.stale), 'walk')}, damaged and not used, or "
        said += "measured with other software, settings or corrections than today's"
        which = folded(said, html.Ul([html.Li(text) for text in found.stale]))
        ways = html.P([again, " before you rely on them."])
        yield html.Section([which, ways], className="watch")


def numbers(found: Following) -> Iterator[Component]:
    """Yield what stands folded below: numbers over the visits, what changed, errors."""
    if not found.rows:
        return
    if found.changes:
        texts = [f"{c.visit}, {c.condition}, {c.kind}: {c.text}" for c in found.changes]
        yield _card("What was changed between visits", html.Ul([html.Li(text) for text in texts]))
    notes = found.notes or ("Nothing that was checked differs between the visits.",)
    yield _card(
        f"What makes visits hard to compare ({len(found.notes)})",
        html.Ul([html.Li(str(text)) for text in notes]),
    )
    tables = [part for name in HEADLINE for part in _measure(found, name)]
    yield _card("In numbers, from the first visit of each condition", *tables)
    yield _card("Measurement error and its sources", *_sources(found))


def _card(title: str, *parts: Any) -> Component:
    return folded(title, *parts, className="card")


def _measure(found: Following, name: str) -> Iterator[Component]:
    rows = [row for row in found.rows if row.measure == name]
    own = sorted(rows, key=lambda row: row.condition != found.reference)
    sides = sorted({row.side for row in own}, key=lambda side: (side != found.affected, side))
    for side in sides:
        shown = [row for row in own if row.side == side]
        told = numbered(doubts(row.labels) for row in shown)
        words = f"{measure_words(name)}, {side}"
        lines = [_line(row, told) for row in shown]
        yield table(_HEADS, lines, caption=words, numbers=_NUMBERS)
        yield from (html.P(f"! {place} {with_minus(text)}") for text, place in told.items())


def _line(row: Progress, told: Mapping[str, int]) -> Sequence[object]:
    decimals = MEASURE_BY_NAME[row.measure].decimals
    said = Verdict(row.verdict, row.reason).say()
    value = f"{number(row.value, decimals)}{marks(told, doubts(row.labels))}"
    mean = [value, html.Small(_mean_words(row, decimals))]
    change = [signed(row.difference, decimals), html.Small(_change_small(row, decimals))]
    return (row.condition, row.visit, mean, change, said)


def _mean_words(row: Progress, decimals: int) -> str:
    words = count_words(row.n_walks, "walk")
    if math.isfinite(row.value_low):
        low, high = number(row.value_low, decimals), number(row.value_high, decimals)
        words = f"95 %: {low} to {high}; {words}"
    return words


def _change_small(row: Progress, decimals: int) -> str:
    words = []
    if math.isfinite(row.low):
        words.append(f"95 %: {interval_words(row.low, row.high, decimals)}")
    if math.isfinite(row.measurement_error):
        words.append(f"error {number(row.measurement_error, decimals)}")
    return "; ".join(words)


def _sources(found: Following) -> Iterator[Component]:
    sources = dict.fromkeys(
        f"{MEASURE_BY_NAME[row.measure].title}: {row.measurement_error_source}"
        for row in found.rows
        if row.measurement_error_source
    )
    yield html.Ul([html.Li(text) for text in sources])
    yield html.P(_TABLE_READING, className="soft")
