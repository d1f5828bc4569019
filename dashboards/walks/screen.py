"""Walks: one recording of the chosen person, looked at and corrected.

In comes the choice of this browser tab, out come the feet over time with every event by source, the
strides with what speaks against them, the replay, and what was done to it.
"""

from __future__ import annotations

from typing import Any, Final

from dash import (
    ALL,
    ClientsideFunction,
    Dash,
    Input,
    Output,
    State,
    dcc,
    html,
    no_update,
    set_props,
)
from dash.development.base_component import Component

from dashboards.parts import ids
from dashboards.parts.sent_kinds import refuse_unless
from dashboards.shell.access import require
from dashboards.walks import several_walks, visit_row, walk_page, which_walk
from dashboards.walks.measured_walks import WalkMemory
from dashboards.walks.replay import PLAYER
from dashboards.walks.stride_tables import PRESSED
from dashboards.walks.walk_page import CHANGES, DRAWN, HEAD
from dashboards.walks.which_walk import AGAIN, SHOWN, WANTED, Filled
from gaittrack.study.store import Study

_FIELDS: Final = {"type": "walks-field", "name": ALL}
_MOVES: Final = {
    "corrected": (Input(CHANGES, "children"),),
    "drawn": (Input(DRAWN, "data"),),
    "entered": (Input(_FIELDS, "value"), State(_FIELDS, "id")),
    "moved": (Input({"type": PLAYER, "name": "time"}, "value"),),
    "played": (
        Input({"type": PLAYER, "name": "play"}, "n_clicks"),
        Input({"type": PLAYER, "name": "pace"}, "value"),
    ),
    "taken": (Input({"type": "walks-take", "name": ALL}, "n_clicks"),),
}
"""What happens in the browser alone: the functions of ``assets/walks.js`` and what calls them."""


def layout(study: Study) -> Component:
    """Return the screen; what it shows follows from the choice."""
    who = require("view")
    stores = [dcc.Store(id=name) for name in (SHOWN, DRAWN, WANTED, PRESSED, AGAIN)]
    title = html.H1("Walks", id=which_walk.TITLE)
    top = html.Div([title, html.Div(id=which_walk.NEXT)], className="walks-top")
    return html.Div([top, *stores, *visit_row.places(), walk_page.places(who)])


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    memory = WalkMemory()
    _register_showing(app, study, memory)
    _register_choosing(app, study)
    _register_correcting(app, study, memory)
    several_walks.register(app, study)
    visit_row.register(app, study)
    for name, given in _MOVES.items():
        function = ClientsideFunction("walks", name)
        app.clientside_callback(function, *given, prevent_initial_call=True)


def _register_showing(app: Dash, study: Study, memory: WalkMemory) -> None:
    @app.callback(Output(HEAD, "children"), Input(ids.CHOICE, "data"), Input(AGAIN, "data"))
    def show(choice: dict[str, int] | None, _pressed: Any) -> Any:
        who = require("view")
        return _fill(walk_page.show(study, memory, choice or {}, who))


def _fill(parts: list[Filled]) -> Any:
    """Fill the places of the screen; return what goes into the first of them."""
    for name, properties in parts:
        if name != HEAD:
            set_props(name, properties)
    return next(properties["children"] for name, properties in parts if name == HEAD)


def _register_choosing(app: Dash, study: Study) -> None:
    @app.callback(
        Output(ids.CHOICE, "data", allow_duplicate=True),
        Input(WANTED, "data"),
        State(ids.CHOICE, "data"),
        State(SHOWN, "data"),
        prevent_initial_call=True,
    )
    def choose(wanted: dict[str, Any] | None, choice: Any, shown: Any) -> Any:
        require("view")
        if not wanted:
            return no_update
        other = walk_page.other_choice(study, choice or {}, shown or {}, wanted["value"])
        return no_update if other is None else other


def _register_correcting(app: Dash, study: Study, memory: WalkMemory) -> None:
    @app.callback(
        Output(HEAD, "children", allow_duplicate=True),
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Input(PRESSED, "data"),
        State(_FIELDS, "value"),
        State(_FIELDS, "id"),
        State(SHOWN, "data"),
        State(ids.CHANGED, "data"),
        prevent_initial_call=True,
    )
    def correct(
        pressed: dict[str, Any] | None,
        values: list[Any],
        names: list[Any],
        shown: Any,
        changed: int,
    ) -> Any:
        require("view")
        if not pressed:
            return no_update, no_update
        refuse_unless(shown is not None)
        who, act = require("edit"), pressed["value"]
        entered = {name["name"]: value for name, value in zip(names, values, strict=True)}
        entered["which"] = act.get("which", "")
        parts = walk_page.correct(study, memory, shown, act["what"], entered, who)
        return _fill(parts), changed + 1
