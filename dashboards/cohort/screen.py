"""Cohort: the changes of many people, chosen by words, in pictures and a table; and the export.

In comes a study, out come the rows that fit, with their statistics. Nothing here is de-identified:
the screen stays inside the laboratory, and what leaves goes through the export below.
"""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc
from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component
from flask import current_app

from dashboards.cohort import asked_about, export_panel
from dashboards.cohort.cohort_tables import (
    BY_PERSON,
    MORE,
    ORDERS,
    counts_words,
    in_order,
    n_rows,
    rows_table,
    statistics_parts,
)
from dashboards.cohort.compared_people import CohortMemory, Look, memory_of
from dashboards.cohort.filters import (
    CONTROLS,
    Wanted,
    control_values,
    filter_controls,
    option_data,
    wanted_of,
)
from dashboards.parts import ids
from dashboards.parts.controls import aria, choice, folded, graph, labelled, progress
from dashboards.parts.markup import still
from dashboards.shell.access import require
from gaittrack.cohort.view import CohortView, selected_changes, selected_statistics
from gaittrack.figures.cohort_changes import draw_everybodys_change, draw_pairs, drawn_rows
from gaittrack.study.people.enrolled import ids_of
from gaittrack.study.store import Study

_POLL_MS: Final = 700


def layout(study: Study) -> Component:
    """Return the screen."""
    visitor = require("view")
    look = memory_of(current_app, study).in_hand()
    parts = [
        html.H1("Cohort"),
        html.P(
            "One row per person, visit, side and pair of conditions. Codes are the study's own: "
            "what leaves the laboratory goes through the export at the end of this page.",
            className="soft",
        ),
        dcc.Interval(id="cohort-tick", interval=_POLL_MS),
        dcc.Store(id="cohort-state", data=_state_of(look) if look else None),
        html.Div(id="cohort-progress", role="status"),
        html.Section(filter_controls(look.view if look else None), **aria(label="Choose")),
        html.P(id="cohort-counts", role="status"),
        html.Div(id="cohort-statistics", className="side-by-side"),
        html.Div(id="cohort-figures", className="side-by-side"),
        html.Section(
            [
                choice("cohort-order", "Rows", labelled(ORDERS), BY_PERSON, w=240),
                html.Div(id="cohort-rows"),
                dcc.Store(id=MORE),
            ]
        ),
    ]
    if "export" in visitor.rights:
        parts += [asked_about.layout(), export_panel.layout()]
    return html.Div(parts)


def _state_of(look: Look) -> str:
    return f"{look.view.state} {len(look.view.about)} {look.n_done == look.n_all}"


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    memory = memory_of(app.server, study)
    app.clientside_callback(
        ClientsideFunction("later", "plotly"),
        Output("cohort-figures", "className"),
        Input("cohort-figures", "id"),
    )
    asked_about.register(app, study)
    export_panel.register(app, study, memory)
    _register_reading(app, memory)
    _register_showing(app, memory)
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
        Output("cohort-counts", "children"),
        Output("cohort-statistics", "children"),
        Output("cohort-figures", "children"),
        *(Input(control.id, "value") for control in CONTROLS),
    )
    def show(*values: Any) -> tuple[Any, ...]:
        require("view")
        view, wanted = memory.look().view, wanted_of(values)
        if wanted is None:
            return "", [], []
        changes = selected_changes(view, wanted.selection, **wanted.shown)
        statistics = selected_statistics(view, wanted.selection, **wanted.shown)
        return (
            counts_words(changes),
            still(statistics_parts(statistics, wanted)),
            _figures(changes, wanted),
        )


def _register_rows(app: Dash, study: Study, memory: CohortMemory) -> None:
    @app.callback(
        Output("cohort-rows", "children"),
        Input("cohort-order", "value"),
        Input(MORE, "data"),
        *(Input(control.id, "value") for control in CONTROLS),
    )
    def show_rows(order: str, more: Any, *values: Any) -> list[Any]:
        require("view")
        wanted = wanted_of(values)
        if wanted is None:
            return []
        changes = selected_changes(memory.look().view, wanted.selection, **wanted.shown)
        rows = in_order(changes, order).head(n_rows(more, list(values)))
        with study.read() as connection:
            people = ids_of(connection, set(rows["person"]))
        return still(rows_table(rows, people, len(changes), list(values)))


def _progress(look: Look) -> list[Component]:
    problems = look.view.problems
    parts: list[Component] = []
    if not look.is_comparing and not look.view.measures:
        parts.append(_nothing_to_show(look.view))
    if look.is_comparing and look.n_done < look.n_all:
        words = f"{look.n_done} of {look.n_all} people compared; the others follow"
        parts.append(html.P(progress(words, look.n_done, look.n_all)))
    if problems:
        items = [html.Li(f"{person}: {why}") for person, why in problems.items()]
        title = f"{len(items)} people are left out, whole or in part"
        parts.append(folded(title, html.Ul(items)))
    return parts


def _nothing_to_show(view: CohortView) -> Component:
    why = "Nobody has walks in two conditions of one visit yet, so there is no change to show. "
    if view.people.empty:
        why = "Nobody is in this study yet. "
    return html.P([why, dcc.Link("Add walks", href="/add-walks"), "."])


def _figures(changes: Any, wanted: Wanted) -> list[Component]:
    if drawn_rows(changes).empty:
        return [dmc.Text("No row can be drawn: nobody fits, or nothing is comparable.")]
    names = (wanted.names[1], wanted.names[0])
    return [
        graph(
            "cohort-pairs",
            draw_pairs(changes, names=names),
            caption=f"A line joins a person's walk values {names[0]} and {names[1]}; "
            "the boxes hold the middle half of the people.",
            height_px=400,
        ),
        graph(
            "cohort-changes",
            draw_everybodys_change(changes),
            caption=f"{names[1]} minus {names[0]}. Point: difference; bar: its 95 % interval; "
            "shaded: measurement error. What is not comparable is not drawn.",
            height_px=400,
        ),
    ]
