"""Is a walk well measured? Its feet over time, with every event by source and every stride.

In comes a measured walk, out comes one figure per side: heights and speeds of heel and toe, or the
joint angles where there are no foot markers; event lines, what other sources saw, strides that are
not counted. A side's event lines are the figure's only shapes, in the order of
``event_lines.events_of``.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from gaittrack.cycles import Cycle
from gaittrack.figures.condition_styles import Figure, Style, plain_layout
from gaittrack.figures.curves_figure import JOINT_TITLES
from gaittrack.figures.event_lines import event_lines, other_sources
from gaittrack.figures.pieces import axis, line, outline
from gaittrack.figures.plain_numbers import plain_numbers
from gaittrack.kinematics.sagittal_angles import UP
from gaittrack.kinematics.smoothing import velocity
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint, Side

MOST_SAMPLES: Final = 6000
"""Samples of a line beyond which every second, third … is drawn; own choice, for the size."""
FIRST_SHOWN_S: Final = 10.0
"""Seconds of a long recording that are shown at first, so that its lines can be told apart."""
_ANGLES: Final[tuple[Joint, ...]] = ("ankle", "knee", "hip_pelvis_thigh", "hip_thigh_vertical")
_GREY: Final = "#767676"
"""Told from white and from the dark screen alike; heel and toe differ by their line."""
_ENDS: Final = (("heel", "heel", "solid"), ("toe_point", "toe", "5px,3px"))
_NOT_COUNTED_FILL: Final = "rgba(128,128,128,0.14)"
_REASON_WIDTH: Final = 40
_PANEL_GAP: Final = 0.06
_MM_PER_M: Final = 1000.0


@dataclass(frozen=True, eq=False, slots=True)
class _Line:
    name: str
    dash: str
    values: FloatArray


@dataclass(frozen=True, eq=False, slots=True)
class _Panel:
    title: str
    lines: tuple[_Line, ...]
    decimals: int


def has_feet(walk: MeasuredWalk, side: Side) -> bool:
    """Tell whether heel or toe of a side was seen."""
    return any(f"{side}_{key}" in walk.motion.fast_points for key, _, _ in _ENDS)


def draw_side(walk: MeasuredWalk, side: Side) -> Figure:
    """Draw one foot over time, or the angles of its leg.

    Parameters
    ----------
    walk : MeasuredWalk
        Recorded over time.

    Returns
    -------
    Figure
        Time in seconds from the first stored frame; heights in mm of the laboratory, speeds in m/s
        (on a treadmill against its belt), low-passed at 15 Hz; angles in degrees as measured.
    """
    panels = _foot_panels(walk, side) if has_feet(walk, side) else _angle_panels(walk, side)
    cycles = [cycle for cycle in walk.cycles if cycle.side == side]
    n_kept = sum(cycle.is_kept for cycle in cycles)
    strides = "stride" if len(cycles) == 1 else "strides"
    layout = plain_layout(
        title={
            "text": f"{side.capitalize()} side: {n_kept} of {len(cycles)} {strides} counted",
            "x": 0,
            "xref": "paper",
        },
        margin={"l": 56, "r": 12, "t": 76, "b": 72},
        xaxis=axis(
            "Time (s)",
            range=[0, round(min(walk.trial.duration_s, FIRST_SHOWN_S), 3)],
            anchor="y",
        ),
        yaxis={"visible": False, "range": [0, 1], "fixedrange": True, "domain": [0, 1]},
        shapes=event_lines(walk, side),
        annotations=[_stride_name(cycle, walk, cycles[-1]) for cycle in cycles],
        dragmode="zoom",
        showlegend=True,
        legend={"orientation": "h", "x": 0, "yref": "container", "y": 0, "yanchor": "bottom"},
        **_axes(panels),
    )
    traces = [_not_counted(cycle, walk) for cycle in cycles if not cycle.is_kept]
    for number, panel in enumerate(panels, 2):
        traces += [_trace(each, panel, walk, number) for each in panel.lines]
    return {"data": [*traces, *other_sources(walk, side)], "layout": layout}


def _foot_panels(walk: MeasuredWalk, side: Side) -> list[_Panel]:
    points = {
        (name, dash): walk.motion.fast_points[f"{side}_{key}"]
        for key, name, dash in _ENDS
        if f"{side}_{key}" in walk.motion.fast_points
    }
    heights = [_Line(name, dash, xyz[:, UP] * _MM_PER_M) for (name, dash), xyz in points.items()]
    speeds = [_Line(name, dash, _speed(walk, xyz)) for (name, dash), xyz in points.items()]
    return [
        _Panel("Height (mm)", tuple(heights), 1),
        _Panel("Speed (m/s)", tuple(speeds), 3),
    ]


def _speed(walk: MeasuredWalk, xyz: FloatArray) -> FloatArray:
    """Return a point's speed; none where the direction of progression changes between passes."""
    speed: FloatArray = np.linalg.norm(velocity(xyz, walk.motion.rate_hz), axis=1)
    if walk.motion.axes is not None:
        turns = np.any(np.diff(walk.motion.axes.forward, axis=0) != 0, axis=1)
        speed[:-1][turns] = speed[1:][turns] = np.nan
    return speed


