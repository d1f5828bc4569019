"""How far the foot is lifted at the ankle in swing.

In comes a cycle, out come the ankle's highest angle in swing and its angle at mid-swing, at the
toe's clearance and at contact.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.measure import Measure, Value
from gaittrack.measures.peaks import at_instant
from gaittrack.measures.samples import window
from gaittrack.measures.toe_clearance import find_minimum
from gaittrack.reasons import Reason

CARRIED_OVER: Final = "carried_over"
"""Code of the label of a maximum that is left of stance."""
_CARRIED_OVER: Final = Reason(CARRIED_OVER)
EARLY_SWING = 0.10
"""A maximum before this fraction of swing is what is left of stance; own choice."""
_SIGN = "dorsiflexion"


def _peak(view: CycleView) -> Value:
    fractions, angle = window(view.angle("ankle"), *view.swing())
    highest = int(np.argmax(angle))
    labels = view.angle_labels("ankle")
    if fractions[highest] <= view.swing_part(EARLY_SWING, 1)[0]:
        labels = (*labels, _CARRIED_OVER)
    return Value(float(angle[highest]), labels=labels)


def _mid_swing(view: CycleView) -> Value:
    return at_instant(view, "ankle", view.swing_part(0.5, 1)[0])


def _mid_swing_foot_pitch(view: CycleView) -> Value:
    return at_instant(view, "foot_pitch", view.swing_part(0.5, 1)[0])


def _at_clearance(view: CycleView) -> Value:
    return at_instant(view, "ankle", find_minimum(view).fraction)


def _at_contact(view: CycleView) -> Value:
    return at_instant(view, "ankle", 0.0)


PEAK_SWING_DORSIFLEXION = Measure(
    name="peak_swing_dorsiflexion_deg",
    title="Peak swing dorsiflexion",
    unit="deg",
    definition=(
        "Largest ankle angle from toe-off to the next contact; a maximum in the first 10 % of swing"
        ' is marked "carried over from stance".'
    ),
    positive=_SIGN,
    toward_typical="none",
    source="common practice, no source",
    group="headline",
    compute=_peak,
)
MID_SWING_DORSIFLEXION = Measure(
    name="mid_swing_dorsiflexion_deg",
    title="Mid-swing dorsiflexion",
    unit="deg",
    definition="Ankle angle half-way in time between toe-off and the next contact.",
    positive=_SIGN,
    toward_typical="nearer",
    source="common practice, no source",
    group="headline companion",
    compute=_mid_swing,
)
DORSIFLEXION_AT_TOE_CLEARANCE = Measure(
    name="dorsiflexion_at_toe_clearance_deg",
    title="Dorsiflexion at toe clearance",
    unit="deg",
    definition="Ankle angle at the instant of minimum toe clearance.",
    positive=_SIGN,
    toward_typical="none",
    source="as used by Ramdharry 2012, doi:10.1002/mus.23348",
    group="headline companion",
    compute=_at_clearance,
)
DORSIFLEXION_AT_CONTACT = Measure(
    name="dorsiflexion_at_contact_deg",
    title="Dorsiflexion at contact",
    unit="deg",
    definition="Ankle angle at the contact that begins the cycle.",
    positive=_SIGN,
    toward_typical="nearer",
    source="common practice, no source",
    group="headline companion",
    compute=_at_contact,
)
MID_SWING_FOOT_PITCH = Measure(
    name="mid_swing_foot_pitch_deg",
    title="Mid-swing foot pitch",
    unit="deg",
    definition="Angle of the foot to the floor half-way between toe-off and the next contact.",
    positive="forefoot up",
    toward_typical="none",
    source="common practice, no source",
    group="headline companion",
    compute=_mid_swing_foot_pitch,
)
