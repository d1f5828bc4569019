"""Is a walk well measured? Its feet over time, with every event by source and every stride.

In comes a measured walk, out comes one figure per side: heights and speeds of heel and toe and the
force of plates, or the joint angles where there are no foot markers, also turned over where a sign
is in doubt; event lines, what other sources saw, stance, strides that are not counted. A side's
event lines are the figure's only shapes, in the order of ``event_lines.events_of``.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from gaittrack.compare.row_words import count_words
from gaittrack.cycles import Cycle
from gaittrack.events.from_force import PlateHit, plate_hits
from gaittrack.figures.condition_styles import Figure, Style, plain_layout
from gaittrack.figures.curves_figure import JOINT_TITLES
from gaittrack.figures.event_lines import event_lines, events_of, other_sources
from gaittrack.figures.pieces import ACCENT, INK, axis, line, outline
from gaittrack.figures.plain_numbers import plain_numbers
from gaittrack.kinematics.sagittal_angles import UP
from gaittrack.kinematics.smoothing import velocity
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.read.sheets.angle_signs import joint_in_doubt
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint, Side

MOST_SAMPLES: Final = 6000
"""Samples of a line beyond which every second, third … is drawn; own choice, for the size."""
FIRST_SHOWN_S: Final = 10.0
"""Seconds of a long recording that are shown at first, so that its lines can be told apart."""
_ANGLES: Final[tuple[Joint, ...]] = ("ankle", "knee", "hip_pelvis_thigh", "hip_thigh_vertical")
_ENDS: Final = (("heel", "heel", "solid"), ("toe_point", "toe", "5px,3px"))
_SHADE: Final = "rgba(128,128,128,0.14)"
STANCE: Final = "stance"
TURNED_OVER: Final = "turned over"
_REASON_WIDTH: Final = 40
_SPEED, _FORCE = "Speed (m/s)", "Force (N)"
_PANEL_GAP: Final = 0.06
_MM_PER_M: Final = 1000.0


@dataclass(frozen=True, eq=False, slots=True)
class _Line:
    name: str
    dash: str
    values: FloatArray
    colour: str = INK


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
    strides = count_words(len(cycles), "stride")
    layout = plain_layout(
        title={
            "text": f"{side.capitalize()} side: {n_kept} of {strides} counted",
            "x": 0,
            "xref": "paper",
        },
        xaxis=axis(
            "Time (s)",
            range=[0, round(min(walk.trial.duration_s, FIRST_SHOWN_S), 3)],
            anchor="y",
        ),
        yaxis={"visible": False, "range": [0, 1], "fixedrange": True, "domain": [0, 1]},
        shapes=event_lines(walk, side),
        dragmode="zoom",
        showlegend=True,
        legend={"orientation": "h", "x": 0, "yref": "container", "y": 0, "yanchor": "bottom"},
        **_axes(panels),
    )
    traces = [_stance(*bounds) for bounds in _stances(walk, side)]
    traces += [_not_counted(cycle, walk) for cycle in cycles if not cycle.is_kept]
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
        _Panel(_SPEED, tuple(speeds), 3),
        *_force_panel(walk, side),
    ]


def _force_panel(walk: MeasuredWalk, side: Side) -> list[_Panel]:
    """Return the upward force of this foot's steps on plates, and of those that are nobody's."""
    lines = [
        _Line(
            hit.plate.name if hit.owner == side else f"{hit.plate.name}, no clean hit",
            "solid" if hit.owner == side else "dot",
            _force(walk, hit),
        )
        for hit in plate_hits(walk.motion)
        if hit.owner == side or isinstance(hit.owner, Reason)
    ]
    return [_Panel(_FORCE, tuple(lines), 0)] if lines else []


def _force(walk: MeasuredWalk, hit: PlateHit) -> FloatArray:
    """Return the force of one step at each frame, NaN before and after it."""
    times_s = np.arange(walk.trial.n_frames) / walk.motion.rate_hz
    own_s = np.arange(len(hit.load_n)) / hit.plate.rate_hz
    force: FloatArray = np.interp(times_s, own_s, hit.load_n)
    margin_s = 1 / walk.motion.rate_hz
    force[(times_s < hit.start_s - margin_s) | (times_s > hit.stop_s + margin_s)] = np.nan
    return force


def _speed(walk: MeasuredWalk, xyz: FloatArray) -> FloatArray:
    """Return a point's speed; none where the direction of progression changes between passes."""
    speed: FloatArray = np.linalg.norm(velocity(xyz, walk.motion.rate_hz), axis=1)
    if walk.motion.axes is not None:
        turns = np.any(np.diff(walk.motion.axes.forward, axis=0) != 0, axis=1)
        speed[:-1][turns] = speed[1:][turns] = np.nan
    return speed


