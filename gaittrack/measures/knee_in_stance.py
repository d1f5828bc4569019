"""What the knee does while it takes the load: buckling.

In come cycles, out come the loading peak of knee flexion, how far the knee gives to get there,
and its speed.
"""

from __future__ import annotations

from typing import Final

from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.loading_window import loading_response
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.peaks import between_samples_highest
from gaittrack.measures.reading import Labels
from gaittrack.measures.samples import Samples


def _loading_angle(view: CyclesView) -> tuple[Samples, Labels]:
    span, labels = loading_response(view)
    angle = view.values_in(view.angle("knee"), span, refuse_filled=True)
    return angle, (*view.angle_labels("knee"), *labels)


def _loading_peak(view: CyclesView) -> Value:
    angle, labels = _loading_angle(view)
    return Value(angle.highest(), labels)


def _loading_yield(view: CyclesView) -> Value:
    angle, labels = _loading_angle(view)
    return Value(angle.highest() - angle.values[:, 0], labels)


def _loading_rate(view: CyclesView) -> Value:
    span, labels = loading_response(view)
    speeds = view.values_in(view.fast_rate("knee"), span, refuse_filled=True)
    highest = between_samples_highest(speeds.values, span.n)
    return Value(highest, (*view.rate_labels("knee"), *labels))


FUNCTIONS: Final[Functions] = {
    "loading_knee_flexion_peak_deg": _loading_peak,
    "knee_yield_in_loading_deg": _loading_yield,
    "loading_knee_flexion_rate_deg_s": _loading_rate,
}
