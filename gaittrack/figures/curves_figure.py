"""Curve panels: one joint angle of one side over the cycle, in every condition.

In comes what a comparison found along the cycle, out comes a figure: means, bands, single steps
that are hidden until asked for, stance shading, toe-offs, and where the conditions differ.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np

from gaittrack.compare.comparison import Comparison, CurveComparison
from gaittrack.compare.intervals.curve_bands import Band
from gaittrack.compare.row_words import count_words
from gaittrack.compare.typical_values.typical_curves import TypicalCurve
from gaittrack.figures.condition_styles import UNDER_TWO_LINES, Figure, Style, plain_layout
from gaittrack.figures.pieces import axis, box, line, outline, upright
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint, Side

JOINT_TITLES: Final[dict[Joint, tuple[str, str]]] = {
    "ankle": ("Ankle", "dorsiflexion +"),
    "knee": ("Knee", "flexion +"),
    "hip_pelvis_thigh": ("Hip, thigh against pelvis", "flexion +"),
    "hip_thigh_vertical": ("Hip, thigh against vertical", "flexion +"),
    "foot_pitch": ("Foot against floor", "forefoot up +"),
    "shank_lean": ("Shank against vertical", "knee ahead +"),
    "pelvic_tilt": ("Pelvis, front to back", "front down +"),
    "pelvic_obliquity": ("Pelvis, side to side", "own side up +"),
}
"""Title and direction of each angle, as printed."""
STEPS: Final = "steps"
MOST_STEPS: Final = 100
"""Single steps in one panel, all conditions together: more make a page too large to send."""
BAND: Final = "band"
TYPICAL: Final = "typical"
STANCE_MEASURE: Final = "stance_percent"
_STANCE_FILL: Final = "rgba(128,128,128,0.10)"
DIFFER_FILL: Final = "rgba(128,128,128,0.55)"
_BAND_OPACITY: Final = 0.18
_STEP_OPACITY: Final = 0.35
_HOVER: Final = "%{y:.1f}° at %{x:.0f} %"
_DIFFER_HEIGHT: Final = 0.025
_TYPICAL_STYLE: Final = Style("#808080", "dot")
_CYCLE: Final = axis("Gait cycle (%)", range=[0, 100], dtick=20)
_LEGEND: Final = {"orientation": "h", "y": -0.28, "yanchor": "top"}


def toe_offs(comparison: Comparison, side: Side) -> dict[str, float]:
    """Return the mean toe-off of each condition in per cent of the cycle, where it is known."""
    found = {}
    for row in comparison.rows:
        if row.measure == STANCE_MEASURE and row.side == side:
            found[row.reference] = row.reference_value
            found[row.condition] = row.value
    return {name: value for name, value in found.items() if math.isfinite(value)}


def draw_curve_panel(
    curves: CurveComparison,
    styles: Mapping[str, Style],
    *,
    toe_off_percent: Mapping[str, float] | None = None,
    steps: Mapping[str, FloatArray] | None = None,
    typical: TypicalCurve | None = None,
) -> Figure:
    """Draw one angle of one side over the cycle.

    Parameters
    ----------
    steps : mapping of condition name to ndarray, shape (n_cycles, 101), optional
        Single steps; one trace per condition with gaps between steps, hidden at first.
    typical : TypicalCurve, optional
        Drawn behind all else, as two lines.
    """
    traces: list[Figure] = [] if typical is None else _typical_traces(typical)
    for name, band in curves.bands.items():
        own = (steps or {}).get(name)
        if own is not None and len(own):
            traces.append(_steps_trace(name, own, styles[name], MOST_STEPS // len(curves.bands)))
        if not band.reason:
            traces.append(_band_trace(name, band, styles[name]))
    traces += [_mean_trace(name, band.mean, styles[name]) for name, band in curves.bands.items()]
    title, direction = JOINT_TITLES[curves.joint]
    counts = ", ".join(
        f"{name} {count_words(band.n_walks, 'walk')}" for name, band in curves.bands.items()
    )
    offs = {k: v for k, v in (toe_off_percent or {}).items() if k in curves.bands}
    layout = plain_layout(
        title={"text": f"{title}, {curves.side}: {answer(curves)}", "subtitle": {"text": counts}},
        xaxis=_CYCLE,
        yaxis=axis(f"Angle (°), {direction}"),
        margin=UNDER_TWO_LINES,
        shapes=[*_toe_off_shapes(offs, styles), *_differ_shapes(curves, styles)],
        showlegend=True,
        legend=_LEGEND,
    )
    return {"data": traces, "layout": layout}


def answer(curves: CurveComparison) -> str:
    """Return where the curves of the conditions differ from the reference's, in a few words."""
    told = {
        name: one
        for name, one in curves.locations.items()
        if one.is_comparable and math.isfinite(one.p_value)
    }
    apart = [name for name, one in told.items() if one.stretches]
    if not told:
        return "where they differ is not told"
    if len(curves.locations) > 1:
        return f"{len(apart)} of {len(told)} conditions differ somewhere"
    if not apart:
        return "no difference shown"
    (name,) = apart
    references = (band.mean for other, band in curves.bands.items() if other not in told)
    change = curves.bands[name].mean - next(references)
    last, stretches = len(change) - 1, told[name].stretches
    means = [np.nanmean(change[slice(*_points(each, last))]) for each in stretches]
    way = "higher" if min(means) > 0 else "lower" if max(means) < 0 else "another curve"
    places = ", ".join(f"{start:.0f}–{end:.0f}" for start, end in stretches)
    return f"{way} in {name} at {places} %"