def _angle_panels(walk: MeasuredWalk, side: Side) -> list[_Panel]:
    found = [(joint, walk.motion.angles.get((side, joint))) for joint in _ANGLES]
    return [
        _Panel(
            f"{JOINT_TITLES[joint][0].partition(',')[0]} (deg)",
            (_Line("{} ({})".format(*JOINT_TITLES[joint]), "solid", signal.values),),
            2,
        )
        for joint, signal in found
        if signal is not None
    ]


def _axes(panels: Sequence[_Panel]) -> Figure:
    """Return one value axis per panel, the first on top."""
    axes = {}
    height = 1 / max(len(panels), 1)
    for number, panel in enumerate(panels):
        top = 1 - number * height
        domain = [round(max(top - height + _PANEL_GAP, 0), 3), round(top, 3)]
        axes[f"yaxis{number + 2}"] = axis(panel.title, domain=domain, anchor="x", fixedrange=True)
    return axes


def _trace(drawn: _Line, panel: _Panel, walk: MeasuredWalk, number: int) -> Figure:
    step = math.ceil(len(drawn.values) / MOST_SAMPLES)
    frames = np.arange(0, len(drawn.values), step)
    return line(
        plain_numbers(frames / walk.motion.rate_hz, 4),
        plain_numbers(drawn.values[frames], panel.decimals),
        Style(_GREY, drawn.dash),
        2,
        name=drawn.name,
        yaxis=f"y{number}",
        hovertemplate="%{y} at %{x:.3f} s",
        showlegend=number == 2 or drawn.name not in ("heel", "toe"),
    )


def _bounds_s(cycle: Cycle, walk: MeasuredWalk) -> tuple[float, float]:
    """Return where a stride is drawn; one without an end reaches to the end of the recording."""
    end_s = walk.trial.duration_s if math.isnan(cycle.end_s) else cycle.end_s
    return round(float(cycle.start_s), 4), round(float(end_s), 4)


def _not_counted(cycle: Cycle, walk: MeasuredWalk) -> Figure:
    start_s, end_s = _bounds_s(cycle, walk)
    reasons = "; ".join(map(str, cycle.reject_reasons))
    text = textwrap.wrap(f"{cycle.id} is not counted: {reasons}", _REASON_WIDTH)
    return outline(
        [start_s, end_s, end_s, start_s, start_s],
        [0, 0, 1, 1, 0],
        _NOT_COUNTED_FILL,
        name=f"{cycle.id} not counted",
        fillpattern={"shape": "/", "fgcolor": _GREY, "fgopacity": 0.35, "size": 10},
        hoveron="fills",
        text="<br>".join(text),
        hoverinfo="text",
        showlegend=False,
    )


def _stride_name(cycle: Cycle, walk: MeasuredWalk, last: Cycle) -> Figure:
    """Return a stride's name over its middle; the last one's ends with it, so that none is cut."""
    start_s, end_s = _bounds_s(cycle, walk)
    is_last = cycle is last
    return {
        "text": cycle.id if cycle.is_kept else f"{cycle.id}<br>not counted",
        "x": end_s if is_last else round((start_s + end_s) / 2, 3),
        "xanchor": "right" if is_last else "center",
        "xref": "x",
        "y": 1,
        "yref": "paper",
        "yanchor": "bottom",
        "showarrow": False,
        "font": {"size": 11},
    }
