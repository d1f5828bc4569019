"""Speed, steps and their timing.

In come cycles, out come speed, cadence, stride, step and phase times, step length and width, and
how far own and other step differ. The step of a side ends with that side's contact, here the one
that ends the cycle. On a treadmill the belt's travel is already in the forward coordinate.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from gaittrack.measures.compensations import DOES_NOT_MOVE, NO_OTHER_CONTACT, outward
from gaittrack.measures.cycles_view import FORWARD, LEFT, CyclesView
from gaittrack.measures.legs import Foot
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.samples import lengths_of_ways
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

_NO_SPEED: Final = Reason("no_speed")
_NO_CYCLE_TIME: Final = Reason("no_cycle_time")
_NO_OTHER_TOE_OFF: Final = Reason("no_other_toe_off")
_NO_DOUBLE_SUPPORT: Final = Reason("no_double_support")
_NO_STEP_LENGTHS: Final = Reason("no_step_lengths")


def _speed(view: CyclesView) -> Value:
    speed = view.speed_m_s
    view.refuse(np.isnan(speed), _NO_SPEED)
    return Value(speed)


def _known_duration(view: CyclesView) -> FloatArray:
    view.refuse(np.isnan(view.duration_s), _NO_CYCLE_TIME)
    return view.duration_s


def _opposite_contact(view: CyclesView) -> FloatArray:
    contact = view.opposite_contact
    view.refuse(~((0 < contact) & (contact < 1)), NO_OTHER_CONTACT)
    return contact


def _cadence(view: CyclesView) -> Value:
    return Value(120 / _known_duration(view))


def _stride_time(view: CyclesView) -> Value:
    return Value(_known_duration(view))


def _step_time(view: CyclesView) -> Value:
    return Value((1 - _opposite_contact(view)) * _known_duration(view))


def _stance(view: CyclesView) -> Value:
    view.needs_time_of_toe_off("own")
    return Value(100 * view.stance().end)


def _swing(view: CyclesView) -> Value:
    view.needs_time_of_toe_off("own")
    return Value(100 * (1 - view.stance().end))


def _double_support(view: CyclesView) -> Value:
    view.needs_time_of_toe_off("own", "other")
    contact, first = _opposite_contact(view), view.opposite_toe_off
    view.refuse(~((0 < first) & (first < 1)), _NO_OTHER_TOE_OFF)
    second = view.stance().end - contact
    view.refuse((first < 0) | (second < 0), _NO_DOUBLE_SUPPORT)
    return Value(100 * (first + second))


def _heel(
    view: CyclesView, fraction: FloatArray | float, foot: Foot = "own"
) -> tuple[FloatArray, FloatArray]:
    """Return forward and left place of a heel in metres."""
    forward = view.value_at(view.point("heel", FORWARD, foot=foot), fraction)
    return forward, view.value_at(view.point("heel", LEFT, foot=foot), fraction)


class _Stride(NamedTuple):
    """The own heel's way over each cycle, in metres."""

    forward_m: FloatArray
    left_m: FloatArray
    length_m: FloatArray


def _stride(view: CyclesView) -> _Stride:
    return view.once("stride", lambda: _find_stride(view))


def _find_stride(view: CyclesView) -> _Stride:
    start, end = _heel(view, 0.0), _heel(view, 1.0)
    forward_m, left_m = end[0] - start[0], end[1] - start[1]
    return _Stride(forward_m, left_m, lengths_of_ways(forward_m, left_m))


def _stride_length(view: CyclesView) -> Value:
    return Value(_stride(view).length_m)


def _other_step(view: CyclesView) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the other heel at its contact, along and left of the own stride, and the stride."""
    return view.once("other step", lambda: _find_other_step(view))


def _find_other_step(view: CyclesView) -> tuple[FloatArray, FloatArray, FloatArray]:
    forward_m, left_m, stride_m = _stride(view)
    view.refuse(stride_m == 0, DOES_NOT_MOVE)
    start = _heel(view, 0.0)
    other = _heel(view, _opposite_contact(view), "other")
    dx, dy = other[0] - start[0], other[1] - start[1]
    along_m = (dx * forward_m + dy * left_m) / stride_m
    return along_m, (forward_m * dy - left_m * dx) / stride_m, stride_m


def _step_length(view: CyclesView) -> Value:
    along_m, _, stride_m = _other_step(view)
    return Value(stride_m - along_m)


def _step_width(view: CyclesView) -> Value:
    return Value(-1000 * outward(view) * _other_step(view)[1])


def _asymmetry(view: CyclesView, own: FloatArray, other: FloatArray) -> Value:
    view.refuse(own + other <= 0, _NO_STEP_LENGTHS)
    return Value(200 * (own - other) / (own + other))


def _step_time_asymmetry(view: CyclesView) -> Value:
    contact = _opposite_contact(view)
    return _asymmetry(view, 1 - contact, contact)


def _step_length_asymmetry(view: CyclesView) -> Value:
    along_m, _, stride_m = _other_step(view)
    return _asymmetry(view, stride_m - along_m, along_m)


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