def _angle_panels(walk: MeasuredWalk, side: Side) -> list[_Panel]:
    found = [(joint, walk.motion.angles.get((side, joint))) for joint in _ANGLES]
    doubted = joints_in_doubt(walk)
    panels = []
    for joint, signal in found:
        if signal is None:
            continue
        lines = [_Line("{} ({})".format(*JOINT_TITLES[joint]), "solid", signal.values)]
        if joint in doubted:
            lines.append(_Line(TURNED_OVER, "dot", -signal.values, ACCENT))
        name, sign = JOINT_TITLES[joint]
        title = f"{name.partition(',')[0]}, {sign} (°)"
        panels.append(_Panel(title, tuple(lines), 2))
    return panels


def joints_in_doubt(walk: MeasuredWalk) -> list[Joint]:
    """Return the angles whose sign a person should tell, in the order they were doubted."""
    return list(dict.fromkeys(filter(None, map(joint_in_doubt, walk.problems))))


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
        Style(drawn.colour, drawn.dash),
        2,
        name=drawn.name,
        yaxis=f"y{number}",
        hovertemplate="%{y} at %{x:.3f} s",
        showlegend=panel.title == _FORCE or (len(panel.lines) > 1 and panel.title != _SPEED),
    )


def _bounds_s(cycle: Cycle, walk: MeasuredWalk) -> tuple[float, float]:
    """Return where a stride is drawn; one without an end reaches to the end of the recording."""
    end_s = walk.trial.duration_s if math.isnan(cycle.end_s) else cycle.end_s
    return round(float(cycle.start_s), 4), round(float(end_s), 4)


def _stances(walk: MeasuredWalk, side: Side) -> Iterator[tuple[float, float]]:
    """Yield from when to when the foot is on the floor, as the events have it."""
    start_s: float | None = 0.0
    for event in events_of(walk, side):
        if event.kind == "initial_contact":
            start_s = event.time_s
        elif start_s is not None:
            yield start_s, event.time_s
            start_s = None
    if start_s:
        yield start_s, walk.trial.duration_s


def _stance(start_s: float, end_s: float) -> Figure:
    return outline(*_corners(start_s, end_s), _SHADE, name=STANCE, showlegend=False)


def _corners(start_s: float, end_s: float) -> tuple[list[float], list[int]]:
    first, last = round(float(start_s), 4), round(float(end_s), 4)
    return [first, last, last, first, first], [0, 0, 1, 1, 0]


def _not_counted(cycle: Cycle, walk: MeasuredWalk) -> Figure:
    reasons = "; ".join(map(str, cycle.reject_reasons))
    text = textwrap.wrap(f"{cycle.id} is not counted: {reasons}", _REASON_WIDTH)
    return outline(
        *_corners(*_bounds_s(cycle, walk)),
        _SHADE,
        name=f"{cycle.id} not counted",
        fillpattern={"shape": "/", "fgcolor": INK, "fgopacity": 0.35, "size": 10},
        hoveron="fills",
        text="<br>".join(text),
        hoverinfo="text",
        showlegend=False,
    )


def stride_lane(walk: MeasuredWalk, side: Side) -> list[dict[str, Any]]:
    """Return the strides of a side for the lane over the curves: name, from, to, counted."""
    own = [cycle for cycle in walk.cycles if cycle.side == side and not cycle.from_curve]
    lane = []
    for cycle in own:
        start_s, end_s = _bounds_s(cycle, walk)
        number = str(int(cycle.id.rpartition("-")[2]))
        lane.append({"name": number, "from": start_s, "to": end_s, "counted": cycle.is_kept})
    return lane
