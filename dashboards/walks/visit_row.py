"""The walks of a visit in one row of small graphs, with what waits: the one that is unlike is seen.

In comes which visit is shown, out comes a button for each walk with its strides' curves, all on one
scale; pressing it shows that walk. The row is asked for when it is opened.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component
from markupsafe import Markup as SafeText

from dashboards.parts.controls import folded
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn, pressing, still
from dashboards.shell.access import require
from dashboards.walks.which_walk import WANTED, Filled, icon, reasons_of
from gaittrack.report.svg_marks import text_at
from gaittrack.study.recordings.reviewing import ListedTrial, trials_of_person
from gaittrack.study.recordings.visit_curves import CurvesOfWalks, visit_curves
from gaittrack.study.store import Study
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Joint, Side

ROW, TOLD, OF = "walks-row", "walks-row-told", "walks-row-of"
_WIDE, _HIGH = 150.0, 54.0
_CALLED: Final[dict[Joint, str]] = {
    "ankle": "ankle",
    "knee": "knee",
    "hip_thigh_vertical": "thigh",
    "hip_pelvis_thigh": "hip",
}


def places() -> list[Component]:
    """Return the place of the row, folded, and the store of what it shows."""
    row = folded("The walks of this visit side by side", html.Div(id=ROW), className="card")
    stores = [dcc.Store(id=TOLD), dcc.Store(id=OF)]
    return [html.Div(row, className="walks-side-by-side no-print"), *stores]


def filled(trials: Sequence[ListedTrial], now: ListedTrial) -> list[Filled]:
    """Return whose row is shown: what it is drawn from, so that it is asked for when that changes.

    Parameters
    ----------
    trials : sequence of ListedTrial
        Of the person.
    now : ListedTrial
        Which is shown.
    """
    walks = [[each.trial.id, each.trial.version] for each in trials if _is_beside(each, now)]
    told = {"person": now.person_id, "visit": now.visit_id, "walks": walks}
    return [(TOLD, {"data": told})]


def register(app: Dash, study: Study) -> None:
    """Register the callback."""
    app.clientside_callback(
        ClientsideFunction("walks", "other"),
        Output(OF, "data"),
        Input(TOLD, "data"),
        State(OF, "data"),
    )

    @app.callback(Output(ROW, "children"), Input(OF, "data"), prevent_initial_call=True)
    def fill(of: Mapping[str, Any] | None) -> Any:
        require("view")
        if not of:
            return []
        visit = int(of["visit"])
        with study.read() as connection:
            trials = trials_of_person(connection, int(of["person"]))
            joint, curves = visit_curves(connection, visit)
        walks = [each for each in trials if each.visit_id == visit and each.kind == "walk"]
        return still(row_parts(walks, joint, curves))


def _is_beside(one: ListedTrial, now: ListedTrial) -> bool:
    return one.visit_id == now.visit_id and one.kind == "walk"


def row_parts(walks: Sequence[ListedTrial], joint: Joint, curves: CurvesOfWalks) -> list[Component]:
    """Return a line that says what is drawn, and a button for each walk."""
    known = [own for sides in curves.values() for own in sides.values()]
    every = np.concatenate([own.ravel() for own in known]) if known else np.zeros(1)
    low, high = float(np.nanmin(every)), float(np.nanmax(every))
    told = (
        f"Every kept stride of the {_CALLED[joint]}, 0 to 100 % of the cycle, left over right; "
        f"all from {low:.0f}° to {high:.0f}°."
    ).replace("-", "\u2212")
    buttons = [_button(each, curves.get(each.trial.id, {}), (low, high)) for each in walks]
    return [html.P(told, className="soft"), html.Div(buttons, className="walks-small")]


def _button(
    one: ListedTrial, own: Mapping[Side, FloatArray], span: tuple[float, float]
) -> Component:
    graphs = [_graph(side, own.get(side), span) for side in SIDES]
    state = reasons_of(one) or f"{one.n_counted} of {one.n_strides} strides counted"
    name = html.B(f"{one.trial.condition}, {one.trial.code}")
    head = html.Span([icon("waits" if one.reasons else "done"), name])
    act = pressing(WANTED, {"level": "trial", "value": one.trial.id})
    return html.Button([head, *graphs, html.Small(state)], **act)


def _graph(side: Side, strides: FloatArray | None, span: tuple[float, float]) -> Component:
    """Return the strides of one leg as thin lines; words where there are none."""
    low, high = span
    told = [_line(stride, low, high) for stride in (() if strides is None else strides)]
    words = text_at(3, 12, side[0].upper()) if told else text_at(4, 30, f"{side}: no curve")
    inside = SafeText("".join([*told, words]))
    return Markup(drawn("parts.drawing", f"0 0 {_WIDE:g} {_HIGH:g}", inside))


def _line(stride: FloatArray, low: float, high: float) -> str:
    up = _HIGH - 3 - (stride - low) / max(high - low, 1.0) * (_HIGH - 6)
    across = np.linspace(0, _WIDE, len(stride))
    known = ((x, y) for x, y in zip(across, up, strict=True) if np.isfinite(y))
    places = " ".join(f"{x:.1f} {y:.1f}" for x, y in known)
    return f'<polyline points="{places}"/>'
