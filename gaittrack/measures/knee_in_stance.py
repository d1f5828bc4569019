"""What the knee does while it carries: buckling and overextension.

In comes a cycle, out come the loading peak of knee flexion, how far the knee gives to get there,
its speed, and the straightest the knee gets in stance.
"""

from __future__ import annotations

from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.loading_window import loading_response
from gaittrack.measures.measure import Measure, Value
from gaittrack.measures.peaks import between_samples_highest, lowest
from gaittrack.measures.samples import values_in

_WINDOW = "contact to opposite toe-off (not seen: to 20 % of the cycle, labelled)"


def _loading_peak(view: CycleView) -> Value:
    span = loading_response(view)
    angle = values_in(view.angle("knee"), 0.0, span.end, refuse_filled=True)
    return Value(float(angle.max()), labels=(*view.angle_labels("knee"), *span.labels))


def _loading_yield(view: CycleView) -> Value:
    span = loading_response(view)
    angle = values_in(view.angle("knee"), 0.0, span.end, refuse_filled=True)
    labels = (*view.angle_labels("knee"), *span.labels)
    return Value(float(angle.max() - angle[0]), labels=labels)


def _loading_rate(view: CycleView) -> Value:
    span = loading_response(view)
    speeds = values_in(view.fast_rate("knee"), 0.0, span.end, refuse_filled=True)
    return Value(between_samples_highest(speeds), labels=(*view.rate_labels("knee"), *span.labels))


def _stance_minimum(view: CycleView) -> Value:
    return lowest(view, "knee", view.stance())


LOADING_KNEE_FLEXION = Measure(
    name="loading_knee_flexion_peak_deg",
    title="Peak knee flexion in loading",
    unit="deg",
    definition=f"Largest knee angle from {_WINDOW}.",
    positive="flexion",
    toward_typical="nearer",
    source="common practice, no source",
    group="knee in stance",
    compute=_loading_peak,
)
KNEE_YIELD_IN_LOADING = Measure(
    name="knee_yield_in_loading_deg",
    title="Knee yield in loading",
    unit="deg",
    definition=f"Largest knee angle minus the one at contact, from {_WINDOW}.",
    positive="the knee flexes under load",
    toward_typical="none",
    source="own definition: a knee that is bent at contact has not yielded",
    group="knee in stance",
    compute=_loading_yield,
)
LOADING_KNEE_FLEXION_RATE = Measure(
    name="loading_knee_flexion_rate_deg_s",
    title="Peak knee flexion rate in loading",
    unit="deg/s",
    definition=(
        "Largest five-point central-difference rate, between samples, of the knee angle, markers "
        f"low-passed at 15 Hz, from {_WINDOW}."
    ),
    positive="the knee flexes",
    toward_typical="none",
    source="own definition, exploratory",
    group="knee in stance",
    compute=_loading_rate,
    decimals=0,
)
STANCE_KNEE_MINIMUM = Measure(
    name="stance_knee_flexion_minimum_deg",
    title="Straightest knee in stance",
    unit="deg",
    definition="Smallest knee angle from contact to toe-off; negative is hyperextension.",
    positive="flexion",
    toward_typical="none",
    source="common practice, no source",
    group="knee in stance",
    compute=_stance_minimum,
)
