"""Walks: one recording of the chosen person, looked at and corrected.

In comes the choice of this browser tab, out come the feet over time with every event by source, the
strides with what speaks against them, the replay, and what was done to it.
"""

from __future__ import annotations

from typing import Any, Final

from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboards import ids, walks_choosing, walks_page
from dashboards.access import require
from dashboards.walks_memory import WalkMemory
from dashboards.walks_replay import PLAYER
from dashboards.walks_tables import PRESSED
from dashboards.walks_view import GRAPH
from gaittrack.study.store import Study

SHOWN, LINES, FRAMES = "walks-shown", "walks-lines", "walks-frames"
CHOOSING, BODY = "walks-choosing", "walks-body"
_PLACES: Final = (
    *((SHOWN, "data"), (LINES, "data"), (FRAMES, "data")),
    *((CHOOSING, "hidden"), (BODY, "children")),
)
"""Where the ``walks_page.Parts`` go."""
_FIELDS: Final = {"type": "walks-field", "name": ALL}
_MOVES: Final = {
    "corrected": (Input("walks-changes-place", "children"),),
    "entered": (Input(_FIELDS, "value"), Input(LINES, "data"), State(_FIELDS, "id")),
    "pointed": (Input({"type": GRAPH, "side": ALL}, "clickData"),),
    "moved": (Input({"type": PLAYER, "name": "time"}, "value"), Input(FRAMES, "data")),
    "played": (
        Input({"type": PLAYER, "name": "play"}, "n_clicks"),
        Input({"type": PLAYER, "name": "pace"}, "value"),
    ),
    "taken": (Input({"type": "walks-take", "name": ALL}, "n_clicks"),),
}
"""What happens in the browser alone: the functions of ``assets/walks.js`` and what calls them."""


def layout(study: Study) -> Component:
    """Return the screen; what it shows follows from the choice."""
    require("view")
    return html.Div(
        [
            html.H1("Walks"),
            *(dcc.Store(id=name) for name in (SHOWN, LINES, FRAMES, PRESSED, walks_page.AGAIN)),
            html.Div(walks_choosing.fields(), id=CHOOSING, hidden=True),
            html.Div(id=BODY),
        ]
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    memory = WalkMemory()
    _register_showing(app, study, memory)
    _register_choosing(app, study)
    _register_correcting(app, study, memory)
    for name, given in _MOVES.items():
        function = ClientsideFunction("walks", name)
        app.clientside_callback(function, *given, prevent_initial_call=True)


def _register_showing(app: Dash, study: Study, memory: WalkMemory) -> None:
    @app.callback(
        [Output(*place) for place in _PLACES],
        Input(ids.CHOICE, "data"),
        Input(walks_page.AGAIN, "data"),
    )
    def show(choice: dict[str, int] | None, _pressed: Any) -> Any:
        who = require("view")
        return walks_page.show(study, memory, choice or {}, who)


def _register_choosing(app: Dash, study: Study) -> None:
    @app.callback(
        Output(ids.CHOICE, "data", allow_duplicate=True),
        Input(walks_choosing.VISIT, "value"),
        Input(walks_choosing.CONDITION, "value"),
        Input(walks_choosing.TRIAL, "value"),
        Input(walks_choosing.NEXT, "n_clicks"),
        State(ids.CHOICE, "data"),
        State(SHOWN, "data"),
        prevent_initial_call=True,
    )
    def choose(
        visit: str, condition: str, trial: str, clicks: int | None, choice: Any, shown: Any
    ) -> Any:
        require("view")
        values = {"visit": visit, "condition": condition, "trial": trial, "next": clicks}
        level = str(ctx.triggered_id).removeprefix("walks-")
        other = walks_page.other_choice(study, choice or {}, shown or {}, level, values[level])
        return no_update if other is None else other


def _register_correcting(app: Dash, study: Study, memory: WalkMemory) -> None:
    @app.callback(
        *(Output(*place, allow_duplicate=True) for place in _PLACES),
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
            return [no_update] * (len(_PLACES) + 1)
        who, act = require("edit"), pressed["value"]
        entered = {name["name"]: value for name, value in zip(names, values, strict=True)}
        entered["which"] = act.get("which", "")
        return [*walks_page.correct(study, memory, shown, act["what"], entered, who), changed + 1]
