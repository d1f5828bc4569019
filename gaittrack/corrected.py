"""Corrections: what a person may change in a trial, and how that acts on what is measured.

In come what was recorded and what a person changed, out come sides, landmarks, events and strides
as corrected. Each kind of correction is a class of its own; :data:`Correction` lists them all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from gaittrack.cycles import Cycle
from gaittrack.errors import MissingSignalError, Problem
from gaittrack.events import DetectedEvents, detect_events
from gaittrack.events.agreement import SAME_EVENT_S
from gaittrack.kinematics import Motion
from gaittrack.lab_map import LabMap
from gaittrack.read.sheets.angle_signs import settle_signs
from gaittrack.reasons import Reason
from gaittrack.trial import Event, EventId, Trial, with_step
from gaittrack.vocabulary import SIDES, EventKind, Joint, Side, opposite

EXCLUDED: Final = "excluded"
EXCLUDED_BECAUSE: Final = "excluded_because"
"""Codes of the reason against a stride that a person left out, without and with own words."""


@dataclass(frozen=True, slots=True)
class MoveEvent:
    """An event happened at another time, in seconds from the first stored frame."""

    event: EventId
    new_time_s: float
    reason: str = ""

    @property
    def made(self) -> Event:
        """The event as it is then."""
        return Event(self.new_time_s, self.event.side, self.event.kind, "corrected")


@dataclass(frozen=True, slots=True)
class AddEvent:
    """An event happened that no source saw."""

    side: Side
    kind: EventKind
    time_s: float
    reason: str = ""

    @property
    def made(self) -> Event:
        """The event that is there then."""
        return Event(self.time_s, self.side, self.kind, "corrected")


@dataclass(frozen=True, slots=True)
class DeleteEvent:
    """An event did not happen, whichever source saw it."""

    event: EventId
    reason: str = ""


@dataclass(frozen=True, slots=True)
class ExcludeStride:
    """A stride is left out of all measures.

    Attributes
    ----------
    start_s : float
        Of its first contact; seconds from the first stored frame.
    curve : str or None
        Number of a sheet's curve among those of its side; tells curves apart.
    """

    side: Side
    start_s: float
    curve: str | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class ExcludeWalk:
    """Every stride of the trial is left out of all measures."""

    reason: str = ""


@dataclass(frozen=True, slots=True)
class TurnAngle:
    """An angle that the file itself holds gets the other sign, on both sides."""

    joint: Joint
    reason: str = ""


@dataclass(frozen=True, slots=True)
class KeepAngle:
    """An angle that the file itself holds has the right sign, whatever a check suspects."""

    joint: Joint
    reason: str = ""


@dataclass(frozen=True, slots=True)
class SwapSides:
    """Left and right change places."""

    reason: str = ""


@dataclass(frozen=True, slots=True)
class MapLandmark:
    """A landmark is this label of the file, in this trial only."""

    landmark: str
    label: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class LookedAt:
    """The trial was looked at and found right; changes no number."""

    reason: str = ""


@dataclass(frozen=True, slots=True)
class Undo:
    """A correction made earlier, by its number, counts no longer."""

    number: int
    reason: str = ""


Change = (
    MoveEvent
    | AddEvent
    | DeleteEvent
    | ExcludeStride
    | ExcludeWalk
    | TurnAngle
    | KeepAngle
    | SwapSides
    | MapLandmark
    | LookedAt
)
"""What stays with a trial while it counts. Sides are those of the file as it was recorded."""
Correction = Change | Undo
"""Everything a person may do to a trial."""


def is_swapped(changes: Iterable[Change]) -> bool:
    """Tell whether left and right change places: after an odd number of swaps."""
    return sum(isinstance(each, SwapSides) for each in changes) % 2 == 1


def on_other_side(change: Change) -> Change:
    """Return a change of the same foot in a trial whose sides are called the other way round."""
    match change:
        case MoveEvent() | DeleteEvent():
            return replace(change, event=replace(change.event, side=opposite(change.event.side)))
        case AddEvent() | ExcludeStride():
            return replace(change, side=opposite(change.side))
        case MapLandmark():
            return replace(change, landmark=_of_other_side(change.landmark))
        case ExcludeWalk() | TurnAngle() | KeepAngle() | SwapSides() | LookedAt():
            return change


def _of_other_side(landmark: str) -> str:
    side, _, name = landmark.partition("_")
    return next((f"{opposite(own)}_{name}" for own in SIDES if own == side), landmark)


def map_with(lab_map: LabMap, changes: Iterable[Change]) -> LabMap:
    """Return the map with the landmarks a person mapped anew; each label is one landmark only."""
    landmarks = dict(lab_map.landmarks)
    for each in changes:
        if isinstance(each, MapLandmark):
            landmarks = {name: label for name, label in landmarks.items() if label != each.label}
            landmarks[each.landmark] = each.label
    return replace(lab_map, landmarks=landmarks)


def with_signs(trial: Trial, changes: Iterable[Change]) -> Trial:
    """Return a trial with the signs of the file's angles that a person settled."""
    turned: set[Joint] = set()
    answered: dict[Joint, None] = {}
    for each in changes:
        if isinstance(each, TurnAngle):
            turned ^= {each.joint}
        if isinstance(each, TurnAngle | KeepAngle):
            answered[each.joint] = None
    return settle_signs(
        trial,
        turned=[joint for joint in answered if joint in turned],
        kept=[joint for joint in answered if joint not in turned],
    )


