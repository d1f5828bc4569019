"""Correct a trial, without losing what was there.

In come a trial and a correction, out come the correction in the history (who, when, why, what was
there before) and a new result. Nothing is deleted: a correction is undone by marking it so, in the
history as well. The original file is never touched.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from functools import cache, partial
from typing import Any, cast

from sqlalchemy import Connection, insert, update

from gaittrack.corrected import (
    AddEvent,
    Change,
    Correction,
    DeleteEvent,
    ExcludeStride,
    ExcludeWalk,
    KeepAngle,
    MapLandmark,
    MoveEvent,
    TurnAngle,
    Undo,
    is_swapped,
    map_with,
    on_other_side,
)
from gaittrack.errors import StudyError
from gaittrack.kinematics.landmarks import find_landmarks
from gaittrack.measured_walk import RefusedFile, Result
from gaittrack.pipeline import measure_recording, read_recording, taken_map
from gaittrack.study.correction_rows import row_of
from gaittrack.study.corrections.looking import LookedTrial
from gaittrack.study.history import record
from gaittrack.study.results.keeping import bump_version, replace_results
from gaittrack.study.results.kept_walk import kept_of
from gaittrack.study.store import Study
from gaittrack.study.tables import CORRECTION
from gaittrack.trial import Trial
from gaittrack.vocabulary import LANDMARKS, Joint

Before = dict[str, Any]
"""What was there before a correction, as the history keeps it."""


def correct(study: Study, look: LookedTrial, correction: Correction, *, who: str) -> Result | None:
    """Measure a trial with a correction, then store both at once.

    The measuring is done outside of the transaction; the version check sees to it that nobody
    else's change is overwritten.

    Parameters
    ----------
    look : LookedTrial
        The trial as it was when the person looked at it.
    correction : Correction
        Its sides are those that the trial has now.

    Returns
    -------
    MeasuredWalk or None
        The new result, which is stored; None for a standing trial, whose walks are stale now.

    Raises
    ------
    StudyError
        What it names is not there, the trial cannot be measured with it, it changes nothing, or
        somebody else changed the trial meanwhile.
    """
    trial: Callable[[], Trial] = cache(partial(read_recording, look.recording))
    before = _before(look, correction, trial)
    if isinstance(correction, Undo):
        change, active = None, look.active()
        changes = tuple(each for number, (_, each) in active.items() if number != correction.number)
    else:
        change = _in_the_files_sides(correction, look)
        changes = (*look.recording.corrections, change)
    recording = replace(look.recording, corrections=changes)
    result = measure_recording(recording, trial=trial) if look.is_walk else None
    if isinstance(result, RefusedFile):
        raise StudyError.of(
            "not_measurable_after_change", where=look.trial.place, error=str(result.error)
        ) from result.error
    with study.write() as connection:
        bump_version(connection, look.trial)
        _store(connection, look, correction, change, before, who=who)
        if result is not None:
            replace_results(connection, {look.trial.id: kept_of(recording, result)})
    return result


def _before(look: LookedTrial, correction: Correction, trial: Callable[[], Trial]) -> Before:
    """Return what was there before; refuse what cannot be done to the trial."""
    match correction:
        case MoveEvent(event, new_time_s):
            found = look.event_called(event)
            look.refuse_outside(new_time_s)
            look.refuse_passing(event, new_time_s)
            return asdict(found)
        case DeleteEvent(event):
            return asdict(look.event_called(event))
        case AddEvent():
            look.refuse_outside(correction.time_s)
            look.refuse_second(correction)
            return {}
        case ExcludeStride():
            stride = {"side": correction.side, "start_s": correction.start_s}
            return stride | {"reject_reasons": []}
        case ExcludeWalk():
            _refuse_second_time(look)
        case TurnAngle(joint) | KeepAngle(joint):
            _refuse_no_angle(look, joint, trial())
        case MapLandmark(landmark):
            return {"landmark": landmark, "label": _label_of(look, correction, trial)}
        case Undo(number):
            return _undoable(look, number)
    return {}


def _refuse_second_time(look: LookedTrial) -> None:
    numbers = [n for n, (_, each) in look.active().items() if isinstance(each, ExcludeWalk)]
    if numbers:
        raise StudyError.of("walk_out_already", where=look.trial.place, number=numbers[0])


def _refuse_no_angle(look: LookedTrial, joint: Joint, trial: Trial) -> None:
    """Refuse a sign of an angle that the file itself does not hold: it would change nothing."""
    held = {own for _, own in trial.angles} | {curve.joint for curve in trial.curves}
    if joint not in held:
        raise StudyError.of(
            "angle_not_in_file",
            where=look.trial.place,
            joint=joint,
            held=", ".join(sorted(held)) or "none",
        )


def _in_the_files_sides(change: Change, look: LookedTrial) -> Change:
    return on_other_side(change) if is_swapped(look.recording.corrections) else change


def _label_of(look: LookedTrial, change: MapLandmark, trial: Callable[[], Trial]) -> str | None:
    """Return which label a landmark is now; refuse one that is not there, or is the same."""
    if change.landmark not in LANDMARKS:
        raise StudyError.of(
            "no_landmark",
            where=look.trial.place,
            landmark=change.landmark,
            landmarks=", ".join(LANDMARKS),
        )
    shown = trial()
    labels = list(shown.markers)
    if change.label not in labels:
        raise StudyError.of(
            "file_does_not_hold_label",
            where=look.trial.place,
            label=change.label,
            labels=", ".join(labels) or "none",
        )
    landmark = cast(MapLandmark, _in_the_files_sides(change, look)).landmark
    own = taken_map(shown, look.recording.maps).lab_map
    now = find_landmarks(labels, map_with(own, look.recording.corrections)).labels.get(landmark)
    if now == change.label:
        raise StudyError.of("label_is_already", where=look.trial.place, landmark=landmark, now=now)
    return now


def _undoable(look: LookedTrial, number: int) -> Before:
    """Return the row of a correction; refuse one that is not there, or that others build on."""
    active = look.active()
    if number not in active:
        raise StudyError.of(
            "no_correction_undo",
            where=look.trial.place,
            number=number,
            active=", ".join(map(str, active)) or "none",
        )
    row, mine = active[number]
    made = mine.made.id if isinstance(mine, MoveEvent | AddEvent) else None
    for later, (_, change) in active.items():
        changed = change.event if isinstance(change, MoveEvent | DeleteEvent) else None
        if later > number and made is not None and changed == made:
            raise StudyError.of(
                "later_correction_in_the_way",
                where=look.trial.place,
                later=later,
                number=number,
            )
    return {key: value for key, value in row.items() if key != "trial_id"}


def _store(
    connection: Connection,
    look: LookedTrial,
    correction: Correction,
    change: Change | None,
    before: Before,
    *,
    who: str,
) -> None:
    """Keep a change, or mark what is undone; both stand in the history."""
    what, after = "undo", {"trial": look.trial.place}
    if change is None:
        undone = CORRECTION.c.id == before["id"]
        connection.execute(update(CORRECTION).where(undone).values(is_undone=True))
    else:
        row = row_of(change)
        values = {"trial_id": look.trial.id, "is_undone": False, **row}
        connection.execute(insert(CORRECTION).values(values))
        what = row["kind"]
        after |= {key: value for key, value in row.items() if value is not None}
    person, why = look.trial.person, correction.reason
    record(connection, what, who=who, person=person, before=before, after=after, why=why)
