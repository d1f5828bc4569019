"""The stick figure of the walk and the time cursor it moves with.

In comes a measured walk, out come its figure, a slider and a button; what moves them is in
``assets/walks.js``, so that nothing is asked of the server while it plays.
"""

from __future__ import annotations

import json
from typing import Any, Final

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboards.controls import data, places_of
from dashboards.markup import Markup
from gaittrack.figures.stick_figure import draw_stick_figure, stick_frames, why_no_replay
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.report.svg_chart import draw_svg, frame_of
from gaittrack.report.svg_marks import dashes

PLAYER: Final = "walks-player"
_PACES: Final = (("1", "as walked"), ("0.5", "half as fast"), ("0.2", "a fifth as fast"))


def frames_of(walk: MeasuredWalk) -> dict[str, Any] | None:
    """Return the stick figure at every instant; None when there is nothing to replay."""
    return None if why_no_replay(walk) else stick_frames(walk)


def replay(walk: MeasuredWalk, frames: dict[str, Any] | None) -> Component:
    """Return the stick figure with its slider, or why there is none.

    Parameters
    ----------
    walk : MeasuredWalk
        Recorded over time.
    frames : dict or None
        From :func:`frames_of`.

    Returns
    -------
    Component
    """
    last_ms = int(1000 * walk.trial.duration_s)
    figure: list[Component] = [html.P(why_no_replay(walk))]
    if frames is not None:
        figure = [_stick(walk, frames)]
    return html.Section(
        [
            html.H3("Replay"),
            *figure,
            html.Div(
                ["Time cursor: ", html.Strong("0.000 s", id="walks-now")], className="walks-clock"
            ),
            dmc.Slider(
                id={"type": PLAYER, "name": "time"},
                min=0,
                max=last_ms,
                step=10,
                value=0,
                label=None,
                updatemode="drag",
                thumbLabel="Time cursor in milliseconds",
                size="md",
            ),
            html.Div(_controls(), className="row"),
        ],
        className="walks-replay no-print",
    )


def _stick(walk: MeasuredWalk, frames: dict[str, Any]) -> Component:
    """Return the axes, with what ``assets/walks.js`` draws the legs by."""
    drawn = draw_stick_figure(walk, frames)
    axes = {"data": [], "layout": drawn["layout"]}
    caption = "Left leg solid, right leg dashed, seen from the right; the pelvis stays."
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
    return html.Figure(
        [Markup(draw_svg(axes, label=caption)), html.Figcaption(caption)],
        id="walks-stick",
        className="picture",
        **data(frame=json.dumps(places_of(frame_of(axes))), legs=json.dumps(legs)),
    )


def _controls() -> list[Component]:
    return [
        html.Button("Play", id={"type": PLAYER, "name": "play"}),
        dmc.Select(
            id={"type": PLAYER, "name": "pace"},
            label="Pace",
            data=[{"value": value, "label": words} for value, words in _PACES],
            value="0.5",
            allowDeselect=False,
            size="md",
            className="walks-time",
        ),
    ]