def swap_sides(trial: Trial, motion: Motion) -> Trial:
    """Let left and right change places in a trial.

    Parameters
    ----------
    motion : Motion
        Made from it; says which label is which landmark.

    Returns
    -------
    Trial
        Markers, angles, curves and marks of the other side.

    Raises
    ------
    MissingSignalError
        A landmark was seen on one side only.
    """
    labels = motion.landmark_labels
    markers = dict(trial.markers)
    for key, label in labels.items():
        other = _of_other_side(key)
        if other == key:
            continue
        if other not in labels:
            raise MissingSignalError.of(
                "no_partner_other_side", where=trial.provenance.file_name, label=label
            )
        markers[label] = trial.markers[labels[other]]
    swapped = replace(
        trial,
        markers=markers,
        angles={(opposite(side), joint): one for (side, joint), one in trial.angles.items()},
        curves=tuple(replace(one, side=opposite(one.side)) for one in trial.curves),
        events=tuple(replace(one, side=opposite(one.side)) for one in trial.events),
    )
    return with_step(swapped, "left and right changed places by a person")


def events_with(motion: Motion, changes: Iterable[Change]) -> DetectedEvents:
    """Detect events, with those a person moved, added or deleted.

    Parameters
    ----------
    changes : iterable of Change
        In order, with the sides of the motion.
    """
    found = detect_events(motion)
    seen = {event.id: event for events in found.by_source.values() for event in events}
    set_by_hand, taken_out = _replay(changes, seen)
    if not set_by_hand and not taken_out:
        return found
    removed = [
        event
        for name, event in seen.items()
        if name not in set_by_hand and any(_is_same(event, out) for out in taken_out)
    ]
    return detect_events(motion, corrected=set_by_hand.values(), removed=removed)


def _replay(
    changes: Iterable[Change], seen: dict[EventId, Event]
) -> tuple[dict[EventId, Event], list[Event]]:
    """Return the events a person set, and those in whose place no other source counts."""
    set_by_hand: dict[EventId, Event] = {}
    taken_out: list[Event] = []
    for each in changes:
        if isinstance(each, MoveEvent | DeleteEvent):
            name = each.event
            plain = Event(name.time_s, name.side, name.kind, "corrected")
            taken_out.append(set_by_hand.pop(name, seen.get(name, plain)))
        if isinstance(each, MoveEvent | AddEvent):
            set_by_hand[each.made.id] = each.made
    return set_by_hand, taken_out


def _is_same(event: Event, other: Event) -> bool:
    alike = (event.side, event.kind) == (other.side, other.kind)
    return alike and abs(event.time_s - other.time_s) < SAME_EVENT_S


def without_excluded(
    cycles: tuple[Cycle, ...], changes: Iterable[Change], file_name: str
) -> tuple[tuple[Cycle, ...], list[Problem]]:
    """Give excluded strides their reason; tell of those that are no longer found."""
    kept = {cycle.id: cycle for cycle in cycles}
    lost = []
    for each in changes:
        if not isinstance(each, ExcludeStride | ExcludeWalk):
            continue
        found = cycles if isinstance(each, ExcludeWalk) else _stride(cycles, each)
        if isinstance(each, ExcludeStride) and not found:
            lost.append(_lost(each, file_name))
        reason = Reason(EXCLUDED_BECAUSE, text=each.reason) if each.reason else Reason(EXCLUDED)
        for one in found:
            cycle = kept[one.id]
            kept[one.id] = replace(cycle, reject_reasons=(*cycle.reject_reasons, reason))
    return tuple(kept[cycle.id] for cycle in cycles), lost


def _stride(cycles: Sequence[Cycle], each: ExcludeStride) -> Sequence[Cycle]:
    """Return the stride that starts where the excluded one did; a sheet's curve goes by number."""
    if each.curve is not None:
        wanted = f"{each.side}-{each.curve}"
        return [cycle for cycle in cycles if cycle.from_curve and cycle.id == wanted][:1]
    own = [cycle for cycle in cycles if cycle.side == each.side and not cycle.from_curve]
    near = [cycle for cycle in own if abs(cycle.start_s - each.start_s) < SAME_EVENT_S]
    return sorted(near, key=lambda cycle: abs(cycle.start_s - each.start_s))[:1]


def _lost(each: ExcludeStride, file_name: str) -> Problem:
    reason = Reason("excluded_is_lost", side=each.side, time_s=float(each.start_s))
    return Problem("warning", reason, file_name)
