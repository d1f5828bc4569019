"""The curves of a sheet as they were given: every joint of one side over 0-100 % of the cycle.

In comes a measured sheet, out comes one figure per side with a panel per joint; curves that are not
counted are drawn apart, an angle whose sign is in doubt turned over too.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from gaittrack.compare.row_words import count_words
from gaittrack.cycles import Cycle
from gaittrack.figures.condition_styles import Figure, Style, plain_layout
from gaittrack.figures.curves_figure import JOINT_TITLES
from gaittrack.figures.pieces import ACCENT, INK, axis, line
from gaittrack.figures.quality import TURNED_OVER, joints_in_doubt
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.vocabulary import JOINTS, Joint, Side

_KEPT, _NOT_COUNTED = ("counted", "solid", 1), ("not counted", "dash", 1)
_TURNED: Final = (TURNED_OVER, "dot", -1)
"""How a group of curves is drawn: name, line, and the sign it is drawn with."""
_PANEL_GAP: Final = 0.08


def draw_sheet_curves(walk: MeasuredWalk, side: Side) -> Figure:
    """Draw the curves of one side.

    Returns
    -------
    Figure
        Per joint one line of all counted and one of all other curves, with gaps between cycles.
    """
    cycles = [cycle for cycle in walk.cycles if cycle.side == side and cycle.from_curve]
    joints = [joint for joint in JOINTS if any(joint in c.percent_curves for c in cycles)]
    doubted = joints_in_doubt(walk)
    kept = [cycle for cycle in cycles if cycle.is_kept]
    others = [cycle for cycle in cycles if not cycle.is_kept]
    traces = [
        _trace(group, joint, number, look)
        for number, joint in enumerate(joints, 1)
        for group, look in ((kept, _KEPT), (others, _NOT_COUNTED), (cycles, _TURNED))
        if group and (look is not _TURNED or joint in doubted)
    ]
    count = f"{len(kept)} of {count_words(len(cycles), 'cycle')} counted"
    layout = plain_layout(
        title={"text": f"{side.capitalize()} side: {count}", "x": 0, "xref": "paper"},
        xaxis=axis("Gait cycle (%)", range=[0, 100], anchor=_axis_name(len(joints))),
        showlegend=True,
        legend={"orientation": "h", "x": 1, "xanchor": "right", "y": 1.1},
        **_axes(joints),
    )
    return {"data": traces, "layout": layout}


def _axes(joints: Sequence[Joint]) -> Figure:
    height = 1 / max(len(joints), 1)
    axes = {}
    for number, joint in enumerate(joints):
        top = 1 - number * height
        title = f"{JOINT_TITLES[joint][0].partition(',')[0]} (°)"
        domain = [round(max(top - height + _PANEL_GAP, 0), 3), round(top, 3)]
        axes[f"yaxis{number + 1 if number else ''}"] = axis(title, domain=domain)
    return axes


def _axis_name(number: int) -> str:
    return f"y{number}" if number > 1 else "y"


def _trace(
    cycles: Sequence[Cycle], joint: Joint, number: int, look: tuple[str, str, int]
) -> Figure:
    name, dash, sign = look
    x: list[float | None] = []
    y: list[float | None] = []
    words: list[str] = []
    for cycle in cycles:
        values = cycle.percent_curves.get(joint)
        if values is None:
            continue
        x += [float(percent) for percent in range(len(values))] + [None]
        y += [round(sign * float(value), 2) for value in values] + [None]
        words += [cycle.label or cycle.id] * (len(values) + 1)
    return line(
        x,
        y,
        Style(INK if sign > 0 else ACCENT, dash),
        1.2,
        name=name,
        text=words,
        yaxis=_axis_name(number),
        hovertemplate="%{text}: %{y:.1f}° at %{x:.0f} %<extra></extra>",
        showlegend=number == 1 or look is _TURNED,
    )
