"""What the knee does while it takes the load: buckling.

In comes a cycle, out come the loading peak of knee flexion, how far the knee gives to get there,
and its speed.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.loading_window import loading_response
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.peaks import between_samples_highest
from gaittrack.measures.samples import values_in


def _loading_peak(view: CycleView) -> Value:
    span = loading_response(view)
    angle = values_in(view.angle("knee"), 0.0, span.end, refuse_filled=True)
    return Value(float(np.maximum.reduce(angle)), labels=(*view.angle_labels("knee"), *span.labels))


def _loading_yield(view: CycleView) -> Value:
    span = loading_response(view)
    angle = values_in(view.angle("knee"), 0.0, span.end, refuse_filled=True)
    labels = (*view.angle_labels("knee"), *span.labels)
    return Value(float(np.maximum.reduce(angle) - angle[0]), labels=labels)


def _loading_rate(view: CycleView) -> Value:
    span = loading_response(view)
    speeds = values_in(view.fast_rate("knee"), 0.0, span.end, refuse_filled=True)
    return Value(between_samples_highest(speeds), labels=(*view.rate_labels("knee"), *span.labels))


FUNCTIONS: Final[Functions] = {
    "loading_knee_flexion_peak_deg": _loading_peak,
    "knee_yield_in_loading_deg": _loading_yield,
    "loading_knee_flexion_rate_deg_s": _loading_rate,
}
