"""Walk replay: stick figures side by side, and the toe's path to scale over the floor.

In come measured walks with markers, out come one cycle of each as plain numbers, and figures of
them. Points are those that were measured from: the recording's own markers, smoothed at 6 Hz, and
the joint centres made of them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from gaittrack.cycles import Cycle
from gaittrack.figures.condition_styles import UNDER_TWO_LINES, Figure, Style, plain_layout
from gaittrack.figures.pieces import TO_SCALE, axis, line
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import SIDES, Side, opposite

FRAMES_PER_S: Final = 50.0
"""Frames shown per second; faster recordings are thinned out. Own choice, for the page's size."""
LEG: Final = ("hip_centre", "knee_centre", "ankle_centre", "heel", "toe_point", "ankle_centre")
"""Order in which the points of a leg are joined."""
_MM_PER_M: Final = 1000.0
_LEAST_HEIGHT_PER_LENGTH: Final = 0.18
"""Height of the drawing of the toe's path against its length, so that its axis can be read."""


@dataclass(frozen=True, eq=False, slots=True)
class Replay:
    """One cycle of one walk, seen from the side.

    Attributes
    ----------
    side : {"left", "right"}
        The leg whose cycle it is.
    n_cycles : int
        Kept cycles of this side in the walk it was taken from.
    time_s : ndarray, shape (n_frames,)
        From initial contact.
    legs : mapping of side to ndarray, shape (n_frames, n_joined, 2)
        Forward and up in metres, forward from the pelvis, up from the floor.
    trunk : ndarray, shape (n_frames, 2)
        Centre of the pelvis.
    toe_path : ndarray, shape (n_frames_of_swing, 2)
        Forward from where the toe left, and up from its height in foot-flat, metres.
    """

    condition: str
    cycle: str
    side: Side
    n_cycles: int
    time_s: FloatArray
    legs: Mapping[Side, FloatArray]
    trunk: FloatArray
    toe_path: FloatArray


