"""Cohort: the changes of many people, chosen by words, in pictures and a table; and the export.

In comes a study, out come the rows that fit, with their statistics. Nothing here is de-identified:
the screen stays inside the laboratory, and what leaves goes through the export below.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component
from flask import current_app
from markupsafe import Markup as SafeText

from dashboards.cohort import asked_about, curve_part, export_panel
from dashboards.cohort.cohort_tables import (
    BY_PERSON,
    MORE,
    ORDERS,
    SAVE_ROWS,
    in_order,
    n_rows,
    rows_table,
)
from dashboards.cohort.compared_people import CohortMemory, Look, memory_of
from dashboards.cohort.export_panel import LEAVING_OPEN
from dashboards.cohort.filters import (
    CONTROLS,
    EVERYBODY,
    WHAT_IS_ASKED,
    control_values,
    option_data,
    question_parts,
    wanted_of,
)
from dashboards.parts import ids
from dashboards.parts.controls import (
    aria,
    choice,
    folded,
    is_open,
    labelled,
    made_when_opened,
    progress,
    table,
)
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn, still
from dashboards.parts.saving import PICTURE, save_menu
from dashboards.shell.access import require
from dashboards.shell.empty_study import TITLE, empty_study
from dashboards.shell.handing_out import file_output, file_place
from dashboards.shell.saved_tables import hand_out_table
from gaittrack.cohort.asking.answering import CohortAnswer, answer_cohort
from gaittrack.cohort.asking.beside import beside
from gaittrack.cohort.asking.view import selected_changes
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.cohort_changes import draw_changes
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.report.cohort_beside import TextTable, beside_tables
from gaittrack.report.cohort_changes import changes_html, figures_html, left_out_html
from gaittrack.report.cohort_rows import heads_of, texts_of
from gaittrack.study.people.enrolled import ids_of
from gaittrack.study.store import Study

_POLL_MS: Final = 700
ADD_WALKS: Final = "/add-walks"
BESIDE: Final = "cohort-beside"
OTHER: Final = "cohort-other"
"""``dcc.Store``: the measure that compares more people was asked for."""


def layout(study: Study) -> Component:
    """Return the screen."""
    visitor = require("view")
    look = memory_of(current_app, study).in_hand()
    parts = [
        html.Div(
            question_parts(look.view if look else None),
            id="cohort-question",
            className="cohort-question",
            hidden=not (look and look.view.measures),
            **aria(label="Choose"),
            role="group",
        ),
        html.H1("Cohort", id="cohort-answer"),
        dcc.Interval(id="cohort-tick", interval=_POLL_MS),
        dcc.Store(id="cohort-state", data=_state_of(look) if look else None),
        html.Div(id="cohort-progress", role="status"),
        html.Div(id="cohort-shown"),
        html.Div([*_beside_places(), _rows_place()], id="cohort-rest", hidden=True),
        html.Div(_leaving() if "export" in visitor.rights else [], id="cohort-out", hidden=True),
    ]
    return html.Div(parts)


def _state_of(look: Look) -> str:
    return f"{look.view.state} {len(look.view.about)} {look.n_done == look.n_all}"


def _beside_places() -> list[Component]:
    """Return where what stands beside the mean is shown, once it is opened."""
    about = "ranks, models, groups, shares, outcomes, missing, people needed"
    sure = made_when_opened(BESIDE, "How sure, for whom, and what may go with it", about)
    return [sure, curve_part.layout()]


def _rows_place() -> Component:
    return html.Section(
        [
            choice(
                "cohort-order", "Rows", labelled(ORDERS), BY_PERSON, w=240, className="no-print"
            ),
            html.Div(id="cohort-rows"),
            dcc.Store(id=MORE),
            dcc.Store(id=SAVE_ROWS),
            dcc.Store(id=OTHER),
            file_place(SAVE_ROWS),
        ]
    )


def _leaving() -> list[Component]:
    """Return the export, a second step: nothing of it is reckoned before it is opened."""
    about = html.Small("random ids in place of codes, days in place of dates, age bands")
    title = html.Summary(["Export these tables for research ", about], id=LEAVING_OPEN)
    parts = [title, asked_about.layout(), export_panel.layout()]
    return [html.Details(parts, className="card no-print", id="cohort-leaving")]


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    memory = memory_of(app.server, study)
    asked_about.register(app, study)
    curve_part.register(app, study, memory)
    export_panel.register(app, study, memory)
    _register_reading(app, memory)
    _register_showing(app, memory)
    _register_other_measure(app)
    _register_rows(app, study, memory)


def _register_reading(app: Dash, memory: CohortMemory) -> None:
    @app.callback(
        Output("cohort-state", "data"),
        Output("cohort-progress", "children"),
        Output("cohort-tick", "disabled"),
        Input("cohort-tick", "n_intervals"),
        Input(ids.CHANGED, "data"),
        State("cohort-state", "data"),
    )
    def follow(_tick: int, _changed: int, state: str | None) -> tuple[Any, ...]:
        require("view")
        look = memory.look()
        new = _state_of(look)
        progress = still(_progress(look))
        return no_update if new == state else new, progress, not look.is_comparing

    @app.callback(
        *(Output(control.id, "data") for control in CONTROLS),
        *(Output(control.id, "value") for control in CONTROLS),
        Input("cohort-state", "data"),
        *(State(control.id, "value") for control in CONTROLS),
        prevent_initial_call=True,
    )
    def offer(_state: str | None, *values: Any) -> list[Any]:
        require("view")
        data = option_data(memory.look().view)
        kept = zip(values, control_values(data, values), strict=True)
        # A value that stays is not sent: it would take back what was chosen meanwhile.
        return [*data, *(no_update if new == value else new for value, new in kept)]


def _register_showing(app: Dash, memory: CohortMemory) -> None:
    @app.callback(
        Output("cohort-answer", "children"),
        Output("cohort-who", "children"),
        Output("cohort-shown", "children"),
        *(Output(part, "hidden") for part in ("cohort-question", "cohort-rest", "cohort-out")),
        *WHAT_IS_ASKED,
    )
    def show(_state: str | None, *values: Any) -> tuple[Any, ...]:
        visitor = require("view")
        look, wanted = memory.look(), wanted_of(values)
        if wanted is None:
            return _without_question(look, may_edit="edit" in visitor.rights)
        found = answer_cohort(look.view, wanted)
        words = with_minus(str(found.say()))
        if look.n_done < look.n_all and look.is_comparing:
            words = f"So far, {look.n_done} of {look.n_all} people compared: {words}"
            found = replace(found, n_missing=0)  # nobody knows yet who will be
        return words, wanted.who, still(answer_parts(found)), False, False, False

    @app.callback(
        Output(BESIDE, "children"),
        Input(f"{BESIDE}-open", "n_clicks"),
        *WHAT_IS_ASKED,
        prevent_initial_call=True,
    )
    def show_beside(n_clicks: int | None, _state: str | None, *values: Any) -> Any:
        require("view")
        view, wanted = memory.look().view, wanted_of(values)
        if wanted is None or not is_open(n_clicks):
            return []  # closed it holds nothing: what is asked may change meanwhile
        found = answer_cohort(view, wanted)
        return still(beside_parts(beside_tables(found, beside(view, found))))


def _register_other_measure(app: Dash) -> None:
    @app.callback(
        Output("cohort-measure", "value", allow_duplicate=True),
        Input(OTHER, "data"),
        prevent_initial_call=True,
    )
    def other_measure(pressed: Any) -> Any:
        require("view")
        return (pressed or {}).get("value", no_update)


def _register_rows(app: Dash, study: Study, memory: CohortMemory) -> None:
    @app.callback(
        Output("cohort-rows", "children"),
        Input("cohort-order", "value"),
        Input(MORE, "data"),
        *WHAT_IS_ASKED,
    )
    def show_rows(order: str, more: Any, _state: str | None, *values: Any) -> list[Any]:
        require("view")
        wanted = wanted_of(values)
        if wanted is None:
            return []
        changes = selected_changes(memory.look().view, wanted.selection, **wanted.shown)
        rows = in_order(changes, order).head(n_rows(more, list(values)))
        with study.read() as connection:
            people = ids_of(connection, set(rows["person"]))
        return still(rows_table(rows, people, len(changes), list(values)))

    @app.callback(
        file_output(SAVE_ROWS),
        Input(SAVE_ROWS, "data"),
        State("cohort-order", "value"),
        *(State(control.id, "value") for control in CONTROLS),
        prevent_initial_call=True,
    )
    def save_rows(asked: dict[str, Any] | None, order: str, *values: Any) -> Any:
        require("export")
        wanted = wanted_of(values)
        if not asked or wanted is None:
            return no_update
        changes = selected_changes(memory.look().view, wanted.selection, **wanted.shown)
        heads = list(heads_of(MEASURE_BY_NAME[wanted.measure]))
        return hand_out_table([heads, *texts_of(in_order(changes, order))], asked)


def _progress(look: Look) -> list[Component]:
    problems = look.view.problems
    parts: list[Component] = []
    if look.is_comparing and look.n_done < look.n_all:
        words = f"{look.n_done} of {look.n_all} people compared; the others follow"
        parts.append(html.P(progress(words, look.n_done, look.n_all)))
    if problems:
        items = [html.Li(f"{person}: {why}") for person, why in problems.items()]
        title = f"{len(items)} people are left out, whole or in part"
        parts.append(folded(title, html.Ul(items)))
    return parts


def _without_question(look: Look, *, may_edit: bool) -> tuple[Any, ...]:
    """Return what stands where nothing can be asked: how to begin, or that it is being read."""
    if look.view.people.empty:
        begin = empty_study(may_edit=may_edit, add_walks=ADD_WALKS)
        return TITLE, EVERYBODY, begin, True, True, True
    if look.is_comparing or look.view.measures:
        return "Cohort", EVERYBODY, [], not look.view.measures, True, True
    add = dcc.Link("Add walks", href=ADD_WALKS)
    why = html.P(["A change needs walks in two conditions of one visit. ", add, "."])
    return "Nobody can be compared yet", EVERYBODY, why, True, True, False


def answer_parts(found: CohortAnswer) -> list[Component]:
    """Return what stands below the answer: warnings, numbers, the picture, who is left out."""
    warnings = with_minus(" ".join(map(str, found.warnings())))
    offered: list[Any] = []
    if found.other is not None:
        button = _offer(found.other.measure, MEASURE_BY_NAME[found.other.measure].title)
        offered = [" ", Markup(drawn("parts.compares", button, found.other.n_people))]
    told: list[Component] = []
    if warnings:
        told.append(html.P([warnings, *offered], className="watch"))
    told.append(_savable("numbers", figures_html(found.figures())))
    left_out = Markup(left_out_html(found, _offer))
    if not found.n_people:
        return [*told, left_out]
    picture = _savable("change of each person", changes_html(found, draw_changes(found)))
    beside_it = [left_out] if found.left_out or found.n_missing else []
    return [*told, html.Div([picture, *beside_it], className="card cohort-changes")]


def _savable(what: str, inside: SafeText) -> Component:
    return Markup(drawn("parts.savable", save_menu(what, PICTURE).html, inside))


def _offer(measure: str, title: str) -> SafeText:
    return drawn("parts.button", OTHER, measure, title, "plain")


def beside_parts(tables: Sequence[TextTable]) -> list[Component]:
    """Return the tables that stand beside the mean, each with its note."""
    parts: list[Component] = []
    for each in tables:
        rows = [list(map(with_minus, row)) for row in each.rows]
        parts += [table(each.heads, rows, caption=each.title), html.P(each.note, className="soft")]
    return parts
