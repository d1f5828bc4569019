"""The stick figure of a whole walk, to be moved along with a time cursor.

In comes a measured walk with markers, out come the legs at every instant as plain numbers, and the
figure of the first. Points are those that angles are measured from, smoothed at 6 Hz.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np

from gaittrack.figures.condition_styles import Figure, plain_layout
from gaittrack.figures.pieces import TO_SCALE, axis
from gaittrack.figures.plain_numbers import plain_numbers
from gaittrack.figures.walk_replay import FRAMES_PER_S, LEG, floor_m, has_leg
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Side

MOST_FRAMES: Final = 3000
"""Instants of one replay; a longer recording shows fewer per second. Own choice, for size."""
_GREY: Final = "#767676"
_LOOKS: Final[dict[Side, tuple[str, str, str]]] = {
    "left": ("solid", "circle", "bottom right"),
    "right": ("6px,4px", "circle-open", "top right"),
}
"""Line and point of each leg, and where its name stands at the toe."""
_TOE: Final = 1 + LEG.index("toe_point")


def why_no_replay(walk: MeasuredWalk) -> str:
    """Return why there is no stick figure of a walk; empty when there is one."""
    if not walk.trial.markers:
        return "The file holds joint angles and no markers: there is nothing to replay."
    if "pelvis" not in walk.motion.points:
        return "No pelvis marker was found: there is no stick figure to replay."
    if not any(has_leg(walk, side) for side in SIDES):
        return "Neither leg was seen from hip to toe: there is no stick figure to replay."
    return ""


def stick_frames(walk: MeasuredWalk) -> dict[str, Any]:
    """Return the legs at every instant.

    Parameters
    ----------
    walk : MeasuredWalk
        One for which :func:`why_no_replay` is empty.

    Returns
    -------
    dict
        ``step_s``: seconds from one instant to the next; ``x`` and ``y``: per leg, per instant the
        places of its joined points in metres, ahead of the pelvis and above the floor.
    """
    motion = walk.motion
    step = max(1, round(motion.rate_hz / FRAMES_PER_S), math.ceil(motion.n_frames / MOST_FRAMES))
    frames = np.arange(0, motion.n_frames, step)
    legs = [_leg(walk, side)[frames] for side in SIDES if has_leg(walk, side)]
    return {
        "step_s": step / motion.rate_hz,
        "x": [plain_numbers(leg[:, :, 0], 3) for leg in legs],
        "y": [plain_numbers(leg[:, :, 1], 3) for leg in legs],
    }


def _leg(walk: MeasuredWalk, side: Side) -> FloatArray:
    """Return pelvis and leg of every frame, shape (n_frames, n_points, 2)."""
    points = walk.motion.points
    pelvis = points["pelvis"]
    origin = np.column_stack([pelvis[:, 0], np.full(len(pelvis), floor_m(walk, side))])
    joined = [pelvis, *(points[f"{side}_{name}"] for name in LEG)]
    leg: FloatArray = np.stack([xyz[:, [0, 2]] - origin for xyz in joined], axis=1)
    return leg


def draw_stick_figure(walk: MeasuredWalk, frames: dict[str, Any]) -> Figure:
    """Draw the first instant of a walk.

    Parameters
    ----------
    frames : dict
        From :func:`stick_frames`.

    Returns
    -------
    Figure
        One line per leg, in the order of ``frames``; both axes in metres of one length.
    """
    sides = [side for side in SIDES if has_leg(walk, side)]
    x, y = (
        [value for leg in frames[key] for line in leg for value in line if value is not None]
        for key in ("x", "y")
    )
    return {
        "data": [_leg_trace(side, frames, number) for number, side in enumerate(sides)],
        "layout": plain_layout(
            margin={"l": 36, "r": 12, "t": 16, "b": 28},
            xaxis=axis(
                "",
                range=[round(min(x, default=0) - 0.15, 2), round(max(x, default=0) + 0.15, 2)],
                fixedrange=True,
            ),
            yaxis=axis(
                "",
                range=[-0.08, round(max(y, default=1) + 0.1, 2)],
                **TO_SCALE,
                fixedrange=True,
            ),
            showlegend=False,
        ),
    }


def _leg_trace(side: Side, frames: dict[str, Any], number: int) -> Figure:
    dash, symbol, place = _LOOKS[side]
    n_points = 1 + len(LEG)
    return {
        "type": "scatter",
        "mode": "lines+markers+text",
        "name": f"{side} leg",
        "x": frames["x"][number][0],
        "y": frames["y"][number][0],
        "text": [side if point == _TOE else "" for point in range(n_points)],
        "textposition": place,
        "line": {"color": _GREY, "dash": dash, "width": 4},
        "marker": {"color": _GREY, "symbol": symbol, "size": 8},
        "hovertemplate": "%{fullData.name}: %{x:.2f} m ahead, %{y:.2f} m up<extra></extra>",
    }
