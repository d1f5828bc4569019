"""Corrections, and how they act on what is measured.

In come what was recorded and what a person changed, out come sides, landmarks, events and strides
as corrected. How corrections are made and kept is in ``corrections.py``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from gaittrack.cycles import Cycle
from gaittrack.errors import MissingSignalError, Problem
from gaittrack.events import DetectedEvents, detect_events
from gaittrack.events.agreement import SAME_EVENT_S
from gaittrack.kinematics import Motion
from gaittrack.lab_map import LabMap
from gaittrack.reasons import Reason
from gaittrack.trial import Event, Trial, with_step
from gaittrack.vocabulary import EventKind, Side, opposite

CorrectionKind = Literal[
    "move_event",
    "add_event",
    "delete_event",
    "exclude_stride",
    "swap_sides",
    "map_landmark",
    "looked_at",
]
"""What a person did; ``looked_at`` says that the trial was found right and changes no number."""
EXCLUDED: Final = "excluded"
EXCLUDED_BECAUSE: Final = "excluded_because"
"""Codes of the reason against a stride that a person left out, without and with own words."""


@dataclass(frozen=True, slots=True)
class Correction:
    """One thing a person changed. Sides are those of the file as it was recorded.

    Attributes
    ----------
    side : Side or None
        Of an event or a stride.
    time_s : float or None
        Of the event, or of the stride's first contact; seconds from the first stored frame.
    new_time_s : float or None
        Where a moved event goes.
    cycle : str or None
        Number of an excluded cycle among those of its side; tells curves of a sheet apart.
    landmark, label : str or None
        Of ``map_landmark``: which landmark the file's label stands for.
    """

    kind: CorrectionKind
    side: Side | None = None
    event_kind: EventKind | None = None
    time_s: float | None = None
    new_time_s: float | None = None
    cycle: str | None = None
    reason: str = ""
    landmark: str | None = None
    label: str | None = None


def is_swapped(corrections: Iterable[Correction]) -> bool:
    """Tell whether left and right change places: after an odd number of swaps."""
    return sum(each.kind == "swap_sides" for each in corrections) % 2 == 1


def map_with(lab_map: LabMap, corrections: Iterable[Correction]) -> LabMap:
    """Return the map with the landmarks a person mapped anew; each label is one landmark only."""
    landmarks = dict(lab_map.landmarks)
    for each in corrections:
        if each.landmark is not None and each.label is not None:
            landmarks = {name: label for name, label in landmarks.items() if label != each.label}
            landmarks[each.landmark] = each.label
    return replace(lab_map, landmarks=landmarks)


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
        side, _, name = key.partition("_")
        if side not in ("left", "right"):
            continue
        partner = labels.get(f"{'right' if side == 'left' else 'left'}_{name}")
        if partner is None:
            raise MissingSignalError(
                f"{label} has no partner on the other side.",
                where=trial.provenance.file_name,
                action="Sides cannot change places here; name the landmarks in a map file.",
            )
        markers[label] = trial.markers[partner]
    swapped = replace(
        trial,
        markers=markers,
        angles={(opposite(side), joint): one for (side, joint), one in trial.angles.items()},
        curves=tuple(replace(one, side=opposite(one.side)) for one in trial.curves),
        events=tuple(replace(one, side=opposite(one.side)) for one in trial.events),
    )
    return with_step(swapped, "left and right changed places by a person")


def events_with(motion: Motion, corrections: Sequence[Correction]) -> DetectedEvents:
    """Detect events, with those a person moved, added or deleted."""
    found = detect_events(motion)
    edits = [each for each in corrections if each.event_kind is not None]
    if not edits:
        return found
    set_by_hand, taken_out = _replay(edits, swapped=is_swapped(corrections))
    kept = {_identity(event) for event in set_by_hand}
    removed = [
        event
        for events in found.by_source.values()
        for event in events
        if _identity(event) not in kept and any(_is_same(event, out) for out in taken_out)
    ]
    return detect_events(motion, corrected=set_by_hand, removed=removed)


def _replay(edits: Sequence[Correction], *, swapped: bool) -> tuple[list[Event], list[Event]]:
    """Return the events a person set, and the places where no other source counts."""
    set_by_hand: list[Event] = []
    taken_out: list[Event] = []
    for edit in edits:
        if edit.side is None or edit.event_kind is None or edit.time_s is None:
            continue
        side = opposite(edit.side) if swapped else edit.side
        old = Event(edit.time_s, side, edit.event_kind, "corrected")
        if edit.kind == "add_event":
            set_by_hand.append(old)
            continue
        mine = [event for event in set_by_hand if _identity(event) == _identity(old)]
        set_by_hand = [event for event in set_by_hand if event not in mine]
        taken_out.append(old)
        if edit.new_time_s is not None:
            set_by_hand.append(replace(old, time_s=edit.new_time_s))
    return set_by_hand, taken_out


def _identity(event: Event) -> tuple[str, str, int]:
    return event.side, event.kind, round(1000 * event.time_s)


def _is_same(event: Event, other: Event) -> bool:
    alike = (event.side, event.kind) == (other.side, other.kind)
    return alike and abs(event.time_s - other.time_s) < SAME_EVENT_S


def without_excluded(
    cycles: tuple[Cycle, ...], corrections: Sequence[Correction], file_name: str
) -> tuple[tuple[Cycle, ...], list[Problem]]:
    """Give excluded strides their reason; tell of those that are no longer found."""
    swapped = is_swapped(corrections)
    kept = {cycle.id: cycle for cycle in cycles}
    lost = []
    for each in corrections:
        if each.kind != "exclude_stride":
            continue
        found = _stride(cycles, each, swapped=swapped)
        if found is None:
            lost.append(_lost(each, file_name))
            continue
        text = each.reason
        reason = Reason(EXCLUDED_BECAUSE, text=text) if text else Reason(EXCLUDED)
        cycle = kept[found.id]
        kept[found.id] = replace(cycle, reject_reasons=(*cycle.reject_reasons, reason))
    return tuple(kept[cycle.id] for cycle in cycles), lost


def _stride(cycles: Sequence[Cycle], each: Correction, *, swapped: bool) -> Cycle | None:
    """Return the stride that starts where the excluded one did; a sheet's curve goes by number."""
    if each.side is None or each.time_s is None:
        return None
    side, start_s = opposite(each.side) if swapped else each.side, each.time_s
    if each.cycle is not None:
        return next((c for c in cycles if c.from_curve and c.id == f"{side}-{each.cycle}"), None)
    own = [cycle for cycle in cycles if cycle.side == side and not cycle.from_curve]
    near = [cycle for cycle in own if abs(cycle.start_s - start_s) < SAME_EVENT_S]
    return min(near, key=lambda cycle: abs(cycle.start_s - start_s), default=None)


def _lost(each: Correction, file_name: str) -> Problem:
    reason = Reason("excluded_is_lost", side=str(each.side), time_s=float(each.time_s or 0))
    return Problem("warning", reason, file_name)
