"""Highest and lowest values of an angle in a window.

In come a cycle, a joint and a window, out come values with the labels of that angle.
"""

from __future__ import annotations

import numpy as np

from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.measure import Value
from gaittrack.measures.samples import value_at, values_in
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint


def highest(view: CycleView, joint: Joint, span: tuple[float, float]) -> Value:
    """Return the largest angle in a window of the cycle, in degrees."""
    angle = values_in(view.angle(joint), *span)
    return Value(float(angle.max()), labels=view.angle_labels(joint))


def lowest(view: CycleView, joint: Joint, span: tuple[float, float]) -> Value:
    """Return the smallest angle in a window of the cycle, in degrees."""
    angle = values_in(view.angle(joint), *span)
    return Value(float(angle.min()), labels=view.angle_labels(joint))


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
