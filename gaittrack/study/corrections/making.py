"""Corrections: what a person changes in a trial, without losing what was there.

In come a trial and a change, out come the change in the history (who, when, why, what was there
before) and a new result. Nothing is deleted: a correction is undone by marking it so, in the
history as well. The original file is never touched.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any, Final

from sqlalchemy import Connection, insert, select, update

from gaittrack.errors import StudyError
from gaittrack.events.agreement import SAME_EVENT_S
from gaittrack.kinematics.landmarks import find_landmarks
from gaittrack.lab_map import LabMap
from gaittrack.measured_walk import RefusedFile, Result
from gaittrack.read import read_trial
from gaittrack.study.corrections.applying import Correction, map_with
from gaittrack.study.history import record
from gaittrack.study.results.checksums import damaged_result, events_hold
from gaittrack.study.results.keeping import KnownTrial, bump_version, keep_result
from gaittrack.study.results.measuring import Recording, measure_recording
from gaittrack.study.results.sources import recording_of
from gaittrack.study.store import Study
from gaittrack.study.tables import CORRECTION, EVENT, RESULT, TRIAL
from gaittrack.vocabulary import LANDMARKS, EventKind, Side, opposite

NEAR_S: Final = 0.02
"""A time names the event within this of it; own choice: two frames at 100 Hz."""


def move_event(
    study: Study,
    trial: KnownTrial,
    side: Side,
    kind: EventKind,
    time_s: float,
    new_time_s: float,
    *,
    who: str,
    why: str,
) -> Result | None:
    """Move an event.

    Parameters
    ----------
    trial : KnownTrial
        As it was when the person looked at it.
    time_s : float
        Where it is, within 0.02 s; seconds from the first stored frame.

    Returns
    -------
    MeasuredWalk or None
        The new result, which is stored; None for a standing trial, whose walks are stale now.

    Raises
    ------
    StudyError
        There is no such event, the new time is outside of the recording, or somebody else changed
        the trial meanwhile.
    """
    found = _event(study, trial, side, kind, time_s)
    _refuse_outside(study, trial, new_time_s)
    change = Correction("move_event", side, kind, found["time_s"], new_time_s, reason=why)
    return _correct(study, trial, change, who=who, before=found)


def add_event(
    study: Study,
    trial: KnownTrial,
    side: Side,
    kind: EventKind,
    time_s: float,
    *,
    who: str,
    why: str,
) -> Result | None:
    """Add an event where none of this side and kind is near; as :func:`move_event`."""
    _refuse_outside(study, trial, time_s)
    near = [
        event
        for event in _events(study, trial, side, kind)
        if abs(event["time_s"] - time_s) < SAME_EVENT_S
    ]
    if near:
        raise StudyError(
            f"There is one at {near[0]['time_s']:.3f} s already.",
            where=f"{trial.place}, {side} {kind}",
            action="Move that one.",
        )
    return _correct(study, trial, Correction("add_event", side, kind, time_s, reason=why), who=who)


def delete_event(
    study: Study,
    trial: KnownTrial,
    side: Side,
    kind: EventKind,
    time_s: float,
    *,
    who: str,
    why: str,
) -> Result | None:
    """Take an event out, as every source saw it; as :func:`move_event`."""
    found = _event(study, trial, side, kind, time_s)
    change = Correction("delete_event", side, kind, found["time_s"], reason=why)
    return _correct(study, trial, change, who=who, before=found)


def exclude_stride(
    study: Study, trial: KnownTrial, cycle: str, *, who: str, why: str
) -> Result | None:
    """Keep a stride (``left-02``) out of all measures; as :func:`move_event`."""
    with study.read() as connection:
        _refuse_damaged(connection, trial)
        row = connection.execute(select(RESULT.c.cycles).where(RESULT.c.trial_id == trial.id))
        cycles = {one["id"]: one for one in json.loads(row.scalar() or "[]")}
    if cycle not in cycles:
        raise StudyError(
            f"There is no stride {cycle!r}.",
            where=trial.place,
            action=f"Strides are: {', '.join(cycles) or 'none'}.",
        )
    found = cycles[cycle]
    if found["reject_reasons"]:
        raise StudyError(
            f"Stride {cycle} is out already: {'; '.join(found['reject_reasons'])}.",
            where=trial.place,
            action="Nothing to do.",
        )
    number = cycle.rpartition("-")[2] if found["from_curve"] else None
    change = Correction(
        "exclude_stride", found["side"], time_s=found["start_s"], cycle=number, reason=why
    )
    before = {"cycle": cycle, "start_s": found["start_s"], "reject_reasons": []}
    return _correct(study, trial, change, who=who, before=before)


def swap_trial_sides(study: Study, trial: KnownTrial, *, who: str, why: str) -> Result | None:
    """Let left and right change places in a trial; as :func:`move_event`."""
    return _correct(study, trial, Correction("swap_sides", reason=why), who=who)


def map_landmark(
    study: Study, trial: KnownTrial, landmark: str, label: str, *, who: str, why: str
) -> Result | None:
    """Say which label of the file a landmark is, in this trial only.

    Parameters
    ----------
    trial : KnownTrial
        As it was when the person looked at it.
    landmark : str
        One of ``vocabulary.LANDMARKS``, of the side it has in the trial as it is now. Another
        landmark that had the label loses it.
    label : str
        As it is spelt in the file.

    Returns
    -------
    MeasuredWalk or None
        As :func:`move_event`.

    Raises
    ------
    StudyError
        Unknown landmark, the file does not hold the label (the message lists those it holds), the
        landmark is that label already, or the trial cannot be measured with it.
    """
    if landmark not in LANDMARKS:
        raise StudyError(
            f"There is no landmark {landmark!r}.",
            where=trial.place,
            action=f"Landmarks are: {', '.join(LANDMARKS)}.",
        )
    with study.read() as connection:
        recording = recording_of(connection, study, trial.id)
    change = Correction("map_landmark", landmark=landmark, label=label, reason=why)
    in_file = _in_the_files_sides(change, is_swapped=recording.is_swapped)
    before = _label_of(str(in_file.landmark), label, recording, trial)
    return _correct(study, trial, change, who=who, before={"landmark": landmark, "label": before})


def _label_of(landmark: str, wanted: str, recording: Recording, trial: KnownTrial) -> str | None:
    """Return which label a landmark is now; refuse one that is not there, or is the same."""
    labels = list(read_trial(recording.path, lab_map=recording.lab_map).markers)
    if wanted not in labels:
        raise StudyError(
            f"The file does not hold the label {wanted!r}.",
            where=trial.place,
            action=f"Labels in the file: {', '.join(labels) or 'none'}.",
        )
    mapped = map_with(recording.lab_map, recording.corrections).landmarks
    there = {name: label for name, label in mapped.items() if label in labels}
    now = mapped.get(landmark) or find_landmarks(labels, LabMap(there)).labels.get(landmark)
    if now == wanted:
        raise StudyError(
            f"{landmark} is {wanted!r} already.", where=trial.place, action="Nothing to do."
        )
    return now


def confirm_trial(study: Study, trial: KnownTrial, *, who: str, why: str) -> Result | None:
    """Say that a person looked at a trial and found it right; as :func:`move_event`."""
    return _correct(study, trial, Correction("looked_at", reason=why), who=who)


def corrections_of(connection: Connection, trial: KnownTrial) -> list[dict[str, Any]]:
    """Return every correction of a trial in order, undone ones too, as rows of ``correction``."""
    query = select(CORRECTION).where(CORRECTION.c.trial_id == trial.id).order_by(CORRECTION.c.id)
    return [dict(row) for row in connection.execute(query).mappings()]


def undo_correction(
    study: Study, trial: KnownTrial, number: int, *, who: str, why: str
) -> Result | None:
    """Undo one correction.

    Parameters
    ----------
    number : int
        Its id, as in :func:`corrections_of`.

    Raises
    ------
    StudyError
        It is not there, is undone already, or a later one of the same event builds on it.
    """
    with study.read() as connection:
        rows = corrections_of(connection, trial)
    active = {row["id"]: row for row in rows if not row["is_undone"]}
    if number not in active:
        raise StudyError(
            f"There is no correction {number} to undo.",
            where=trial.place,
            action=f"Those that count: {', '.join(map(str, active)) or 'none'}.",
        )
    _refuse_built_on(active, number, trial)
    before = {key: value for key, value in active[number].items() if key != "trial_id"}
    return _correct(study, trial, None, who=who, before=before, why=why)


def _refuse_built_on(active: Mapping[int, dict[str, Any]], number: int, trial: KnownTrial) -> None:
    mine = active[number]
    made_s = mine["time_s"] if mine["kind"] == "add_event" else mine["new_time_s"]
    for later in active.values():
        same = (later["side"], later["event_kind"]) == (mine["side"], mine["event_kind"])
        if later["id"] > number and same and made_s is not None and later["time_s"] == made_s:
            raise StudyError(
                f"Correction {later['id']} changes the event that correction {number} made.",
                where=trial.place,
                action=f"Undo {later['id']} first.",
            )


def _events(study: Study, trial: KnownTrial, side: Side, kind: EventKind) -> list[dict[str, Any]]:
    names = ("time_s", "side", "kind", "source", "contact")
    query = (
        select(*(EVENT.c[name] for name in names))
        .where(EVENT.c.trial_id == trial.id, EVENT.c.side == side, EVENT.c.kind == kind)
        .order_by(EVENT.c.time_s)
    )
    with study.read() as connection:
        _refuse_damaged(connection, trial)
        return [dict(row) for row in connection.execute(query).mappings()]


def _refuse_damaged(connection: Connection, trial: KnownTrial) -> None:
    if not events_hold(connection, trial.id):
        raise damaged_result(trial.place)


def _event(
    study: Study, trial: KnownTrial, side: Side, kind: EventKind, time_s: float
) -> dict[str, Any]:
    events = _events(study, trial, side, kind)
    near = [event for event in events if abs(event["time_s"] - time_s) <= NEAR_S]
    if not near:
        times = ", ".join(f"{event['time_s']:.3f}" for event in events)
        raise StudyError(
            f"There is no such event at {time_s:.3f} s.",
            where=f"{trial.place}, {side} {kind}",
            action=f"Events of this kind (s): {times or 'none'}.",
        )
    return min(near, key=lambda event: abs(event["time_s"] - time_s))


def _refuse_outside(study: Study, trial: KnownTrial, time_s: float) -> None:
    with study.read() as connection:
        _refuse_damaged(connection, trial)
        row = connection.execute(select(RESULT.c.facts).where(RESULT.c.trial_id == trial.id))
        facts = json.loads(row.scalar() or "{}")
    rate_hz = facts.get("rate_hz")
    last_s = (facts["n_frames"] - 1) / rate_hz if rate_hz else 0.0
    if not 0.0 <= time_s <= last_s:
        raise StudyError(
            f"{time_s:g} s is outside of the recording (0 to {last_s:.3f} s).",
            where=trial.place,
            action="Give seconds from the first stored frame.",
        )


def _correct(
    study: Study,
    trial: KnownTrial,
    change: Correction | None,
    *,
    who: str,
    before: Mapping[str, Any] | None = None,
    why: str = "",
) -> Result | None:
    """Measure with the change (None: without the correction ``before``), then store both at once.

    The measuring is done outside of the transaction; the version check sees to it that nobody
    else's change is overwritten.
    """
    with study.read() as connection:
        recording = recording_of(connection, study, trial.id)
        kind = connection.execute(select(TRIAL.c.kind).where(TRIAL.c.id == trial.id)).scalar()
        rows = [row for row in corrections_of(connection, trial) if not row["is_undone"]]
    if change is not None:
        change = _in_the_files_sides(change, is_swapped=recording.is_swapped)
        corrections = (*recording.corrections, change)
    else:
        undone = dict(before or {})["id"]
        pairs = zip(recording.corrections, rows, strict=True)
        corrections = tuple(one for one, row in pairs if row["id"] != undone)
    recording = replace(recording, corrections=corrections)
    result = measure_recording(recording) if kind == "walk" else None
    _refuse_failure(result, trial)
    with study.write() as connection:
        bump_version(connection, trial)
        after: dict[str, Any] = {"trial": trial.place}
        what = "undo" if change is None else str(change.kind)
        if change is not None:
            connection.execute(
                insert(CORRECTION).values(trial_id=trial.id, is_undone=False, **asdict(change))
            )
            after |= {key: value for key, value in asdict(change).items() if value is not None}
            why = change.reason
        else:
            mine = CORRECTION.c.id == dict(before or {})["id"]
            connection.execute(update(CORRECTION).where(mine).values(is_undone=True))
        if result is not None:
            keep_result(connection, trial.id, result, recording)
        record(connection, what, who=who, person=trial.person, before=before, after=after, why=why)
    return result


def _in_the_files_sides(change: Correction, *, is_swapped: bool) -> Correction:
    if not is_swapped:
        return change
    side, _, name = (change.landmark or "").partition("_")
    if side in ("left", "right"):
        return replace(change, landmark=f"{'right' if side == 'left' else 'left'}_{name}")
    return change if change.side is None else replace(change, side=opposite(change.side))


def _refuse_failure(result: Result | None, trial: KnownTrial) -> None:
    """Do not take a correction after which the file cannot be measured at all."""
    if isinstance(result, RefusedFile):
        raise StudyError(
            f"With this change the trial cannot be measured: {result.error}",
            where=trial.place,
            action="Nothing was changed.",
        ) from result.error
