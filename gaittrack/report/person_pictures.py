"""One picture per point of the page for the person: drawn from the numbers, nothing else.

In come a point, its walks and the words beside it, out comes SVG in millimetres of paper. Heights,
angles and lengths are to scale; shoe and leg around them are only a sketch. The page stays white
behind it, so that it looks on a dark screen as it does on paper.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

import numpy as np

from gaittrack.compare.walks import WalkRecord
from gaittrack.figures.condition_styles import Style, condition_styles
from gaittrack.report.person_points import Point, steps_of
from gaittrack.trial import FloatArray

WIDTH, HEIGHT = 84.0, 47.0
_LEGEND_Y: Final = (41.0, 45.2)
_PANEL_X: Final = (10.0, 48.0)
_INK, _SOFT = "#1b1b1b", "#8a8a8a"
_DASHES: Final = {"dash": "2.2 1.2", "dot": "0.6 0.9", "dashdot": "2.2 1 0.6 1"}
_FLOOR_Y: Final = 34.0
_SHOE_MM: Final = 10.0
_ROOM_MM: Final = 23.0
"""Paper for the height of the toes, below the shoe; heights are drawn 1 : 1 where they fit."""
MOMENT_S: Final = 0.05
"""Time in which the drawn foot turns at its fastest; own choice."""
_FOOT_MM: Final = 31.0
_SHIN_BEHIND_DEG: Final = 55.0
"""How the shin hangs in the sketch of a lifted leg."""


@dataclass(frozen=True, eq=False, slots=True)
class WayOfWalking:
    """One of the two ways of walking, as drawn.

    Attributes
    ----------
    when, said : str
        How it is called, and its value in words.
    steps : ndarray, shape (n_steps,)
        Values of single steps.
    """

    when: str
    said: str
    value: float
    steps: FloatArray
    style: Style


def draw_point(
    point: Point,
    records: Sequence[WalkRecord],
    *,
    labels: Sequence[tuple[str, str]],
    alt: str,
    floor: str,
) -> tuple[str, str]:
    """Draw the picture of a point.

    Parameters
    ----------
    labels : sequence of (str, str)
        What the reference and the condition are called, and their values in words.
    alt : str
        What it shows, for people who cannot see it.
    floor : str
        The word for the floor.

    Returns
    -------
    (str, str)
        SVG, and the key of the caption that belongs to it.
    """
    row = point.row
    names = (row.reference, row.condition)
    styles = condition_styles(names, row.reference)
    both = [
        WayOfWalking(*label, value, steps_of(records, name, row), styles[name])
        for label, value, name in zip(labels, (row.reference_value, row.value), names, strict=True)
    ]
    kind, parts = _parts(point, both, floor)
    legend = _under_panels(both) if kind in ("scale", "turn", "land") else _legend(both)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" '
        f'width="{WIDTH:g}mm" height="{HEIGHT:g}mm" role="img" aria-label="{escape(alt)}" '
        f'font-family="DejaVu Sans, Segoe UI, sans-serif" font-size="3.1" fill="{_INK}">'
        f'<rect width="{WIDTH:g}" height="{HEIGHT:g}" fill="#fff"/>'
    )
    return f"{head}{''.join(parts)}{''.join(legend)}</svg>", f"picture.{kind}"


def _parts(point: Point, both: Sequence[WayOfWalking], floor: str) -> tuple[str, Iterator[str]]:
    topic = point.topic.name
    if topic == "landing":
        is_pitch = point.row.measure == "foot_pitch_at_contact_deg"
        return ("land", _landings(both, floor)) if is_pitch else ("angle", _feet(both))
    if topic == "toe":
        return "scale", _toes(both, floor)
    if topic == "foot_down":
        return "turn", _turns(both, floor)
    if topic in _LIMBS:
        return "angle", _LIMBS[topic](both)
    return "usual", _bars(both)


def _legend(both: Sequence[WayOfWalking]) -> Iterator[str]:
    for y, one in zip(_LEGEND_Y, both, strict=True):
        yield _line((2, y - 1), (10, y - 1), one.style)
        yield _text(12, y, f"{one.when}: {one.said}")


def _under_panels(both: Sequence[WayOfWalking]) -> Iterator[str]:
    for x, one in zip(_PANEL_X, both, strict=True):
        yield _text(x, _LEGEND_Y[0], one.when)
        yield _text(x, _LEGEND_Y[1], one.said)


def _text(x: float, y: float, text: str, *, anchor: str = "start") -> str:
    return f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}">{escape(text)}</text>'


def _stroke(style: Style, width: float) -> str:
    dashes = f' stroke-dasharray="{_DASHES[style.dash]}"' if style.dash in _DASHES else ""
    return f'stroke="{style.colour}" stroke-width="{width:g}" fill="none"{dashes}'


def _line(
    start: tuple[float, float], end: tuple[float, float], style: Style, width: float = 0.9
) -> str:
    (x1, y1), (x2, y2) = start, end
    return f'<path d="M{x1:.2f} {y1:.2f}L{x2:.2f} {y2:.2f}" {_stroke(style, width)}/>'


def _floor_line(y: float, word: str) -> str:
    line = f'<path d="M2 {y:.2f}H{WIDTH - 2:g}" stroke="{_INK}" stroke-width="0.5"/>'
    return line + _text(WIDTH - 2, y + 3.2, word, anchor="end")


def _toes(both: Sequence[WayOfWalking], floor: str) -> Iterator[str]:
    """Draw two shoes over one ruler; each dot is the height of one step."""
    heights = np.concatenate([[0.0, *(one.value for one in both)], *(one.steps for one in both)])
    low, high = float(heights.min()), float(heights.max())
    scale = min(1.0, _ROOM_MM / max(high - low, 1.0))
    floor_y = _FLOOR_Y + scale * low
    yield _floor_line(floor_y, floor)
    step = 10 if high <= 40 else 20
    for mark in range(step, int(high) + step, step):
        y = floor_y - scale * mark
        yield f'<path d="M2 {y:.2f}H{WIDTH - 2:g}" stroke="#d8d8d8" stroke-width="0.25"/>'
        yield _text(2, y - 0.6, f"{mark} mm")
    for x, one in zip((16.0, 51.0), both, strict=True):
        y = floor_y - scale * one.value
        yield _shoe(x, y, one.style)
        for place, height in enumerate(one.steps):
            dot_x = x + 25.5 + 1.1 * (place % 5)
            dot_y = floor_y - scale * float(height)
            yield f'<circle cx="{dot_x:g}" cy="{dot_y:.2f}" r="0.45" fill="{one.style.colour}"/>'


def _shoe(x: float, y: float, style: Style) -> str:
    """Return the front of a shoe whose sole is at ``y``."""
    path = f"M{x:g} {y - _SHOE_MM:.2f}Q{x + 12:g} {y - 8:.2f} {x + 20:g} {y - 6:.2f}"
    path += f"Q{x + 25:g} {y - 4:.2f} {x + 23:g} {y:.2f}H{x:g}"
    return f'<path d="{path}" {_stroke(style, 0.8)} fill-opacity="0"/>'


def _turns(both: Sequence[WayOfWalking], floor: str) -> Iterator[str]:
    """Draw each foot ``MOMENT_S`` before it is down, turning about its heel at its value."""
    yield _floor_line(_FLOOR_Y, floor)
    for x, one in zip(_PANEL_X, both, strict=True):
        angle = math.radians(one.value * MOMENT_S)
        end = (x + _FOOT_MM * math.cos(angle), _FLOOR_Y - _FOOT_MM * math.sin(angle))
        for tip in (end, (x + _FOOT_MM, _FLOOR_Y)):
            yield _line((x, _FLOOR_Y), tip, one.style)
        yield f'<circle cx="{x:g}" cy="{_FLOOR_Y:g}" r="1.4" fill="{one.style.colour}"/>'


def _landings(both: Sequence[WayOfWalking], floor: str) -> Iterator[str]:
    """Draw each foot as it meets the floor: on its heel, or on its toes, never through it."""
    yield _floor_line(_FLOOR_Y, floor)
    for x, one in zip(_PANEL_X, both, strict=True):
        rise = _FOOT_MM * math.sin(math.radians(one.value))
        heel = (x, _FLOOR_Y - max(-rise, 0.0))
        toes = (x + _FOOT_MM * math.cos(math.radians(one.value)), _FLOOR_Y - max(rise, 0.0))
        yield _line(heel, toes, one.style, 1.1)
        yield _line(heel, _from(heel, 14, 180 + one.value), one.style, 0.6)
        at, _ = heel if one.value > 0 else toes
        yield f'<circle cx="{at:.2f}" cy="{_FLOOR_Y:g}" r="1.4" fill="{one.style.colour}"/>'


def _joint(x: float, y: float) -> str:
    return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="1" fill="{_INK}"/>'


def _grey(points: Sequence[tuple[float, float]], *, dashed: bool = False) -> str:
    path = "L".join(f"{x:.2f} {y:.2f}" for x, y in points)
    dashes = ' stroke-dasharray="1 1"' if dashed else ""
    return f'<path d="M{path}" stroke="{_SOFT}" stroke-width="0.6" fill="none"{dashes}/>'


def _from(start: tuple[float, float], length: float, angle_deg: float) -> tuple[float, float]:
    """Return where a segment ends; 0 hangs straight down, forward (to the right) is positive."""
    angle = math.radians(angle_deg)
    return start[0] + length * math.sin(angle), start[1] + length * math.cos(angle)


def _thighs(both: Sequence[WayOfWalking]) -> Iterator[str]:
    hip = (34.0, 13.0)
    yield _grey([(34, 7), hip, (34, 36.5), (39, 36.5)])
    yield f'<circle cx="34" cy="4" r="3" stroke="{_SOFT}" stroke-width="0.6" fill="none"/>'
    for one in both:
        knee = _from(hip, 12, one.value)
        yield _line(hip, knee, one.style, 1.1)
        ankle = _from(knee, 12, one.value - _SHIN_BEHIND_DEG)
        yield _line(knee, ankle, one.style, 0.6)
        yield _line(ankle, _from(ankle, 5, one.value + 60), one.style, 0.6)
    yield _joint(*hip)


def _feet(both: Sequence[WayOfWalking]) -> Iterator[str]:
    ankle = (30.0, 20.0)
    yield _grey([(30, 2), ankle])
    yield _grey([ankle, (58, 20)], dashed=True)
    for one in both:
        yield _line(_from(ankle, 6, 270 + one.value), _from(ankle, 27, 90 + one.value), one.style)
    yield _joint(*ankle)


def _knees(both: Sequence[WayOfWalking]) -> Iterator[str]:
    hip = (36.0, 3.0)
    yield _grey([hip, (36, 35)], dashed=True)
    for one in both:
        knee = _from(hip, 16, one.value / 2)
        yield _line(hip, knee, one.style)
        yield _line(knee, _from(knee, 16, -one.value / 2), one.style)
    yield _joint(*hip)


_LIMBS: Final[dict[str, Callable[[Sequence[WayOfWalking]], Iterator[str]]]] = {
    "leg_lift": _thighs,
    "foot_up": _feet,
    "knee": _knees,
}


def _bars(both: Sequence[WayOfWalking]) -> Iterator[str]:
    longest = max(abs(one.value) for one in both) or 1.0
    for y, one in zip((8.0, 22.0), both, strict=True):
        width = abs(one.value) / longest * (WIDTH - 8)
        yield (f'<rect x="4" y="{y:g}" width="{width:.2f}" height="8" {_stroke(one.style, 0.8)}/>')
