"""The stick figure of the walk and the time cursor it moves with.

In comes a measured walk, out come its figure, a slider and a button; what moves them is in
``assets/walks.js``, so that nothing is asked of the server while it plays.
"""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component
from markupsafe import Markup as SafeText

from dashboards.parts.controls import choice, labelled, places_of
from dashboards.parts.saving import PICTURE, save_menu
from dashboards.walks.recording_view import is_over_time
from dashboards.walks.which_walk import Filled
from gaittrack.figures.stick_figure import draw_stick_figure, stick_frames, why_no_replay
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.report.html_parts import paragraph
from gaittrack.report.svg_chart import draw_svg, frame_of
from gaittrack.report.svg_marks import dashes

PLAYER: Final = "walks-player"
_PACES: Final = {"1": "as walked", "0.5": "half as fast", "0.2": "a fifth as fast"}
_CAPTION: Final = (
    "Metres ahead of the pelvis and above the floor. Left leg solid, right leg dashed, seen from "
    "the right."
)


def player() -> list[Component]:
    """Return the place of the stick figure with its slider and button, to be filled."""
    clock = html.Div(
        ["Time cursor: ", html.Strong("0.000 s", id="walks-now")], className="walks-clock"
    )
    slider = dmc.Slider(
        id=player_id("time"),
        min=0,
        max=1000,
        step=10,
        value=0,
        label=None,
        updatemode="drag",
        thumbLabel="Time cursor in milliseconds",
        size="md",
    )
    look = {"size": "md", "className": "walks-time"}
    pace = choice(player_id("pace"), "Pace", labelled(_PACES), "0.5", **look)
    button = html.Button("Play", id=player_id("play"))
    figure = html.Figure(id="walks-stick", className="picture")
    menu = save_menu("moment", PICTURE, of="#walks-stick", says="Save the moment")
    return [figure, clock, slider, html.Div([button, pace, menu], className="row")]


def player_id(name: str) -> dict[str, str]:
    """Return the id of one part of the player."""
    return {"type": PLAYER, "name": name}


def player_filled(walk: MeasuredWalk, *, is_other: bool) -> list[Filled]:
    """Return how far the time cursor goes; of another walk it stands at the beginning."""
    if not is_over_time(walk):
        return []
    limit: dict[str, Any] = {"max": int(1000 * walk.trial.duration_s)}
    return [(player_id("time"), limit | ({"value": 0} if is_other else {}))]


def replay(walk: MeasuredWalk) -> dict[str, Any]:
    """Return the stick figure at every instant, as ``assets/walks.js`` draws it.

    Parameters
    ----------
    walk : MeasuredWalk
        Recorded over time.

    Returns
    -------
    dict
        ``stick``: its axes as HTML, where data lie on them, and the look of each leg; or, as HTML,
        why there is none, and ``frames`` is None.
    """
    why = why_no_replay(walk)
    if why:
        return {"frames": None, "stick": {"html": paragraph(why)}}
    frames = stick_frames(walk)
    return {"frames": frames, "stick": _stick(walk, frames)}


def _stick(walk: MeasuredWalk, frames: dict[str, Any]) -> dict[str, Any]:
    drawn = draw_stick_figure(walk, frames)
    axes = {"data": [], "layout": drawn["layout"]}
    legs = [
        {
            "name": "".join(trace["text"]),
            "nameAt": next(place for place, text in enumerate(trace["text"]) if text),
            "colour": trace["line"]["color"],
            "dashes": dashes(trace["line"]["dash"]),
            "isOpen": trace["marker"]["symbol"].endswith("open"),
            "isAbove": trace["textposition"].startswith("top"),
        }
        for trace in drawn["data"]
    ]
    picture = draw_svg(axes, label=_CAPTION)
    words = SafeText("{}<figcaption>{}</figcaption>").format(picture, _CAPTION)
    return {"html": words, "frame": places_of(frame_of(axes)), "legs": legs}
