"""How fast the foot falls after heel contact: the first rocker, and foot slap.

In come cycles, out come the peak and mean rate of plantarflexion, the same of the foot against
the floor, the time the foot takes to come down and from which angle, and whether the heel made
contact at all.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from gaittrack.ingredients import UPRIGHT
from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.loading_window import STILL_FALLING, lowering_window
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.peaks import at_highest_of
from gaittrack.measures.reading import LabelOfSome, NotDefined
from gaittrack.measures.samples import Samples, at_column
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
_NO_ROCKER_KNOWN: Final = Reason("contact_uncertain_for_rocker")
_STILL_COMING_DOWN: Final = Reason("still_coming_down")
_NO_PLANTARFLEXION: Final = Reason("no_plantarflexion")
_NO_LOWERING: Final = Reason("no_lowering")


def _require_heel_contact(view: CyclesView) -> LabelOfSome:
    contact = view.contact
    view.refuse(contact == "uncertain", _NO_ROCKER_KNOWN)
    for other in set(contact.tolist()) - {"heel", "unknown", "uncertain"}:
        view.refuse(contact == other, Reason("no_first_rocker", contact=other))
    return LabelOfSome(_UNKNOWN_CONTACT, contact == "unknown")


class _Fall(NamedTuple):
    """The fall after heel contact: its angle, how much it is, and labels but for the rate's."""

    angle: Samples
    by_deg: FloatArray
    labels: tuple[LabelOfSome, ...]


def _fall(view: CyclesView, joint: Joint) -> _Fall:
    found = view.once(("fall", joint), lambda: _find_fall(view, joint))
    view.cancels(UPRIGHT)
    return found


def _find_fall(view: CyclesView, joint: Joint) -> _Fall:
    label = _require_heel_contact(view)
    span, labels = lowering_window(view)
    angle = view.values_in(view.fast_angle(joint), span, refuse_filled=True)
    by_deg = angle.values[:, 0] - angle.lowest()
    is_none = by_deg < SMALLEST_FALL_DEG
    view.refuse(is_none, _NO_PLANTARFLEXION if joint == "ankle" else _NO_LOWERING)
    return _Fall(angle, by_deg, (label, *labels))


def _peak_rate(view: CyclesView, joint: Joint) -> Value:
    tracks = view.fall_rates(joint)
    labels = _fall(view, joint).labels
    span, _ = lowering_window(view)
    speeds, steadier = (-view.values_in(each, span, refuse_filled=True).values for each in tracks)
    return Value(at_highest_of(steadier, speeds, span.n), (*view.fall_labels(joint), *labels))


def _mean_rate(view: CyclesView) -> Value:
    view.fast_rate("ankle")
    angle, by_deg, labels = _fall(view, "ankle")
    lowest = angle.values.argmin(axis=1)
    begin, end = (angle.window.fraction_of(place) for place in (np.zeros_like(lowest), lowest))
    time_s = (end - begin) * view.duration_s
    return Value(by_deg / time_s, (*view.rate_labels("ankle"), *labels))


def _lowering_time(view: CyclesView) -> Value:
    if not view.motion.points or view.from_curve:
        raise NotDefined(Reason("no_foot_markers"))
    pitch, by_deg, labels = _fall(view, "foot_pitch")
    span, _ = lowering_window(view)
    speeds = view.values_in(view.fast_rate("foot_pitch"), span, refuse_filled=True)
    is_falling = speeds.values[:, -1] < STILL_FALLING * speeds.lowest()
    view.refuse(is_falling, _STILL_COMING_DOWN)
    level = pitch.values[:, 0] - LANDED * by_deg
    after = np.fmax((pitch.values <= level[:, None]).argmax(axis=1), 1)
    above, below = (at_column(pitch.values, place) for place in (after - 1, after))
    share = (above - level) / (above - below)
    start, stop = span.fraction_of(after - 1), span.fraction_of(after)
    time_ms = (start + share * (stop - start)) * view.duration_s * 1000
    return Value(time_ms, (*view.rate_labels("foot_pitch"), *labels))


def _lowering_angle(view: CyclesView) -> Value:
    _, by_deg, labels = _fall(view, "foot_pitch")
    return Value(by_deg, (*view.rate_labels("foot_pitch"), *labels))


def _heel_contact(view: CyclesView) -> Value:
    contact = view.contact
    view.refuse(contact == "unknown", _UNKNOWN_CONTACT)
    view.refuse(contact == "uncertain", _UNCERTAIN_CONTACT)
    return Value(np.where(contact == "heel", 100.0, 0.0))


FUNCTIONS: Final[Functions] = {
    "loading_response_plantarflexion_rate_deg_s": lambda v: _peak_rate(v, "ankle"),
    "loading_response_plantarflexion_mean_rate_deg_s": _mean_rate,
    "foot_to_floor_rate_deg_s": lambda v: _peak_rate(v, "foot_pitch"),
    "foot_lowering_time_ms": _lowering_time,
    "foot_lowering_angle_deg": _lowering_angle,
    "heel_contact_share_percent": _heel_contact,
}
