"""Speed, steps and their timing.

In comes a cycle, out come speed, cadence, stride, step and phase times, step length and width, and
how far own and other step differ. The step of a side ends with that side's contact, here the one
that ends the cycle. On a treadmill the belt's travel is already in the forward coordinate.
"""

from __future__ import annotations

import math
from typing import Final

from gaittrack.measures.compensations import outward
from gaittrack.measures.cycle_view import FORWARD, LEFT, CycleView
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.samples import NotDefined, value_at
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Side


def _speed(view: CycleView) -> Value:
    if math.isnan(view.speed_m_s):
        raise NotDefined(Reason("no_speed"))
    return Value(view.speed_m_s)


def _known_duration(view: CycleView) -> float:
    if math.isnan(view.duration_s):
        raise NotDefined(Reason("no_cycle_time"))
    return view.duration_s


def _opposite_contact(view: CycleView) -> float:
    if not 0 < view.opposite_contact < 1:
        raise NotDefined(Reason("no_other_contact"))
    return view.opposite_contact


def _cadence(view: CycleView) -> Value:
    return Value(120 / _known_duration(view))


def _stride_time(view: CycleView) -> Value:
    return Value(_known_duration(view))


def _step_time(view: CycleView) -> Value:
    return Value((1 - _opposite_contact(view)) * _known_duration(view))


def _stance(view: CycleView) -> Value:
    view.needs_time_of_toe_off(view.side)
    return Value(100 * view.stance()[1])


def _swing(view: CycleView) -> Value:
    view.needs_time_of_toe_off(view.side)
    return Value(100 * (1 - view.stance()[1]))


def _double_support(view: CycleView) -> Value:
    view.needs_time_of_toe_off(view.side, view.other)
    contact = _opposite_contact(view)
    if not 0 < view.opposite_toe_off < 1:
        raise NotDefined(Reason("no_other_toe_off"))
    first, second = view.opposite_toe_off, view.stance()[1] - contact
    if first < 0 or second < 0:
        raise NotDefined(Reason("no_double_support"))
    return Value(100 * (first + second))


def _heel(view: CycleView, fraction: float, side: Side) -> tuple[float, float]:
    """Return forward and left place of a heel in metres."""
    forward = value_at(view.point("heel", FORWARD, side=side), fraction)
    return forward, value_at(view.point("heel", LEFT, side=side), fraction)


def _stride_vector(view: CycleView) -> tuple[float, float, float]:
    """Return the own heel's way over the cycle: forward, left and length in metres."""
    return view.once("stride", lambda: _find_stride(view))


def _find_stride(view: CycleView) -> tuple[float, float, float]:
    start, end = _heel(view, 0.0, view.side), _heel(view, 1.0, view.side)
    forward_m, left_m = end[0] - start[0], end[1] - start[1]
    return forward_m, left_m, math.hypot(forward_m, left_m)


def _stride_length(view: CycleView) -> Value:
    return Value(_stride_vector(view)[2])


def _other_step(view: CycleView) -> tuple[float, float, float]:
    """Return the other heel at its contact, along and left of the own stride, and the stride."""
    return view.once("other step", lambda: _find_other_step(view))


def _find_other_step(view: CycleView) -> tuple[float, float, float]:
    forward_m, left_m, stride_m = _stride_vector(view)
    if stride_m == 0:
        raise NotDefined(Reason("foot_does_not_move"))
    start = _heel(view, 0.0, view.side)
    other = _heel(view, _opposite_contact(view), view.other)
    dx, dy = other[0] - start[0], other[1] - start[1]
    along_m = (dx * forward_m + dy * left_m) / stride_m
    return along_m, (forward_m * dy - left_m * dx) / stride_m, stride_m


def _step_length(view: CycleView) -> Value:
    along_m, _, stride_m = _other_step(view)
    return Value(stride_m - along_m)


def _step_width(view: CycleView) -> Value:
    return Value(-1000 * outward(view) * _other_step(view)[1])


def _asymmetry(own: float, other: float) -> Value:
    if own + other <= 0:
        raise NotDefined(Reason("no_step_lengths"))
    return Value(200 * (own - other) / (own + other))


def _step_time_asymmetry(view: CycleView) -> Value:
    contact = _opposite_contact(view)
    return _asymmetry(1 - contact, contact)


def _step_length_asymmetry(view: CycleView) -> Value:
    along_m, _, stride_m = _other_step(view)
    return _asymmetry(stride_m - along_m, along_m)


FUNCTIONS: Final[Functions] = {
    "walking_speed_m_s": _speed,
    "cadence_steps_min": _cadence,
    "stride_length_m": _stride_length,
    "stride_time_s": _stride_time,
    "step_length_m": _step_length,
    "step_time_s": _step_time,
    "step_width_mm": _step_width,
    "stance_percent": _stance,
    "swing_percent": _swing,
    "double_support_percent": _double_support,
    "step_time_asymmetry_percent": _step_time_asymmetry,
    "step_length_asymmetry_percent": _step_length_asymmetry,
}
