"""Measure one recording of a study, with what people corrected in it.

In come a file, its standing trial, the laboratory's map and the corrections; out comes a
:class:`MeasuredWalk`, or the reason why there is none. The same function measures at import and
whenever something changed.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal

from gaittrack.cycles import Cycle, cut_cycles
from gaittrack.errors import GaitTrackError, MissingSignalError, Problem
from gaittrack.events import DetectedEvents, detect_events
from gaittrack.events.agreement import SAME_EVENT_S
from gaittrack.kinematics import Motion, describe_motion
from gaittrack.lab_map import LabMap
from gaittrack.measured_walk import MeasuredWalk, RefusedFile, Result
from gaittrack.measures import measure_cycles
from gaittrack.plausibility import doubts
from gaittrack.read import read_trial
from gaittrack.study.originals import hash_of
from gaittrack.trial import Event, Trial, with_step
from gaittrack.vocabulary import EventKind, Side, opposite
from gaittrack.walk_records import walk_records

CorrectionKind = Literal[
    "move_event", "add_event", "delete_event", "exclude_stride", "swap_sides", "looked_at"
]
"""What a person did; ``looked_at`` says that the trial was found right and changes no number."""
EXCLUDED: Final = "excluded by a person"
_UNFORESEEN = (ArithmeticError, LookupError, MemoryError, OSError, TypeError, ValueError)
"""What a fault of this program looks like: it costs one file, not the batch."""


@dataclass(frozen=True, slots=True)
class Correction:
    """One thing a person changed. Sides are those of the file as it was recorded.

    Attributes
    ----------
    kind : CorrectionKind
    side : Side or None
        None for ``swap_sides`` and ``looked_at``.
    event_kind : EventKind or None
    time_s : float or None
        Of the event, or of the stride's first contact; seconds from the first stored frame.
    new_time_s : float or None
        Where a moved event goes.
    cycle : str or None
        Number of an excluded cycle among those of its side; tells curves of a sheet apart.
    reason : str
    """

    kind: CorrectionKind
    side: Side | None = None
    event_kind: EventKind | None = None
    time_s: float | None = None
    new_time_s: float | None = None
    cycle: str | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Recording:
    """What is measured, and with what.

    Attributes
    ----------
    path : Path
        Where its bytes lie.
    file_name : str
        What people call it.
    condition : str
        Which condition of a sheet that holds several.
    standing : Path or None
    standing_sha256 : str
        Hash of its bytes; empty without one.
    lab_map : LabMap
    corrections : tuple of Correction
        Those that count, in order.
    is_standing_swapped : bool
    """

    path: Path
    file_name: str
    condition: str
    standing: Path | None = None
    standing_sha256: str = ""
    lab_map: LabMap = LabMap()
    corrections: tuple[Correction, ...] = ()
    is_standing_swapped: bool = False

    @property
    def is_swapped(self) -> bool:
        """Whether left and right change places: after an odd number of swaps."""
        return is_swapped(self.corrections)


def is_swapped(corrections: Iterable[Correction]) -> bool:
    """Tell whether left and right change places: after an odd number of swaps."""
    return sum(each.kind == "swap_sides" for each in corrections) % 2 == 1


def measure_recording(recording: Recording) -> Result:
    """Measure a recording with its corrections.

    Parameters
    ----------
    recording : Recording

    Returns
    -------
    MeasuredWalk or RefusedFile
    """
    with _under_its_name(recording) as path:
        try:
            return _measure(path, recording)
        except GaitTrackError as error:
            return RefusedFile(path, hash_of(path), error)
        except _UNFORESEEN as fault:
            return RefusedFile(path, None, _unforeseen(fault, path))


def _unforeseen(fault: Exception, path: Path) -> GaitTrackError:
    error = GaitTrackError(
        f"The program failed on this file ({type(fault).__name__}: {fault}).",
        where=path.name,
        action="The file was not measured; please report this.",
    )
    error.__cause__ = fault
    return error


def check_standing(path: Path, lab_map: LabMap) -> Trial:
    """Read a standing trial; raise what is wrong with it."""
    trial = read_trial(path, lab_map=lab_map)
    if not trial.markers:
        raise MissingSignalError(
            "A standing trial needs markers.", where=path.name, action="Leave it out."
        )
    return trial


@contextmanager
def _under_its_name(recording: Recording) -> Iterator[Path]:
    """Give the file under the name people know, so that messages name it."""
    if recording.path.name == recording.file_name:
        yield recording.path
        return
    with tempfile.TemporaryDirectory(prefix="gaittrack-") as folder:
        named = Path(folder) / recording.file_name
        try:
            named.symlink_to(recording.path.resolve())
        except OSError:
            shutil.copyfile(recording.path, named)
        yield named


def _measure(path: Path, recording: Recording) -> MeasuredWalk:
    lab_map = recording.lab_map
    trial = read_trial(path, lab_map=lab_map)
    standing = None
    if recording.standing is not None:
        standing = check_standing(recording.standing, lab_map)
        if recording.is_standing_swapped:
            standing = swap_sides(standing, describe_motion(standing, lab_map=lab_map))
    motion = describe_motion(trial, lab_map=lab_map, standing=standing)
    if recording.is_swapped:
        trial = swap_sides(trial, motion)
        motion = describe_motion(trial, lab_map=lab_map, standing=standing)
    events = events_with(motion, recording)
    cycles, lost = _without_excluded(cut_cycles(motion, events), recording)
    rows = tuple(measure_cycles(motion, cycles))
    problems = (
        *trial.problems,
        *motion.problems,
        *events.problems,
        *doubts(cycles, path.name),
        *lost,
    )
    walk = MeasuredWalk(path, trial, motion, events, cycles, rows, tuple(dict.fromkeys(problems)))
    return _of_condition(walk, recording.condition)


def _of_condition(walk: MeasuredWalk, condition: str) -> MeasuredWalk:
    """Keep the strides of one condition, where a sheet holds several."""
    records = walk_records(walk, condition)
    own = {cycle for record in records for cycle in record.rows["cycle"]}
    cycles = tuple(
        cycle
        if cycle.id in own or not cycle.is_kept
        else replace(cycle, reject_reasons=("of another condition",))
        for cycle in walk.cycles
    )
    return replace(walk, cycles=cycles, rows=tuple(row for row in walk.rows if row.cycle in own))


def swap_sides(trial: Trial, motion: Motion) -> Trial:
    """Let left and right change places in a trial.

    Parameters
    ----------
    trial : Trial
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


