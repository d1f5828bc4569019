"""What each measure can be in a person at all.

In comes a value, out comes why no person has it, or nothing. The limits are those of joints and of
walking, with room for pathology; they are wide on purpose, for they refuse a value, not a patient.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from gaittrack.reasons import Reason

IMPOSSIBLE: Final = "impossible_value"

_ANKLE: Final = (-75.0, 45.0)
_KNEE: Final = (-40.0, 155.0)
_FOOT: Final = (-100.0, 75.0)
_RATE: Final = (-400.0, 1200.0)
_SHARE: Final = (0.0, 100.0)
POSSIBLE: Final[Mapping[str, tuple[float, float]]] = {
    "loading_response_plantarflexion_rate_deg_s": _RATE,
    "loading_response_plantarflexion_mean_rate_deg_s": _RATE,
    "foot_to_floor_rate_deg_s": _RATE,
    "foot_lowering_angle_deg": (0.0, 100.0),
    "peak_swing_dorsiflexion_deg": _ANKLE,
    "mid_swing_dorsiflexion_deg": _ANKLE,
    "dorsiflexion_at_toe_clearance_deg": _ANKLE,
    "dorsiflexion_at_contact_deg": _ANKLE,
    "peak_stance_dorsiflexion_deg": _ANKLE,
    "push_off_ankle_deg": _ANKLE,
    "push_off_range_deg": (-20.0, 110.0),
    "stance_ankle_range_deg": (0.0, 110.0),
    "mid_swing_foot_pitch_deg": _FOOT,
    "foot_pitch_at_contact_deg": _FOOT,
    "minimum_toe_clearance_mm": (-60.0, 400.0),
    "minimum_forefoot_clearance_mm": (-60.0, 400.0),
    "peak_hip_flexion_pelvis_thigh_deg": (-40.0, 135.0),
    "peak_hip_flexion_thigh_vertical_deg": (-50.0, 110.0),
    "knee_flexion_at_contact_deg": _KNEE,
    "loading_knee_flexion_peak_deg": _KNEE,
    "loading_knee_flexion_rate_deg_s": (-800.0, 1200.0),
    "stance_knee_flexion_minimum_deg": _KNEE,
    "peak_swing_knee_flexion_deg": _KNEE,
    "shank_lean_at_mid_stance_deg": (-60.0, 75.0),
    "peak_pelvic_hike_deg": (-30.0, 45.0),
    "circumduction_mm": (-200.0, 450.0),
    "walking_speed_m_s": (0.0, 3.0),
    "cadence_steps_min": (10.0, 240.0),
    "stride_length_m": (0.0, 2.8),
    "stride_time_s": (0.4, 8.0),
    "step_length_m": (-0.8, 1.6),
    "step_time_s": (0.0, 6.0),
    "step_width_mm": (-400.0, 800.0),
    "stance_percent": (20.0, 98.0),
    "swing_percent": (2.0, 80.0),
    "double_support_percent": _SHARE,
}
"""Least and largest value. Angles: passive limits of the joints (ankle 60 deg plantarflexion to 40
dorsiflexion, knee to 150 flexion and 30 recurvatum, hip to 130 flexion; common practice, no
source) and some more for how a zero is found. Rates: the swing phase's fastest knee, near 450
deg/s, and more than twice that. The rest: own choice."""


def why_impossible(measure: str, value: float) -> Reason | None:
    """Return why no person has a value; None for one that a person may have, and for NaN."""
    low, high = POSSIBLE.get(measure, (-float("inf"), float("inf")))
    if not (value < low or value > high):
        return None
    return Reason(IMPOSSIBLE, value=round(float(value), 1), lowest=low, highest=high)