def _points(stretch: tuple[float, float], last: int) -> tuple[int, int]:
    """Return the first point of a stretch in per cent, and the one after its last."""
    return round(stretch[0] * last / 100), round(stretch[1] * last / 100) + 1


def typical_of(comparison: Comparison, joint: Joint) -> TypicalCurve | None:
    """Return the laboratory's typical curve of an angle; None where it has none that holds."""
    found: Mapping[Joint, TypicalCurve] = comparison.settings.get("typical_curves", {})
    return found.get(joint)


def typical_words(typical: TypicalCurve | None) -> list[str]:
    """Return what the caption of a panel says of its typical curve; nothing without one."""
    return [] if typical is None else [f"Dotted grey: typical, {typical.words}"]


def draw_difference_panel(
    curves: CurveComparison, styles: Mapping[str, Style], *, reference: str
) -> Figure | None:
    """Draw the difference of the mean curves from the reference's, along the cycle.

    Returns
    -------
    Figure or None
        With the stretches where the conditions differ shaded. None when no condition's curves may
        be compared with the reference's.
    """
    shown = [name for name, found in curves.locations.items() if found.is_comparable]
    if not shown:
        return None
    base = curves.bands[reference].mean
    traces = [_mean_trace(name, curves.bands[name].mean - base, styles[name]) for name in shown]
    layout = plain_layout(
        title={"text": f"{JOINT_TITLES[curves.joint][0]}, {curves.side}: change from {reference}"},
        xaxis=_CYCLE,
        yaxis=axis("Difference (°)", zeroline=True),
        shapes=_differ_shapes(curves, styles),
        showlegend=True,
        legend=_LEGEND,
    )
    return {"data": traces, "layout": layout}


def _percent(n_points: int) -> list[float]:
    return [float(x) for x in np.linspace(0, 100, n_points)]


def _rounded(values: FloatArray) -> list[float]:
    return [round(float(value), 2) for value in values]


def _mean_trace(name: str, mean: FloatArray, style: Style) -> Figure:
    return line(_percent(len(mean)), _rounded(mean), style, 2.5, name=name, hovertemplate=_HOVER)


def _band_trace(name: str, band: Band, style: Style) -> Figure:
    percent = _percent(len(band.mean))
    return outline(
        percent + percent[::-1],
        _rounded(band.high) + _rounded(band.low)[::-1],
        style.clear(_BAND_OPACITY),
        name=f"{name}, 95 % band of the mean",
        showlegend=False,
        meta=BAND,
    )


def _typical_traces(typical: TypicalCurve) -> list[Figure]:
    """Draw two lines, for the pointer reads the height of each."""
    return [
        line(
            _percent(len(bound)),
            _rounded(np.array(bound)),
            _TYPICAL_STYLE,
            1.5,
            name=f"typical {sign} 2 SD",
            hovertemplate=_HOVER,
            meta=TYPICAL,
        )
        for sign, bound in zip("-+", typical.bounds, strict=True)
    ]


def _steps_trace(name: str, steps: FloatArray, style: Style, most: int) -> Figure:
    """Draw whole steps; of more than ``most``, evenly spaced ones, and say how many."""
    percent = _percent(steps.shape[1])
    x: list[float | None] = []
    y: list[float | None] = []
    whole = steps[np.isfinite(steps).all(axis=1)]
    drawn = whole
    if len(whole) > most:
        drawn = whole[np.linspace(0, len(whole) - 1, most).round().astype(int)]
    for step in drawn:
        x += [*percent, None]
        y += [*_rounded(step), None]
    return {
        "type": "scatter",
        "mode": "lines",
        "name": f"{name}, {len(drawn)} of {len(whole)} single steps",
        "x": x,
        "y": y,
        "line": {"color": style.clear(_STEP_OPACITY), "width": 0.8},
        "hoverinfo": "skip",
        "visible": "legendonly",
        "meta": STEPS,
    }


def _toe_off_shapes(offs: Mapping[str, float], styles: Mapping[str, Style]) -> list[Figure]:
    if not offs:
        return []
    lines = []
    for name, value in offs.items():
        look = {"color": styles[name].colour, "dash": styles[name].dash, "width": 1}
        lines.append(upright(round(value, 2), look, layer="below", name=f"toe-off, {name}"))
    return [box(0, round(min(offs.values()), 2), (0, 1), _STANCE_FILL, "stance"), *lines]


def _differ_shapes(curves: CurveComparison, styles: Mapping[str, Style]) -> list[Figure]:
    shapes = []
    for number, (name, location) in enumerate(curves.locations.items()):
        low = number * _DIFFER_HEIGHT
        for start, end in location.stretches:
            colour = styles[name].colour if len(curves.locations) > 1 else DIFFER_FILL
            place = (round(start, 2), round(end, 2), (low, low + _DIFFER_HEIGHT))
            shapes.append(box(*place, colour, f"{name} differs"))
    return shapes
