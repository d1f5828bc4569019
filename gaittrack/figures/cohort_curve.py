"""The mean change of an angle over the people of a cohort, along the cycle, with where it is not 0.

In comes a :class:`CohortCurve`, out comes a figure whose title is its answer, or the numbers of it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from gaittrack.cohort.asking.mean_curves import CohortCurve
from gaittrack.figures.condition_styles import OTHER_STYLES, UNDER_TWO_LINES, Figure, plain_layout
from gaittrack.figures.curves_figure import BAND, DIFFER_FILL, JOINT_TITLES
from gaittrack.figures.pieces import axis, box, line, outline
from gaittrack.figures.plain_numbers import plain_numbers

_STYLE: Final = OTHER_STYLES[0]
"""That of the condition, as of its difference in a comparison."""
_BAND_OPACITY: Final = 0.18
_FOOT: Final = (0.0, 0.03)
"""Height of the bars where the band leaves out 0, as shares of the panel."""


def draw_cohort_curve(curve: CohortCurve) -> Figure:
    """Draw mean and simultaneous band of the change; bars at the foot where it is not 0."""
    title, direction = JOINT_TITLES[curve.joint]
    percent = _percent(curve)
    mean, low, high = (plain_numbers(each, 2) for each in _lines(curve))
    traces = []
    if curve.band.reason is None:
        around = [*percent, *percent[::-1]]
        fill = _STYLE.clear(_BAND_OPACITY)
        name = "simultaneous 95 % band"
        traces.append(outline(around, [*high, *low[::-1]], fill, name=name, meta=BAND))
    traces.append(line(percent, mean, _STYLE, 2.5, name="mean change"))
    layout = plain_layout(
        title={
            "text": f"{title}: {_where(curve)}",
            "subtitle": {"text": f"mean change, people: {len(curve.people)}"},
        },
        xaxis=axis("Gait cycle (%)", range=[0, 100], dtick=20),
        yaxis=axis(f"Change (deg), {direction}", zeroline=True),
        margin=UNDER_TWO_LINES,
        shapes=[box(*each, _FOOT, DIFFER_FILL, "not 0") for each in curve.stretches],
        showlegend=False,
    )
    return {"data": traces, "layout": layout}


def curve_rows(curve: CohortCurve) -> list[list[str]]:
    """Return the numbers of the drawing: per cent of the cycle, mean, ends of the band."""
    columns = zip(_percent(curve), *_lines(curve), strict=True)
    return [[f"{at:.0f}", *(_text(value) for value in values)] for at, *values in columns]


def _lines(curve: CohortCurve) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return curve.band.mean, curve.band.low, curve.band.high


def _text(value: float) -> str:
    return f"{value:+.2f}" if np.isfinite(value) else "-"


def _percent(curve: CohortCurve) -> list[float]:
    return [float(each) for each in np.linspace(0, 100, len(curve.band.mean))]


def _where(curve: CohortCurve) -> str:
    """Return the answer in a few words."""
    if curve.band.reason is not None:
        return "too few people for a band"
    if not curve.stretches:
        return "nowhere is a mean change shown"
    last = len(curve.band.mean) - 1
    parts = []
    for start, end in curve.stretches:
        own = curve.band.mean[round(start * last / 100) : round(end * last / 100) + 1]
        parts.append(f"{'higher' if own.mean() > 0 else 'lower'} at {start:.0f}–{end:.0f} %")
    return ", ".join(parts)
