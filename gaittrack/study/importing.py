"""Bring files into a study: measure, keep the original unchanged, then store.

In comes a plan, out comes one report row per file. A bad file costs its own row; a file that is
there already, by its bytes, is known. The original lies in the study before its row is committed,
and everything about one file is committed at once: stopped at any instant, the study is as before
that file or as after it, and a second run does the rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from sqlalchemy import Connection, insert, select

from gaittrack.errors import GaitTrackError, StudyError
from gaittrack.lab_map import LabMap
from gaittrack.measured_walk import MeasuredWalk, RefusedFile
from gaittrack.study.history import record
from gaittrack.study.measuring import (
    Recording,
    check_standing,
    measure_recording,
)
from gaittrack.study.originals import hash_of, keep_original, plain_suffix
from gaittrack.study.people import check_against_study, ensure_condition, person_codes
from gaittrack.study.planning import Plan, PlannedFile, ReportRow, State
from gaittrack.study.recordings import laboratory_map, recording_of
from gaittrack.study.results import keep_result, known_trials
from gaittrack.study.store import Study, explained
from gaittrack.study.tables import TRIAL


@dataclass(slots=True)
class _Run:
    """What one import knows while it runs.

    ``study`` is None for a dry run without a study. ``hashes`` maps (kind, place) to the hash of
    the bytes there, ``places`` the hash of a walk to its place; both also hold what a dry run
    would add.
    """

    study: Study | None
    who: str
    new_people: bool
    dry_run: bool
    lab_map: LabMap = field(default_factory=LabMap)
    people: set[str] = field(default_factory=set)
    hashes: dict[tuple[str, str], str] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    refused_standing: dict[tuple[str, str], str] = field(default_factory=dict)


def import_files(
    study: Study | None,
    plan: Plan,
    *,
    who: str,
    new_people: bool = False,
    dry_run: bool = False,
) -> Iterator[ReportRow]:
    """Import files one by one, as the rows are asked for.

    Parameters
    ----------
    study : Study or None
        None only for a dry run of a study that does not exist yet.
    plan : Plan
    who : str
        For the history.
    new_people : bool
        Take people that neither the study nor a [person] table knows.
    dry_run : bool
        Measure and check, and write nothing.

    Yields
    ------
    ReportRow
        First those the plan refused, then one per planned file.

    Raises
    ------
    StudyError
        The study itself cannot be written; what was imported before is kept.
    """
    if study is None and not dry_run:
        raise ValueError("only a dry run can do without a study")
    yield from plan.refused
    run = _Run(study, who, new_people, dry_run)
    if study is not None:
        _look_around(run, study)
    for file in plan.files:
        yield _import_one(run, file)


def _look_around(run: _Run, study: Study) -> None:
    with study.read() as connection:
        run.lab_map = laboratory_map(connection)
        run.people = set(person_codes(connection))
        for kind in ("walk", "standing"):
            stored = {row.id: row.sha256 for row in connection.execute(select(TRIAL))}
            for trial in known_trials(connection, kind=kind):
                _note(run, kind, trial.place, stored[trial.id])


def _note(run: _Run, kind: str, place: str, sha256: str) -> None:
    run.hashes[kind, place] = sha256
    if kind == "walk":
        run.places[sha256] = place


def _import_one(run: _Run, file: PlannedFile) -> ReportRow:
    """Import one file. What is wrong with it becomes its row; a failing study ends the run."""
    try:
        sha256 = hash_of(file.path)
        known = _known(run, file, sha256)
        if known:
            return _row(file, "known", known)
        found = _measured(run, file)
    except GaitTrackError as error:
        return _refused(run, file, str(error))
    except OSError as error:
        return _refused(run, file, f"The file cannot be opened ({error.strerror}).")
    if isinstance(found, RefusedFile):
        return _refused(run, file, str(found.error))
    if found is not None and found.trial.provenance.sha256 != sha256:
        return _refused(run, file, "The file changed while it was read. Import it again.")
    note = "" if found is None else _side_note(file, found)
    if run.study is None or run.dry_run:
        _note(run, file.kind, file.place, sha256)
        return _row(file, "would add", note)
    return _store(run, run.study, file, sha256, found, note)


def _row(file: PlannedFile, state: State, message: str = "") -> ReportRow:
    return ReportRow(file.path, state, file.place, message)


def _refused(run: _Run, file: PlannedFile, message: str) -> ReportRow:
    if file.kind == "standing":
        run.refused_standing[str(file.path.resolve()), file.condition] = message
    return _row(file, "refused", message)


def _known(run: _Run, file: PlannedFile, sha256: str) -> str:
    """Return where the same bytes already are, or "" for a file that is new.

    Raises
    ------
    StudyError
        The bytes stand for something else, the place holds other bytes, or the words beside the
        file contradict the study.
    """
    if file.visit.person not in run.people and not (run.new_people or file.visit.is_described):
        raise StudyError(
            f"Unknown person {file.visit.person!r}.",
            where=file.place,
            action="Correct the code; or describe the person under [person] in the conditions "
            "file, or allow new people (--new-people).",
        )
    if run.study is not None:
        with run.study.read() as connection:
            check_against_study(connection, file.visit, file.condition)
    there = run.hashes.get((file.kind, file.place))
    if there == sha256:
        return "Already in the study."
    elsewhere = run.places.get(sha256) if file.kind == "walk" else None
    if elsewhere is not None:
        return _same_bytes(file, elsewhere)
    if there is not None:
        raise StudyError(
            "Two files for one trial: other bytes are already there under this name.",
            where=file.place,
            action="Give the second recording a name of its own, or leave it out.",
        )
    return ""


def _same_bytes(file: PlannedFile, elsewhere: str) -> str:
    if elsewhere.split("/")[:3] == file.place.split("/")[:3]:
        return f"The same bytes as {elsewhere}."
    raise StudyError(
        f"The same bytes already stand for {elsewhere}.",
        where=file.place,
        action="A recording has one person, visit and condition; correct the layout.",
    )


def _measured(run: _Run, file: PlannedFile) -> MeasuredWalk | RefusedFile | None:
    """Measure a walk; of a standing trial only see that it can be used, and return None."""
    if file.kind == "standing":
        check_standing(file.path, run.lab_map)
        return None
    return measure_recording(_recording(run, file))


def _recording(run: _Run, file: PlannedFile) -> Recording:
    recording = Recording(file.path, file.path.name, file.condition, lab_map=run.lab_map)
    if file.standing is None:
        return recording
    bad = run.refused_standing.get((str(file.standing.resolve()), file.condition))
    if bad:
        raise StudyError(
            f"Its standing trial was refused ({bad}).",
            where=file.place,
            action="Correct the standing trial, or leave it out: the angles' zero depends on it.",
        )
    is_swapped = False
    if run.study is not None and not run.dry_run:
        with run.study.read() as connection:
            standing_id = _standing_id(connection, file)
            stored = standing_id and recording_of(connection, run.study, standing_id)
            is_swapped = bool(stored and stored.is_swapped)
    return Recording(
        file.path,
        file.path.name,
        file.condition,
        standing=file.standing,
        standing_sha256=hash_of(file.standing),
        lab_map=run.lab_map,
        is_standing_swapped=is_swapped,
    )


def _standing_id(connection: Connection, file: PlannedFile) -> int | None:
    if file.standing is None:
        return None
    start = f"{file.visit.person}/{file.visit.code}/{file.condition}/"
    wanted = hash_of(file.standing)
    for trial in known_trials(connection, kind="standing"):
        if trial.place.startswith(start):
            row = select(TRIAL.c.sha256).where(TRIAL.c.id == trial.id)
            if connection.execute(row).scalar() == wanted:
                return trial.id
    return None


def _side_note(file: PlannedFile, walk: MeasuredWalk) -> str:
    """Say so when a brace is on a side of which the file shows nothing."""
    condition = file.visit.conditions.get(file.condition)
    side = condition.orthosis_side if condition is not None else None
    seen = {cycle.side for cycle in walk.cycles}
    if side not in ("left", "right") or not seen or side in seen:
        return ""
    return f"The brace is on the {side}, but the file shows only the {seen.pop()} side."


def _store(
    run: _Run,
    study: Study,
    file: PlannedFile,
    sha256: str,
    found: MeasuredWalk | None,
    note: str,
) -> ReportRow:
    keep = None if found is None else _recording(run, file)
    with explained(study.folder):
        keep_original(study.folder, file.path, sha256)
    with study.write() as connection:
        trial_id = _insert_trial(connection, run.who, file, sha256)
        if found is not None and keep is not None:
            keep_result(connection, trial_id, found, keep)
    run.people.add(file.visit.person)
    _note(run, file.kind, file.place, sha256)
    return _row(file, "added", note)


def _insert_trial(connection: Connection, who: str, file: PlannedFile, sha256: str) -> int:
    """Add the rows of a trial and of what it hangs on."""
    condition_id = ensure_condition(connection, file.visit, file.condition, who=who)
    taken = select(TRIAL.c.id).where(TRIAL.c.kind == file.kind)
    same_place = taken.where(TRIAL.c.condition_id == condition_id, TRIAL.c.code == file.code)
    same_bytes = taken.where(TRIAL.c.sha256 == sha256)
    clash = connection.execute(same_place).first()
    if clash or (file.kind == "walk" and connection.execute(same_bytes).first()):
        raise StudyError(
            "Another process imported this trial meanwhile.",
            where=file.place,
            action="Run the import again; it goes on from there.",
        )
    done = connection.execute(
        insert(TRIAL).values(
            condition_id=condition_id,
            code=file.code,
            kind=file.kind,
            file_name=file.path.name,
            sha256=sha256,
            suffix=plain_suffix(file.path),
            standing_id=_standing_id(connection, file),
            version=1,
        )
    )
    after = {"trial": file.place, "kind": file.kind, "file": file.path.name, "sha256": sha256}
    record(connection, "import", who=who, person=file.visit.person, after=after)
    inserted = done.inserted_primary_key
    return int(inserted[0]) if inserted is not None else 0