def find_replay(condition: str, walks: Sequence[MeasuredWalk], side: Side) -> Replay | None:
    """Return the middle kept cycle of the first walk in which a leg can be drawn.

    Returns
    -------
    Replay or None
        None when no walk has the markers for it.
    """
    for walk in walks:
        kept = [cycle for cycle in walk.cycles if cycle.is_kept and cycle.side == side]
        timed = [cycle for cycle in kept if not cycle.from_curve]
        if not timed or not has_leg(walk, side) or "pelvis" not in walk.motion.points:
            continue
        return _replay(condition, walk, timed[len(timed) // 2], len(kept))
    return None


def has_leg(walk: MeasuredWalk, side: Side) -> bool:
    """Tell whether every point of a leg was seen."""
    return all(f"{side}_{name}" in walk.motion.points for name in LEG)


def _replay(condition: str, walk: MeasuredWalk, cycle: Cycle, n_cycles: int) -> Replay:
    motion = walk.motion
    step = max(1, round(motion.rate_hz / FRAMES_PER_S))
    frames = np.arange(_frame(walk, cycle.start_s), _frame(walk, cycle.end_s) + 1, step)
    pelvis = motion.points["pelvis"][frames]
    origin = np.column_stack([pelvis[:, 0], np.full(len(frames), floor_m(walk, cycle.side))])
    legs = {
        side: np.stack(
            [motion.points[f"{side}_{name}"][frames][:, [0, 2]] - origin for name in LEG], axis=1
        )
        for side in SIDES
        if has_leg(walk, side)
    }
    return Replay(
        condition=condition,
        cycle=cycle.id,
        side=cycle.side,
        n_cycles=n_cycles,
        time_s=(frames - frames[0]) / motion.rate_hz,
        legs=legs,
        trunk=pelvis[:, [0, 2]] - origin,
        toe_path=_toe_path(walk, cycle),
    )


def _frame(walk: MeasuredWalk, time_s: float) -> int:
    return min(round(time_s * walk.motion.rate_hz), walk.motion.n_frames - 1)


def floor_m(walk: MeasuredWalk, side: Side) -> float:
    """Return the height of the lower of heel and toe while the foot is flat."""
    points = walk.motion.points
    flat = _flat(walk, side)
    heights = [
        float(np.nanmean(points[f"{side}_{name}"][flat, 2])) for name in ("heel", "toe_point")
    ]
    return min(heights)


def _flat(walk: MeasuredWalk, side: Side) -> BoolArray:
    """Return frames of foot-flat; where none was found, those in which the toe is lowest."""
    flat = walk.motion.foot_flat.get(side)
    height = walk.motion.points[f"{side}_toe_point"][:, 2]
    if flat is not None and (flat & np.isfinite(height)).any():
        return flat & np.isfinite(height)
    lowest: BoolArray = height <= np.nanpercentile(height, 10)
    return lowest


def _toe_path(walk: MeasuredWalk, cycle: Cycle) -> FloatArray:
    if math.isnan(cycle.toe_off_s):
        return np.empty((0, 2))
    toe = walk.motion.points[f"{cycle.side}_toe_point"][:, [0, 2]]
    zero = float(np.nanmean(toe[_flat(walk, cycle.side), 1]))
    path = toe[_frame(walk, cycle.toe_off_s) : _frame(walk, cycle.end_s) + 1]
    start: FloatArray = path - np.array([path[0, 0], zero])
    return start


def draw_toe_paths(replays: Sequence[Replay], styles: Mapping[str, Style]) -> Figure:
    """Draw the toe's path through swing over the floor, to scale.

    Returns
    -------
    Figure
        Both axes in millimetres of the same length.
    """
    shown = [replay for replay in replays if len(replay.toe_path)]
    traces = [_path_trace(replay, styles[replay.condition]) for replay in shown]
    steps = ", ".join(f"{replay.condition} 1 step of {replay.n_cycles}" for replay in shown)
    return {
        "data": traces,
        "layout": plain_layout(
            title={"text": "Path of the toe in swing, to scale", "subtitle": {"text": steps}},
            xaxis=axis("Forward from toe-off (mm)"),
            yaxis=axis("Above foot-flat (mm)", range=_height_range_mm(shown), **TO_SCALE),
            showlegend=True,
            legend={"orientation": "h", "y": -0.5, "yanchor": "top"},
            margin=UNDER_TWO_LINES,
        ),
    }


def _height_range_mm(shown: Sequence[Replay]) -> list[float]:
    """Return the heights to draw: all that occur, and room enough above."""
    if not shown:
        return [0.0, 1.0]
    paths = np.concatenate([replay.toe_path for replay in shown]) * _MM_PER_M
    low, high = float(np.nanmin(paths[:, 1])) - 10, float(np.nanmax(paths[:, 1])) + 10
    length = float(np.nanmax(paths[:, 0]) - np.nanmin(paths[:, 0]))
    return [round(low, 1), round(max(high, low + _LEAST_HEIGHT_PER_LENGTH * length), 1)]


def _path_trace(replay: Replay, style: Style) -> Figure:
    path = np.round(replay.toe_path * _MM_PER_M, 1)
    return line(path[:, 0].tolist(), path[:, 1].tolist(), style, 2, name=replay.condition)


def draw_replay(replay: Replay, style: Style) -> Figure:
    """Draw the stick figure of one cycle, with one frame per instant.

    Parameters
    ----------
    style : Style
        Of its condition.

    Returns
    -------
    Figure
        With ``frames`` named by their time.
    """
    names = [*(side for side in (opposite(replay.side), replay.side) if side in replay.legs)]
    instants: list[Figure] = [
        {"name": f"{time:.2f}", "data": [_leg_xy(replay, side, frame) for side in names]}
        for frame, time in enumerate(replay.time_s)
    ]
    first = [
        {**leg, **_leg_look(replay, side, style)}
        for side, leg in zip(names, instants[0]["data"], strict=True)
    ]
    everything = np.concatenate([leg.reshape(-1, 2) for leg in replay.legs.values()])
    low, high = np.nanmin(everything, axis=0), np.nanmax(everything, axis=0)
    return {
        "data": first,
        "layout": plain_layout(
            title={
                "text": replay.condition,
                "subtitle": {"text": f"1 {replay.side} step of {replay.n_cycles}"},
            },
            xaxis=axis(
                "Ahead of the pelvis (m)",
                range=[round(float(low[0]) - 0.1, 2), round(float(high[0]) + 0.1, 2)],
            ),
            yaxis=axis(
                "Above the floor (m)",
                range=[-0.05, round(float(high[1]) + 0.1, 2)],
                **TO_SCALE,
            ),
            legend={"orientation": "h", "y": -0.22, "yanchor": "top"},
            margin=UNDER_TWO_LINES,
        ),
        "frames": instants,
    }


def share_ranges(figures: Sequence[Figure]) -> None:
    """Give all stick figures the same axes."""
    for name in ("xaxis", "yaxis"):
        ranges = [figure["layout"][name]["range"] for figure in figures]
        both = [min(low for low, _ in ranges), max(high for _, high in ranges)]
        for figure in figures:
            figure["layout"][name]["range"] = both


def _leg_xy(replay: Replay, side: Side, frame: int) -> Figure:
    points = np.vstack([replay.trunk[frame][None, :], replay.legs[side][frame]])
    return {
        "type": "scatter",
        "x": [_coordinate(value) for value in points[:, 0]],
        "y": [_coordinate(value) for value in points[:, 1]],
    }


def _coordinate(value: float) -> float | None:
    return round(float(value), 3) if math.isfinite(value) else None


def _leg_look(replay: Replay, side: Side, style: Style) -> Figure:
    is_own = side == replay.side
    colour = style.colour if is_own else style.clear(0.35)
    return {
        "mode": "lines+markers",
        "name": f"{side} leg",
        "line": {"color": colour, "width": 4 if is_own else 2},
        "marker": {"color": colour, "size": 6 if is_own else 4},
    }