def events_with(motion: Motion, recording: Recording) -> DetectedEvents:
    """Detect events, with those a person moved, added or deleted."""
    found = detect_events(motion)
    edits = [each for each in recording.corrections if each.event_kind is not None]
    if not edits:
        return found
    set_by_hand, taken_out = _replay(edits, is_swapped=recording.is_swapped)
    kept = {_identity(event) for event in set_by_hand}
    removed = [
        event
        for events in found.by_source.values()
        for event in events
        if _identity(event) not in kept and any(_is_same(event, out) for out in taken_out)
    ]
    return detect_events(motion, corrected=set_by_hand, removed=removed)


def _replay(edits: Sequence[Correction], *, is_swapped: bool) -> tuple[list[Event], list[Event]]:
    """Return the events a person set, and the places where no other source counts."""
    set_by_hand: list[Event] = []
    taken_out: list[Event] = []
    for edit in edits:
        if edit.side is None or edit.event_kind is None or edit.time_s is None:
            continue
        side = opposite(edit.side) if is_swapped else edit.side
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


def _without_excluded(
    cycles: tuple[Cycle, ...], recording: Recording
) -> tuple[tuple[Cycle, ...], list[Problem]]:
    """Give excluded strides their reason; tell of those that are no longer found."""
    kept = {cycle.id: cycle for cycle in cycles}
    lost = []
    for each in recording.corrections:
        if each.kind != "exclude_stride":
            continue
        found = _stride(cycles, each, is_swapped=recording.is_swapped)
        if found is None:
            lost.append(_lost(each, recording.file_name))
            continue
        reason = f"{EXCLUDED}: {each.reason}" if each.reason else EXCLUDED
        cycle = kept[found.id]
        kept[found.id] = replace(cycle, reject_reasons=(*cycle.reject_reasons, reason))
    return tuple(kept[cycle.id] for cycle in cycles), lost


def _stride(cycles: Sequence[Cycle], each: Correction, *, is_swapped: bool) -> Cycle | None:
    """Return the stride that starts where the excluded one did; a sheet's curve goes by number."""
    if each.side is None or each.time_s is None:
        return None
    side, start_s = opposite(each.side) if is_swapped else each.side, each.time_s
    if each.cycle is not None:
        return next((c for c in cycles if c.from_curve and c.id == f"{side}-{each.cycle}"), None)
    own = [cycle for cycle in cycles if cycle.side == side and not cycle.from_curve]
    near = [cycle for cycle in own if abs(cycle.start_s - start_s) < SAME_EVENT_S]
    return min(near, key=lambda cycle: abs(cycle.start_s - start_s), default=None)


def _lost(each: Correction, file_name: str) -> Problem:
    return Problem(
        "warning",
        f"The excluded {each.side} stride at {each.time_s} s is not there any more.",
        file_name,
        "Look at its events; exclude the stride anew if need be.",
    )
