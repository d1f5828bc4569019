"""People: who is in the study and what waits; choosing one here chooses them on every screen.

In come the study and what was typed, out come a list that narrows as one types, whose rows lead to
the person, and an act that measures stale results again.
"""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboards.parts import controls, ids
from dashboards.parts.markup import still
from dashboards.parts.states import coming
from dashboards.people import notes_search, stale_results
from dashboards.people.empty_study import TITLE, empty_study
from dashboards.people.people_table import (
    ORDERS,
    OVERVIEW,
    PRESSED,
    fitting,
    n_stale,
    people_table,
    whole,
)
from dashboards.people.waiting import Lookout
from dashboards.shell.access import require
from dashboards.shell.bars import address_of, say
from gaittrack.study.store import Study

WALKS: Final = "/walks"
ADD_WALKS: Final = "/add-walks"


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
            html.Div(html.H1("People"), id="people-whole"),
            stale_results.layout(may_edit="edit" in visitor.rights),
            html.Div([search, order], className="row"),
            html.Div(coming("Looking who is here"), id="people-list"),
            notes_search.layout(),
            dcc.Store(id=PRESSED),
            dcc.Interval(id="people-tick", interval=700, disabled=True),
        ]
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    stale_results.register(app, study)
    notes_search.register(app, study)
    lookout = Lookout(study)
    _register_list(app, lookout)
    _register_choosing(app, lookout)


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
            empty = empty_study(may_edit="edit" in visitor.rights, add_walks=ADD_WALKS)
            return empty, html.H1(TITLE), True, 0
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
        Output(ids.ADDRESS, "search", allow_duplicate=True),
        Input(PRESSED, "data"),
        prevent_initial_call=True,
    )
    def look_at_waiting(pressed: dict[str, Any] | None) -> tuple[Any, Any, Any]:
        require("view")
        if not pressed:
            return no_update, no_update, no_update
        chosen = pressed["value"]
        return chosen, WALKS, address_of("", chosen["person"])

    @app.callback(
        Output(ids.ADDRESS, "pathname", allow_duplicate=True),
        Output(ids.ADDRESS, "search", allow_duplicate=True),
        Input("people-search", "n_submit"),
        State("people-search", "value"),
        prevent_initial_call=True,
    )
    def open_found(n_submit: int | None, words: str | None) -> tuple[Any, Any]:
        require("view")
        if not n_submit or not words:
            return no_update, no_update
        people = [one for one in lookout.look().people if one.has(words)]
        named = [one for one in people if one.code.casefold() == words.strip().casefold()] or people
        if len(named) != 1:
            say(f"{len(named)} people fit; type on, or press Tab to go to one of them.")
            return no_update, no_update
        say("")
        return OVERVIEW, address_of("", named[0].id)


def _nobody(words: str) -> Component:
    return html.P(f"Nobody fits “{words}”. Type less, or part of a code, cause or side.")
