"""Add walks: files from this computer into the study, looked at before anything is stored.

In come files, who walked, at which visit and what was worn; out come what is in each file and what
is wrong with it, then trials in the study. The import is the one of the command line.
"""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboards.add_walks import steps, uploads
from dashboards.add_walks.visit_form import (
    EVERY_FIELD,
    FIELD,
    USE,
    files_part,
    person_part,
    proposed_worn,
    visit_part,
    worn_of,
    worn_part,
)
from dashboards.parts import ids
from dashboards.parts.controls import data
from dashboards.parts.fact_fields import NAME, read_fields, same_on_both
from dashboards.shell.access import require
from gaittrack.read import READABLE_SUFFIXES
from gaittrack.study.people.enrolled import code_of, person_codes
from gaittrack.study.people.last_visit import next_visit
from gaittrack.study.store import Study

_NAMES: Final = {"type": FIELD, "part": "condition", "n": ALL, "name": NAME}
_USES: Final = {"type": USE, "n": ALL}


def layout(study: Study) -> Component:
    """Return the screen, with a new basket for the files that will be sent."""
    if "edit" not in require("view").rights:
        return html.Div([html.H1("Add walks"), html.P("You may look, but not add walks here.")])
    require("edit")
    basket = uploads.baskets().start()
    with study.read() as connection:
        codes = person_codes(connection)
    person = dmc.Autocomplete(
        id="add-walks-person",
        label="Person",
        description="A code of the study, or a new one; never a name",
        data=codes,
        limit=20,
        debounce=400,
        value="",
        style={"maxWidth": "24rem"},
    )
    return html.Div(
        [
            html.H1("Add walks"),
            dcc.Store(id="add-walks-basket", data=basket),
            dcc.Store(id="add-walks-sent"),
            dcc.Store(id="add-walks-days-worn"),
            dcc.Store(id="add-walks-braces"),
            _files_section(basket),
            html.H2("Person and visit"),
            person,
            html.Div(id="add-walks-about"),
            html.Div(id="add-walks-visit"),
            html.H2("What was worn"),
            html.Div(id="add-walks-worn"),
            html.Button("Add a condition", id="add-walks-more", className="quiet"),
            html.H2("Which file is which"),
            html.Div(id="add-walks-which"),
            steps.layout(),
        ]
    )


def _files_section(basket: str) -> Component:
    kinds = ", ".join(sorted(READABLE_SUFFIXES))
    return html.Div(
        [
            html.P(
                [
                    "Drop recordings or a folder here, or choose them. ",
                    html.Span(f"{kinds}; each at most {uploads.MOST_FILE_BYTES // 1024**2} MB."),
                ]
            ),
            html.Div(id="add-walks-inputs", className="row"),
            html.P(id="add-walks-sending", role="status"),
        ],
        id="add-walks-drop",
        className="drop",
        **data(basket=basket, most=str(uploads.MOST_FILE_BYTES), kinds=kinds.replace(" ", "")),
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen, and the route that takes files."""
    uploads.add_route(app.server)
    for name, asked, place in (
        ("inputs", Input("add-walks-basket", "data"), "add-walks-inputs"),
        ("left", Input(ids.ADDRESS, "pathname"), "main"),
    ):
        app.clientside_callback(
            ClientsideFunction("add_walks", name), Output(place, "title"), asked
        )
    _register_person(app, study)
    _register_worn(app, study)
    _register_same(app)
    _register_files(app)
    steps.register(app, study)


def _register_person(app: Dash, study: Study) -> None:
    @app.callback(
        Output("add-walks-person", "value"),
        Input("add-walks-basket", "data"),
        State(ids.CHOICE, "data"),
    )
    def begin_with_chosen(_basket: str, choice: dict[str, int] | None) -> object:
        require("edit")
        person = (choice or {}).get("person")
        if person is None:
            return ""
        with study.read() as connection:
            return code_of(connection, person) or ""

    @app.callback(
        Output("add-walks-about", "children"),
        Output("add-walks-visit", "children"),
        Output("add-walks-worn", "children"),
        Output("add-walks-days-worn", "data"),
        Output("add-walks-braces", "data"),
        Input("add-walks-person", "value"),
        State("add-walks-sent", "data"),
    )
    def propose(person: str | None, sent: dict[str, Any] | None) -> tuple[Any, ...]:
        require("edit")
        code = (person or "").strip()
        with study.read() as connection:
            proposed = next_visit(connection, code)
        worn, days, braces = proposed_worn(proposed), proposed.days_worn, list(proposed.braces)
        visit = visit_part(proposed, (sent or {}).get("day"))
        return person_part(code, proposed), visit, worn_part(worn, days, braces), days, braces


def _register_worn(app: Dash, study: Study) -> None:
    @app.callback(
        Output("add-walks-worn", "children", allow_duplicate=True),
        Input("add-walks-more", "n_clicks"),
        Input({"type": "add-walks-remove", "n": ALL}, "n_clicks"),
        State(EVERY_FIELD, "id"),
        State(EVERY_FIELD, "value"),
        State("add-walks-days-worn", "data"),
        State("add-walks-braces", "data"),
        prevent_initial_call=True,
    )
    def change(
        _more: int | None,
        _removed: list[int | None],
        keys: Any,
        values: Any,
        days: Any,
        braces: Any,
    ) -> object:
        require("edit")
        if not ctx.triggered_id or not ctx.triggered[0]["value"]:
            return no_update
        worn = worn_of(read_fields(keys, values))
        if ctx.triggered_id == "add-walks-more":
            worn.append({NAME: ""})
        else:
            del worn[ctx.triggered_id["n"]]
        return worn_part(worn, days or {}, braces or ())


def _register_same(app: Dash) -> None:
    @app.callback(
        Output(EVERY_FIELD, "value"),
        Input({"type": f"{FIELD}-same", "side": ALL}, "n_clicks"),
        State(EVERY_FIELD, "id"),
        State(EVERY_FIELD, "value"),
        prevent_initial_call=True,
    )
    def same(clicks: list[int | None], keys: Any, values: Any) -> object:
        require("edit")
        if not ctx.triggered_id or not any(clicks):
            return [no_update] * len(keys)
        return same_on_both(ctx.triggered_id["side"], keys, values)


def _register_files(app: Dash) -> None:
    @app.callback(
        Output({"type": FIELD, "part": "visit", "n": 0, "name": "date"}, "value"),
        Input("add-walks-sent", "data"),
        State({"type": FIELD, "part": "visit", "n": 0, "name": "date"}, "value"),
        prevent_initial_call=True,
    )
    def date_of_files(sent: dict[str, Any] | None, date: str | None) -> object:
        require("edit")
        day = (sent or {}).get("day")
        return day if day and not date else no_update

    @app.callback(
        Output("add-walks-which", "children"),
        Input("add-walks-sent", "data"),
        Input(_NAMES, "value"),
        State("add-walks-basket", "data"),
        State(_USES, "id"),
        State(_USES, "value"),
    )
    def list_files(
        _sent: Any, names: list[str], basket: str, keys: list[Any], values: list[Any]
    ) -> object:
        require("edit")
        before = {key["n"]: value for key, value in zip(keys, values, strict=True) if value}
        given = list(dict.fromkeys(name.strip() for name in names if name and name.strip()))
        return files_part(uploads.baskets().find(basket), given, before)

    @app.callback(
        Output(_USES, "value"),
        Input("add-walks-same", "value"),
        State(_USES, "value"),
        prevent_initial_call=True,
    )
    def same_for_all(use: str | None, values: list[str | None]) -> object:
        require("edit")
        return [value or use for value in values]
