"""Put files into a study: their originals first, then everything about them at once.

In come planned files and what was measured from them, out comes what became of each. The originals
lie in the study before their rows are committed: stopped at any instant, the study is as before
these files or as after them, and a second run does the rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Select, insert, or_, select

from gaittrack.errors import StudyError
from gaittrack.part_names import on_disk, recording_key
from gaittrack.plain_files import hash_of
from gaittrack.readable_names import readable
from gaittrack.study.history import last_sequence, record_alike
from gaittrack.study.originals import keep_original, original_path, plain_suffix
from gaittrack.study.people.enrolled import check_against_study, ensure_condition
from gaittrack.study.recordings.planning import PlannedFile, State
from gaittrack.study.results.keeping import keep_results
from gaittrack.study.results.kept_walk import KeptWalk
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, PERSON, TRIAL, VISIT

_NEW_TRIALS: Final = insert(TRIAL).returning(TRIAL.c.id, sort_by_parameter_order=True)


@dataclass(slots=True)
class SeenStudy:
    """What one import knows of a study that nobody else has changed meanwhile.

    Attributes
    ----------
    sequence : int
        Of the newest entry of the history that it knows: the last before it began, or its own.
    conditions : dict
        Row numbers of conditions by visit and name, each with all that the visit says of it.
    """

    sequence: int = -1
    conditions: dict[tuple[int, str], int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class NewFile:
    """A file that shall go in.

    Attributes
    ----------
    hashes : tuple of str
        Of its bytes and of its events table; the second is empty without one.
    measured : KeptWalk or None
        Of a walk.
    note : str
        What to know when it was added.
    """

    file: PlannedFile
    hashes: tuple[str, str]
    measured: KeptWalk | None = None
    note: str = ""


def add_files(
    study: Study, new: Sequence[NewFile], *, who: str, seen: SeenStudy | None = None
) -> list[tuple[State, str]]:
    """Add files at once, each unless another process did so since it was looked at.

    Parameters
    ----------
    seen : SeenStudy, optional
        They go well with the study as it was then; as long as it is, that is not asked again.

    Returns
    -------
    list of (State, str)
        What became of each, and what to know.

    Raises
    ------
    StudyError
        The study cannot be written; then none of them is in it.
    """
    may_write = False
    try:
        with study.write() as connection:
            may_write = True
            is_as_seen = seen is not None and last_sequence(connection) == seen.sequence
            known = seen if is_as_seen else None
            told = [_refused(study, connection, each, known) for each in new]
            going_in = [one for one, why in zip(new, told, strict=True) if why is None]
            _put_in(connection, going_in, known, who=who)
            newest = last_sequence(connection)
        if seen is not None and is_as_seen:
            seen.sequence = newest
    except BaseException:
        if seen is not None:
            seen.sequence = -1  # what was to be written is not there
            seen.conditions.clear()
        if may_write:
            _take_originals_back(study, new)
        raise
    return [why or ("added", one.note) for one, why in zip(new, told, strict=True)]


def _refused(
    study: Study, connection: Connection, new: NewFile, seen: SeenStudy | None
) -> tuple[State, str] | None:
    """Return why a file does not go in; keep the originals of one that does."""
    try:
        if seen is None:
            _refuse_clash(connection, new.file, new.hashes)
        _keep_originals(study, new.file, new.hashes)
    except StudyError as error:
        return ("known" if isinstance(error, _Known) else "refused"), str(error)
    return None


def _put_in(
    connection: Connection, new: Sequence[NewFile], seen: SeenStudy | None, *, who: str
) -> None:
    """Add the rows of files of one person, whose originals are there, and their history."""
    if not new:
        return
    conditions = seen.conditions if seen is not None else {}
    rows = [_row_of(connection, each, conditions, who=who) for each in new]
    ids = connection.execute(_NEW_TRIALS, rows).scalars().all()
    after = [_history_of(each, row) for each, row in zip(new, rows, strict=True)]
    record_alike(connection, "import", who=who, person=new[0].file.visit.person, after=after)
    walks = ((key, each.measured) for key, each in zip(ids, new, strict=True))
    keep_results(connection, {key: kept for key, kept in walks if kept is not None})


def put_back(study: Study, file: PlannedFile, hashes: tuple[str, str]) -> bool:
    """Copy a known file into the study again when its original is missing or cut short.

    Parameters
    ----------
    file : PlannedFile
        The same bytes as a trial's.

    Returns
    -------
    bool
        Whether something was put back.

    Raises
    ------
    StudyError
        The study cannot be written.
    """
    lost = [
        (source, sha256)
        for source, sha256, target in _originals(study, file, hashes)
        if not target.is_file() or target.stat().st_size != on_disk(source).stat().st_size
    ]
    if lost:
        with study.write():
            for source, sha256 in lost:
                keep_original(study.folder, source, sha256)
    return bool(lost)


def _originals(
    study: Study, file: PlannedFile, hashes: tuple[str, str]
) -> list[tuple[Path, str, Path]]:
    """Return the file, and its events table, each with its hash and its place in the study."""
    given = [(file.path, hashes[0])]
    given += [(file.events, hashes[1])] if file.events is not None else []
    return [
        (source, sha256, original_path(study.folder, sha256, plain_suffix(source)))
        for source, sha256 in given
    ]


class _Known(StudyError):
    """The file is in the study already."""


def _keep_originals(study: Study, file: PlannedFile, hashes: tuple[str, str]) -> None:
    for source, sha256, _ in _originals(study, file, hashes):
        keep_original(study.folder, source, sha256)


def _take_originals_back(study: Study, new: Sequence[NewFile]) -> None:
    """Delete the copies that no trial refers to; where that fails, verify and erase find them."""
    kept = [each for one in new for each in _originals(study, one.file, one.hashes)]
    with suppress(StudyError), study.write() as connection:
        for _, sha256, target in kept:
            needed = or_(TRIAL.c.sha256 == sha256, TRIAL.c.events_sha256 == sha256)
            if connection.execute(select(TRIAL.c.id).where(needed)).first() is None:
                target.unlink(missing_ok=True)


def _refuse_clash(connection: Connection, file: PlannedFile, hashes: tuple[str, str]) -> None:
    """Refuse what went well with the study when the file was looked at, and does not any more."""
    check_against_study(connection, file.visit, file.condition)
    columns = TRIAL.c.sha256, TRIAL.c.events_sha256, TRIAL.c.file_name
    own = recording_key(hashes[0], readable(file.path.name))
    mine = _in_condition(file).where(TRIAL.c.kind == file.kind, TRIAL.c.code == file.code)
    there = connection.execute(mine.with_only_columns(*columns)).first()
    if there is not None:
        is_same = (recording_key(there[0], there[2]), there[1] or "") == (own, hashes[1])
        kind = _Known if is_same else StudyError
        raise kind(
            "Another process imported a file under this name meanwhile.",
            where=file.place,
            action="Nothing to do if it is the same one; else give this one a name of its own.",
        )
    if file.kind == "walk" and not file.is_shared:
        same_bytes = select(TRIAL.c.code, TRIAL.c.file_name).where(
            TRIAL.c.kind == "walk", TRIAL.c.sha256 == hashes[0]
        )
        others = connection.execute(same_bytes).all()
        keys = {recording_key(hashes[0], name): code for code, name in others}
        other = keys.get(own)
        if other is not None:
            raise StudyError.of(
                "another_process_imported_same_bytes", where=file.place, other=other
            )
    if file.standing is not None and find_standing(connection, file) is None:
        raise StudyError.of("standing_trial_not_in_study", where=file.place)


def find_standing(connection: Connection, file: PlannedFile) -> int | None:
    """Return the id of a walk's standing trial: the same bytes in the same condition."""
    if file.standing is None:
        return None
    query = _in_condition(file).where(
        TRIAL.c.kind == "standing", TRIAL.c.sha256 == hash_of(on_disk(file.standing))
    )
    return connection.execute(query.with_only_columns(TRIAL.c.id)).scalar()


