"""How the leg meets the floor.

In comes a cycle, out come knee angle and foot pitch at the contact that begins it. The ankle at
contact stands with swing dorsiflexion, the share of heel contacts with the loading-response rate.
"""

from __future__ import annotations

from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.measure import Measure, Value
from gaittrack.measures.peaks import at_instant


def _knee(view: CycleView) -> Value:
    return at_instant(view, "knee", 0.0)


def _foot_pitch(view: CycleView) -> Value:
    return at_instant(view, "foot_pitch", 0.0)


KNEE_FLEXION_AT_CONTACT = Measure(
    name="knee_flexion_at_contact_deg",
    title="Knee flexion at contact",
    unit="deg",
    definition="Knee angle at the contact that begins the cycle.",
    positive="flexion",
    toward_typical="none",
    source="common practice, no source",
    group="knee in stance",
    compute=_knee,
)
FOOT_PITCH_AT_CONTACT = Measure(
    name="foot_pitch_at_contact_deg",
    title="Foot pitch at contact",
    unit="deg",
    definition="Angle of the foot to the floor at the contact that begins the cycle.",
    positive="forefoot up",
    toward_typical="none",
    source="common practice, no source",
    group="headline companion",
    compute=_foot_pitch,
)
