"""How fast the foot falls after heel contact: the first rocker, and foot slap.

In comes a cycle, out come the peak and mean rate of plantarflexion, the same of the foot against
the floor, the time the foot takes to come down and from which angle, and whether the heel made
contact at all.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from gaittrack.ingredients import UPRIGHT
from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.loading_window import STILL_FALLING, lowering_window
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.peaks import at_highest_of
from gaittrack.measures.samples import CycleSamples, NotDefined, fraction_of_sample, values_in
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


class _Fall(NamedTuple):
    """The fall after heel contact: its angle, how much it is, and labels but for the rate's."""

    track: CycleSamples
    end: float
    angle: FloatArray
    by_deg: float
    labels: tuple[Reason, ...]

    def fraction(self, place: int) -> float:
        """Return the fraction of the cycle at which a sample of the angle lies."""
        return fraction_of_sample(self.track, 0.0, self.end, place)


def _fall(view: CycleView, joint: Joint) -> _Fall:
    found = view.once(("fall", joint), lambda: _find_fall(view, joint))
    view.cancels(UPRIGHT)
    return found


def _find_fall(view: CycleView, joint: Joint) -> _Fall:
    labels = _require_heel_contact(view)
    span = lowering_window(view)
    track = view.fast_angle(joint)
    angle = values_in(track, 0.0, span.end, refuse_filled=True)
    by_deg = float(angle[0] - np.minimum.reduce(angle))
    if by_deg < SMALLEST_FALL_DEG:
        raise NotDefined(_NO_PLANTARFLEXION if joint == "ankle" else _NO_LOWERING)
    return _Fall(track, span.end, angle, by_deg, (*labels, *span.labels))


def _peak_rate(view: CycleView, joint: Joint) -> Value:
    tracks = view.fall_rates(joint)
    labels = _fall(view, joint).labels
    end = lowering_window(view).end
    speeds, steadier = (-values_in(each, 0.0, end, refuse_filled=True) for each in tracks)
    return Value(at_highest_of(steadier, speeds), labels=(*view.fall_labels(joint), *labels))


def _mean_rate(view: CycleView) -> Value:
    view.fast_rate("ankle")
    fall = _fall(view, "ankle")
    lowest = int(fall.angle.argmin())
    time_s = (fall.fraction(lowest) - fall.fraction(0)) * view.duration_s
    return Value(fall.by_deg / time_s, labels=(*view.rate_labels("ankle"), *fall.labels))


def _lowering_time(view: CycleView) -> Value:
    if not view.motion.points or view.cycle.from_curve:
        raise NotDefined(Reason("no_foot_markers"))
    fall = _fall(view, "foot_pitch")
    pitch, end = fall.angle, lowering_window(view).end
    speeds = values_in(view.fast_rate("foot_pitch"), 0.0, end, refuse_filled=True)
    if speeds[-1] < STILL_FALLING * np.minimum.reduce(speeds):
        raise NotDefined(Reason("still_coming_down"))
    level = pitch.item(0) - LANDED * fall.by_deg
    after = int((pitch <= level).argmax())
    share = (pitch.item(after - 1) - level) / (pitch.item(after - 1) - pitch.item(after))
    start, stop = fall.fraction(after - 1), fall.fraction(after)
    time_ms = (start + share * (stop - start)) * view.duration_s * 1000
    return Value(time_ms, labels=(*view.rate_labels("foot_pitch"), *fall.labels))


def _lowering_angle(view: CycleView) -> Value:
    fall = _fall(view, "foot_pitch")
    return Value(fall.by_deg, labels=(*view.rate_labels("foot_pitch"), *fall.labels))


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