def _in_condition(file: PlannedFile) -> Select[Any]:
    return (
        select(TRIAL)
        .select_from(PERSON.join(VISIT).join(CONDITION).join(TRIAL))
        .where(
            PERSON.c.code == file.visit.person,
            VISIT.c.code == file.visit.code,
            CONDITION.c.code == file.condition,
        )
    )


def _row_of(
    connection: Connection, new: NewFile, conditions: dict[tuple[int, str], int], *, who: str
) -> dict[str, Any]:
    """Return the row of a trial; add its condition and what that hangs on where it is missing."""
    file, hashes = new.file, new.hashes
    key = id(file.visit), file.condition
    if key not in conditions:
        conditions[key] = ensure_condition(connection, file.visit, file.condition, who=who)
    events = file.events
    return {
        "condition_id": conditions[key],
        "code": file.code,
        "kind": file.kind,
        "file_name": readable(file.path.name),
        "sha256": hashes[0],
        "suffix": plain_suffix(file.path),
        "standing_id": find_standing(connection, file),
        "version": 1,
        "events_file_name": None if events is None else readable(events.name),
        "events_sha256": None if events is None else hashes[1],
    }


def _history_of(new: NewFile, row: Mapping[str, Any]) -> dict[str, Any]:
    after = {"trial": new.file.place, "kind": row["kind"], "file": row["file_name"]}
    after["sha256"] = row["sha256"]
    names = ("events_file_name", "events_sha256") if new.file.events is not None else ()
    return after | {name: row[name] for name in names}
