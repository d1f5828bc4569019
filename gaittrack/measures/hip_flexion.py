"""How far the hip is lifted in swing: the high step that makes up for a hanging foot.

In comes a cycle, out come the peak hip flexion in both conventions, never mixed, and the peak knee
flexion that goes with it.
"""

from __future__ import annotations

from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.measure import Measure, Value
from gaittrack.measures.peaks import highest


def _pelvis_thigh(view: CycleView) -> Value:
    return highest(view, "hip_pelvis_thigh", view.swing())


def _thigh_vertical(view: CycleView) -> Value:
    return highest(view, "hip_thigh_vertical", view.swing())


def _swing_knee(view: CycleView) -> Value:
    return highest(view, "knee", view.swing())


PEAK_HIP_FLEXION_PELVIS_THIGH = Measure(
    name="peak_hip_flexion_pelvis_thigh_deg",
    title="Peak swing hip flexion (pelvis-thigh)",
    unit="deg",
    definition="Largest angle of the thigh against the pelvis from toe-off to the next contact.",
    positive="flexion",
    toward_typical="none",
    source="common practice, no source",
    group="headline",
    compute=_pelvis_thigh,
)
PEAK_HIP_FLEXION_THIGH_VERTICAL = Measure(
    name="peak_hip_flexion_thigh_vertical_deg",
    title="Peak swing hip flexion (thigh-vertical)",
    unit="deg",
    definition="Largest angle of the thigh against the vertical from toe-off to the next contact.",
    positive="flexion",
    toward_typical="nearer",
    source="common practice, no source",
    group="headline",
    compute=_thigh_vertical,
)
PEAK_SWING_KNEE_FLEXION = Measure(
    name="peak_swing_knee_flexion_deg",
    title="Peak swing knee flexion",
    unit="deg",
    definition="Largest knee angle from toe-off to the next contact.",
    positive="flexion",
    toward_typical="nearer",
    source="common practice, no source",
    group="compensation",
    compute=_swing_knee,
)
