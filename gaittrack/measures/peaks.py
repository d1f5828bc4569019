"""Highest and lowest values of an angle in a window, and the measures that are no more than that.

In come a cycle, a joint and a window, out come values with the labels of that angle. The two hip
angles, pelvis-thigh and thigh-vertical, are never mixed.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.samples import value_at, values_in
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint


def highest(view: CycleView, joint: Joint, span: tuple[float, float]) -> Value:
    """Return the largest angle in a window of the cycle, in degrees."""
    angle = values_in(view.angle(joint), *span)
    return Value(float(np.maximum.reduce(angle)), labels=view.angle_labels(joint))


def lowest(view: CycleView, joint: Joint, span: tuple[float, float]) -> Value:
    """Return the smallest angle in a window of the cycle, in degrees."""
    angle = values_in(view.angle(joint), *span)
    return Value(float(np.minimum.reduce(angle)), labels=view.angle_labels(joint))


def at_instant(view: CycleView, joint: Joint, fraction: float) -> Value:
    """Return the angle at a fraction of the cycle, in degrees."""
    return Value(value_at(view.angle(joint), fraction), labels=view.angle_labels(joint))


def between_samples_highest(values: FloatArray) -> float:
    """Return the highest of evenly spaced samples, or the top of the parabola through it.

    The first and the last sample are ends of a window: beside them, and on them, it is the sample.
    """
    top = int(np.argmax(values))
    if not 2 <= top <= len(values) - 3:
        return float(values[top])
    left, middle, right = (float(value) for value in values[top - 1 : top + 2])
    bend = left - 2 * middle + right
    return middle - (left - right) ** 2 / (8 * bend) if bend < 0 else middle


def at_highest_of(timing: FloatArray, values: FloatArray) -> float:
    """Return the value, between samples, at the instant at which ``timing`` is highest.

    Noise that is in ``values`` alone makes it neither higher nor lower. Where ``timing`` is highest
    at an end of the window, its top lies elsewhere: then the highest of ``values``.
    """
    top = int(np.argmax(timing))
    if not 2 <= top <= len(timing) - 3:
        return between_samples_highest(values)
    place = _vertex(timing[top - 1 : top + 2])
    left, middle, right = (float(value) for value in values[top - 1 : top + 2])
    return middle + place * (right - left) / 2 + place**2 * (left - 2 * middle + right) / 2


def _vertex(three: FloatArray) -> float:
    """Return where the parabola through three samples is highest, in samples from the middle."""
    left, middle, right = (float(value) for value in three)
    bend = left - 2 * middle + right
    return (left - right) / (2 * bend) if bend < 0 else 0.0


def _mid_swing(view: CycleView) -> float:
    return view.swing_part(0.5, 1)[0]


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
    "shank_lean_at_mid_stance_deg": lambda v: at_instant(v, "shank_lean", v.stance()[1] / 2),
}
