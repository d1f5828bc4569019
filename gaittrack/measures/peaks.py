"""Highest and lowest values of an angle in a window, and the measures that are no more than that.

In come cycles, a joint and a window, out come values with the labels of that angle. The two hip
angles, pelvis-thigh and thigh-vertical, are never mixed.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.samples import IntArray, Window, at_column
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import Joint


def highest(view: CyclesView, joint: Joint, span: Window) -> Value:
    """Return the largest angle in a window of each cycle, in degrees."""
    angle = view.values_in(view.angle(joint), span)
    return Value(angle.highest(), view.angle_labels(joint))


def lowest(view: CyclesView, joint: Joint, span: Window) -> Value:
    """Return the smallest angle in a window of each cycle, in degrees."""
    angle = view.values_in(view.angle(joint), span)
    return Value(angle.lowest(), view.angle_labels(joint))


def at_instant(view: CyclesView, joint: Joint, fraction: FloatArray | float) -> Value:
    """Return the angle at a fraction of each cycle, in degrees."""
    return Value(view.value_at(view.angle(joint), fraction), view.angle_labels(joint))


def between_samples_highest(values: FloatArray, n: IntArray) -> FloatArray:
    """Return the highest of evenly spaced samples, or the top of the parabola through it.

    The first and the last sample are ends of a window: beside them, and on them, it is the sample.

    Parameters
    ----------
    values : ndarray, shape (n_cycles, n_most)
    n : ndarray of int, shape (n_cycles,)
        Number of samples of each; past them the last is repeated.
    """
    top, is_inside = _top(values, n)
    left, middle, right = _three(values, top)
    bend = left - 2 * middle + right
    vertex = middle - (left - right) ** 2 / (8 * bend)
    found: FloatArray = np.where(is_inside & (bend < 0), vertex, np.maximum.reduce(values, axis=1))
    return found


def at_highest_of(timing: FloatArray, values: FloatArray, n: IntArray) -> FloatArray:
    """Return the value, between samples, at the instant at which ``timing`` is highest.

    Noise that is in ``values`` alone makes it neither higher nor lower. Where ``timing`` is highest
    at an end of the window, its top lies elsewhere: then the highest of ``values``.
    """
    top, is_inside = _top(timing, n)
    left, middle, right = _three(timing, top)
    bend = left - 2 * middle + right
    place = np.where(bend < 0, (left - right) / (2 * bend), 0.0)
    left, middle, right = _three(values, top)
    found = middle + place * (right - left) / 2 + place**2 * (left - 2 * middle + right) / 2
    return np.where(is_inside, found, between_samples_highest(values, n))


def _top(values: FloatArray, n: IntArray) -> tuple[IntArray, BoolArray]:
    """Return the place of the highest sample, and whether two lie on either side of it."""
    top = values.argmax(axis=1)
    return top, (top >= 2) & (top <= n - 3)


def _three(values: FloatArray, middle: IntArray) -> list[FloatArray]:
    """Return a sample of each row and its neighbours, of no meaning at the ends."""
    return [at_column(values, middle + step) for step in (-1, 0, 1)]


def _mid_swing(view: CyclesView) -> FloatArray:
    return view.swing_part(0.5, 1).start


FUNCTIONS: Final[Functions] = {
    "peak_hip_flexion_pelvis_thigh_deg": lambda v: highest(v, "hip_pelvis_thigh", v.swing()),
    "peak_hip_flexion_thigh_vertical_deg": lambda v: highest(v, "hip_thigh_vertical", v.swing()),
    "peak_swing_knee_flexion_deg": lambda v: highest(v, "knee", v.swing()),
    "peak_stance_dorsiflexion_deg": lambda v: highest(v, "ankle", v.stance()),
    "stance_knee_flexion_minimum_deg": lambda v: lowest(v, "knee", v.stance()),
    "dorsiflexion_at_contact_deg": lambda v: at_instant(v, "ankle", 0.0),
    "knee_flexion_at_contact_deg": lambda v: at_instant(v, "knee", 0.0),
    "foot_pitch_at_contact_deg": lambda v: at_instant(v, "foot_pitch", 0.0),
    "mid_swing_dorsiflexion_deg": lambda v: at_instant(v, "ankle", _mid_swing(v)),
    "mid_swing_foot_pitch_deg": lambda v: at_instant(v, "foot_pitch", _mid_swing(v)),
    "shank_lean_at_mid_stance_deg": lambda v: at_instant(v, "shank_lean", v.stance().end / 2),
}
