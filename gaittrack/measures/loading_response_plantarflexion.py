"""How fast the foot falls after heel contact: the first rocker, and foot slap.

In comes a cycle, out come the peak and mean rate of plantarflexion, the same of the foot against
the floor, the time the foot takes to come down and from which angle, and whether the heel made
contact at all.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from gaittrack.ingredients import UPRIGHT
from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.loading_window import STILL_FALLING, lowering_window
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.peaks import at_highest_of
from gaittrack.measures.samples import NotDefined, values_in, window
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint

SMALLEST_FALL_DEG = 0.5
"""A fall smaller than this is none: some three times the scatter that 0.5 mm of marker noise leaves
on the angle after a 15 Hz filter; own choice."""
LANDED = 0.95
"""Share of the fall of foot pitch after which the forefoot counts as landed; own choice."""
_UNKNOWN_CONTACT: Final = Reason("contact_unknown")
_UNCERTAIN_CONTACT: Final = Reason("contact_uncertain")
_NO_PLANTARFLEXION: Final = Reason("no_plantarflexion")
_NO_LOWERING: Final = Reason("no_lowering")


def _require_heel_contact(view: CycleView) -> tuple[Reason, ...]:
    contact = view.contact
    if contact == "heel":
        return ()
    if contact == "unknown":
        return (_UNKNOWN_CONTACT,)
    if contact == "uncertain":
        raise NotDefined(Reason("contact_uncertain_for_rocker"))
    raise NotDefined(Reason("no_first_rocker", contact=contact))


def _fall(view: CycleView, joint: Joint) -> tuple[FloatArray, FloatArray, tuple[Reason, ...]]:
    """Return fractions, angle and labels of the fall after heel contact, but for the rate's."""
    labels = _require_heel_contact(view)
    span = lowering_window(view)
    fractions, angle = window(view.fast_angle(joint), 0.0, span.end, refuse_filled=True)
    if angle[0] - np.minimum.reduce(angle) < SMALLEST_FALL_DEG:
        raise NotDefined(_NO_PLANTARFLEXION if joint == "ankle" else _NO_LOWERING)
    view.cancels(UPRIGHT)
    return fractions, angle, (*labels, *span.labels)


def _peak_rate(view: CycleView, joint: Joint) -> Value:
    tracks = view.fall_rates(joint)
    _, _, labels = _fall(view, joint)
    end = lowering_window(view).end
    speeds, steadier = (-values_in(each, 0.0, end, refuse_filled=True) for each in tracks)
    return Value(at_highest_of(steadier, speeds), labels=(*view.fall_labels(joint), *labels))


def _mean_rate(view: CycleView) -> Value:
    view.fast_rate("ankle")
    fractions, angle, labels = _fall(view, "ankle")
    lowest = int(np.argmin(angle))
    time_s = float(fractions[lowest] - fractions[0]) * view.duration_s
    rate = float(angle[0] - angle[lowest]) / time_s
    return Value(rate, labels=(*view.rate_labels("ankle"), *labels))


def _lowering_time(view: CycleView) -> Value:
    if not view.motion.points or view.cycle.from_curve:
        raise NotDefined(Reason("no_foot_markers"))
    fractions, pitch, labels = _fall(view, "foot_pitch")
    end = lowering_window(view).end
    speeds = values_in(view.fast_rate("foot_pitch"), 0.0, end, refuse_filled=True)
    if speeds[-1] < STILL_FALLING * np.minimum.reduce(speeds):
        raise NotDefined(Reason("still_coming_down"))
    level = pitch[0] - LANDED * (pitch[0] - np.minimum.reduce(pitch))
    after = int(np.argmax(pitch <= level))
    share = (pitch[after - 1] - level) / (pitch[after - 1] - pitch[after])
    landing = fractions[after - 1] + share * (fractions[after] - fractions[after - 1])
    time_ms = float(landing) * view.duration_s * 1000
    return Value(time_ms, labels=(*view.rate_labels("foot_pitch"), *labels))


def _lowering_angle(view: CycleView) -> Value:
    _, pitch, labels = _fall(view, "foot_pitch")
    angle = float(pitch[0] - np.minimum.reduce(pitch))
    return Value(angle, labels=(*view.rate_labels("foot_pitch"), *labels))


def _heel_contact(view: CycleView) -> Value:
    contact = view.contact
    if contact in ("unknown", "uncertain"):
        raise NotDefined(_UNKNOWN_CONTACT if contact == "unknown" else _UNCERTAIN_CONTACT)
    return Value(100.0 if contact == "heel" else 0.0)


FUNCTIONS: Final[Functions] = {
    "loading_response_plantarflexion_rate_deg_s": lambda v: _peak_rate(v, "ankle"),
    "loading_response_plantarflexion_mean_rate_deg_s": _mean_rate,
    "foot_to_floor_rate_deg_s": lambda v: _peak_rate(v, "foot_pitch"),
    "foot_lowering_time_ms": _lowering_time,
    "foot_lowering_angle_deg": _lowering_angle,
    "heel_contact_share_percent": _heel_contact,
}
