"""People: who is in the study and what waits; choosing one here chooses them on every screen.

In come the study and what was typed, out come a list that narrows as one types, ways on to the
screens of the person, and an act that measures stale results again.
"""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboards.parts import controls, ids
from dashboards.parts.markup import still
from dashboards.people import about_person, notes_search, stale_results
from dashboards.people.people_table import ORDERS, PRESSED, fitting, n_stale, people_table, whole
from dashboards.people.waiting import Lookout
from dashboards.shell.access import require
from dashboards.shell.bars import say
from gaittrack.study.store import Study

WALKS: Final = "/walks"
ADD_WALKS: Final = "/add-walks"
_WAYS_ON: Final = (WALKS, "/compare", "/progress", "/for-the-person", ADD_WALKS)


def layout(study: Study) -> Component:
    """Return the screen; the list follows at once."""
    visitor = require("view")
    search = dmc.TextInput(
        id="people-search",
        label="Find",
        description="Part of a code, cause or side. Enter chooses when one person is left.",
        autoComplete="off",
        style={"flex": "1 1 18rem"},
    )
    order = controls.choice("people-order", "Order", controls.labelled(ORDERS), "code")
    return html.Div(
        [
            html.H1("People"),
            html.Div(id="people-whole"),
            stale_results.layout(may_edit="edit" in visitor.rights),
            html.Div(id="people-chosen"),
            about_person.layout(may_edit="edit" in visitor.rights),
            html.Div([search, order], className="row"),
            html.Div(id="people-list"),
            notes_search.layout(),
            dcc.Store(id=PRESSED),
            dcc.Interval(id="people-tick", interval=700, disabled=True),
        ]
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    stale_results.register(app, study)
    about_person.register(app, study)
    notes_search.register(app, study)
    lookout = Lookout(study)
    _register_list(app, lookout)
    _register_choosing(app, lookout)
    _register_ways_on(app)


def _register_list(app: Dash, lookout: Lookout) -> None:
    @app.callback(
        Output("people-list", "children"),
        Output("people-whole", "children"),
        Output("people-tick", "disabled"),
        Output(stale_results.STALE, "data"),
        Input("people-search", "value"),
        Input("people-order", "value"),
        Input("people-tick", "n_intervals"),
        Input(ids.CHANGED, "data"),
    )
    def show(words: str | None, order: str, _tick: int, _changed: int) -> tuple[Any, ...]:
        visitor = require("view")
        seen = lookout.look()
        people, counts, is_counted = seen.people, seen.counts, seen.is_counted
        if not people:
            return _empty("edit" in visitor.rights), [], True, 0
        fits = fitting(people, words or "", order, counts)
        table = people_table(fits, counts, is_counted=is_counted)
        shown = table if fits else _nobody(words or "")
        return (
            still([shown]),
            still(whole(people, counts, is_counted=is_counted)),
            is_counted,
            n_stale(counts),
        )


def _register_choosing(app: Dash, lookout: Lookout) -> None:
    @app.callback(
        Output(ids.CHOICE, "data", allow_duplicate=True),
        Output(ids.ADDRESS, "pathname", allow_duplicate=True),
        Input(PRESSED, "data"),
        prevent_initial_call=True,
    )
    def choose(pressed: dict[str, Any] | None) -> tuple[Any, Any]:
        require("view")
        if not pressed:
            return no_update, no_update
        chosen = pressed["value"]
        return chosen, WALKS if "trial" in chosen else no_update

    @app.callback(
        Output(ids.CHOICE, "data", allow_duplicate=True),
        Input("people-search", "n_submit"),
        State("people-search", "value"),
        prevent_initial_call=True,
    )
    def choose_found(n_submit: int | None, words: str | None) -> object:
        require("view")
        if not n_submit or not words:
            return no_update
        people = [one for one in lookout.look().people if one.has(words)]
        named = [one for one in people if one.code.casefold() == words.strip().casefold()] or people
        if len(named) != 1:
            say(f"{len(named)} people fit; type on, or press Tab to go to one of them.")
            return no_update
        say("")
        return {"person": named[0].id}


def _register_ways_on(app: Dash) -> None:
    @app.callback(
        Output("people-chosen", "children"),
        Input(ids.CHOICE, "data"),
        State({"type": "way", "address": ALL}, "id"),
        State({"type": "way", "address": ALL}, "children"),
    )
    def lead_on(
        choice: dict[str, int] | None, ways: list[dict[str, str]], names: list[str]
    ) -> object:
        require("view")
        if not (choice or {}).get("person"):
            return []
        known = {way["address"]: name for way, name in zip(ways, names, strict=True)}
        links = [dcc.Link(known[way], href=way) for way in _WAYS_ON if way in known]
        return html.Div([html.Span("Go on to"), *links], className="row") if links else []


def _empty(may_edit: bool) -> Component:
    if may_edit:
        return html.P(["Nobody is in this study yet: ", dcc.Link("add walks", href=ADD_WALKS), "."])
    return html.P("Nobody is in this study yet. Somebody who may edit can add walks.")


def _nobody(words: str) -> Component:
    return html.P(f"Nobody fits “{words}”. Type less, or part of a code, cause or side.")
