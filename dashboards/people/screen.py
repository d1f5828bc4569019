"""People: who is in the study and what waits; choosing one here chooses them on every screen.

In come the study and what was typed, out come a list that narrows as one types, whose rows lead to
the person, and an act that measures stale results again.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboards.parts import controls, ids
from dashboards.parts.controls import aria
from dashboards.parts.markup import still
from dashboards.parts.sent_kinds import refuse_unless
from dashboards.parts.states import coming
from dashboards.people import notes_search, stale_results
from dashboards.people.people_table import (
    FILTER,
    FIRST_ROWS,
    MORE,
    OVERVIEW,
    PRESSED,
    people_table,
    pills,
    whole,
)
from dashboards.people.waiting import Lookout, Seen
from dashboards.people.who_fits import EVERYBODY, FILTERS, ORDERS, WAITING_FIRST, Person, fitting
from dashboards.shell.access import require
from dashboards.shell.bars import address_of, say
from dashboards.shell.empty_study import TITLE, empty_study
from dashboards.shell.guide_page import GUIDE
from dashboards.shell.keeper import Keeper, KeptUp, keeper_of
from gaittrack.study.store import Study

WALKS: Final = "/walks"
ADD_WALKS: Final = "/add-walks"
_READING: Final = (
    "Shapes: the newest answer of the leg with the brace, else of the affected one. Two shapes are "
    "left and right. ↑ ↓ go from row to row, Enter opens the person. A column read downwards says "
    "for whom a question has no answer."
)
_GUIDE: Final = html.A("How a brace trial is recorded, and what it can show", href=GUIDE)


def layout(study: Study) -> Component:
    """Return the screen; the list follows at once."""
    visitor = require("view")
    search = dmc.TextInput(
        id="people-search",
        placeholder="code, cause, side, brace",
        rightSection=html.Kbd("/"),
        autoComplete="off",
        **aria(label="Find"),
    )
    order = dmc.Select(
        id="people-order",
        data=controls.labelled(ORDERS),
        value=WAITING_FIRST,
        allowDeselect=False,
        **aria(label="Order"),
    )
    add = html.A("Add walks", href=ADD_WALKS, className="main button")
    chosen = html.Div(id="people-pills")
    may_edit = "edit" in visitor.rights
    return html.Div(
        [
            html.Div(html.H1("People"), id="people-whole"),
            stale_results.layout(may_edit=may_edit),
            html.Div([search, chosen, order, *([add] if may_edit else [])], className="finding"),
            html.Div(coming("Looking who is here"), id="people-list"),
            html.P([_READING, " ", _GUIDE], className="soft reading no-print"),
            notes_search.layout(),
            *(dcc.Store(id=store) for store in (PRESSED, FILTER, MORE)),
            dcc.Interval(id="people-tick", interval=700, disabled=True),
        ]
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    stale_results.register(app, study)
    notes_search.register(app, study)
    lookout, keeper = Lookout(study), keeper_of(app.server, study)
    _register_list(app, lookout, keeper)
    _register_choosing(app, lookout)


def _register_list(app: Dash, lookout: Lookout, keeper: Keeper) -> None:
    @app.callback(
        Output("people-list", "children"),
        Output("people-whole", "children"),
        Output("people-pills", "children"),
        Output("people-tick", "disabled"),
        Output(stale_results.STALE, "data"),
        Input("people-search", "value"),
        Input("people-order", "value"),
        Input(FILTER, "data"),
        Input(MORE, "data"),
        Input("people-tick", "n_intervals"),
        Input(ids.CHANGED, "data"),
        State(ids.CHOICE, "data"),
    )
    def show(
        words: str | None, order: str, pressed: Any, more: Any, _tick: int, _changed: int, at: Any
    ) -> tuple[Any, ...]:
        visitor = require("view")
        seen, kept = lookout.look(), keeper.look()
        if not seen.people:
            empty = empty_study(may_edit="edit" in visitor.rights, add_walks=ADD_WALKS)
            return empty, html.H1(TITLE), [], True, 0
        people = _people(seen, kept)
        chosen = (pressed or {}).get("value", EVERYBODY)
        refuse_unless(chosen in FILTERS)
        asked = [words or "", order, chosen]
        found = fitting(people, *asked)
        table = people_table(
            found, _n_rows(more, asked), order, shown_of=asked, chosen=(at or {}).get("person")
        )
        heading = whole(people, is_counted=seen.is_counted, is_comparing=kept.is_comparing)
        return (
            still([table if found else _nobody(words or "")]),
            still(heading),
            still([pills(people, chosen)]),
            seen.is_counted and not kept.is_comparing,
            sum(len(one.waiting.stale) for one in people if one.waiting),
        )


def _people(seen: Seen, kept: KeptUp) -> list[Person]:
    about = kept.compared.about
    return [
        Person(one, seen.counts.get(one.id), about.get(one.code, {}).get("newest"))
        for one in seen.people
    ]


def _n_rows(more: Any, asked: Sequence[str]) -> int:
    """Return how many rows to show: more were asked for of what is still typed and pressed."""
    wanted = (more or {}).get("value", {})
    return int(wanted["rows"]) if wanted.get("of") == list(asked) else FIRST_ROWS


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
    said = f"Nobody fits “{words}”." if words else "Nobody fits."
    return html.P(f"{said} Type less, part of a code, cause, side or brace, or press “all”.")
