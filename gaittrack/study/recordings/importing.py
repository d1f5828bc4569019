"""Bring files into a study: measure, keep the original unchanged, then store.

In comes a plan, out comes one report row per file, in the order of the plan. A bad file costs its
own row; a file that is there already, by its bytes, is known. Files may be measured ahead, and
elsewhere; whether one goes in is decided when its turn comes, by the one process that writes. So
the rows and the study are the same wherever the measuring is done.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from sqlalchemy import select

from gaittrack.errors import ComparisonError, GaitTrackError, LayoutError, StudyError
from gaittrack.errors import StudyBusyError as BusyError
from gaittrack.lab_defaults import LabDefaults
from gaittrack.lab_map import LabMap
from gaittrack.part_names import person_key
from gaittrack.pipeline import Recording, read_standing
from gaittrack.study.correction_rows import changes_of_trial
from gaittrack.study.history import last_sequence
from gaittrack.study.laboratory import laboratory_defaults, laboratory_maps
from gaittrack.study.people.asked_words import told_weakness, told_words
from gaittrack.study.people.enrolled import (
    check_against_study,
    in_laboratory_words,
    known_side,
    person_codes,
)
from gaittrack.study.recordings.adding import NewFile, SeenStudy, find_standing, put_back
from gaittrack.study.recordings.contradicting import (
    is_other_condition,
    notes_on,
    refuse_other_condition,
)
from gaittrack.study.recordings.each_recording import (
    HashedFiles,
    KnownRecordings,
    each_recording,
    keys_as,
    keys_of,
)
from gaittrack.study.recordings.planning import Plan, PlannedFile, ReportRow, State
from gaittrack.study.recordings.same_person import Bodies, OtherPersonError, check_header
from gaittrack.study.recordings.same_recording import Readings
from gaittrack.study.recordings.together import Together
from gaittrack.study.results.keeping import MeasureAll, known_trials, measure_here
from gaittrack.study.results.kept_walk import KeptWalk, measure_to_keep
from gaittrack.study.store import Study
from gaittrack.study.tables import TRIAL


@dataclass(slots=True)
class _Run:
    """What one import knows while it runs.

    ``study`` is None for a dry run without a study. ``there`` also holds what waits to be added, or
    what a dry run would add. ``shared`` are the sheets of which some condition went in,
    ``asked`` is where words of no list were told already. ``checked`` holds, for what a visit says
    of a condition, how many files of its person had been ``written`` when it went well with the
    study; ``codes`` are people by their key, also those to come.
    """

    study: Study | None
    who: str
    new_people: bool
    dry_run: bool
    same_person: bool
    maps: tuple[LabMap, ...] = ()
    usual: LabDefaults = LabDefaults()
    bodies: Bodies = field(default_factory=Bodies)
    readings: Readings = field(default_factory=Readings)
    people: set[str] = field(default_factory=set)
    codes: dict[str, str] = field(default_factory=dict)
    there: KnownRecordings = field(default_factory=KnownRecordings)
    refused_standing: dict[tuple[Path, str], str] = field(default_factory=dict)
    shared: set[Path] = field(default_factory=set)
    asked: set[tuple[str, str, str]] = field(default_factory=set)
    seen: SeenStudy = field(default_factory=SeenStudy)
    checked: dict[tuple[int, str], int] = field(default_factory=dict)
    written: Counter[str] = field(default_factory=Counter)
    read: HashedFiles = field(default_factory=HashedFiles)
    together: Together = field(init=False)


@dataclass(frozen=True, slots=True)
class _Job:
    """A walk on its way; without a recording there was nothing to measure ahead.

    ``refusal`` is what the file was refused for before anything was measured.
    """

    file: PlannedFile
    recording: Recording | None
    refusal: LayoutError | None = None


def import_files(
    study: Study | None,
    plan: Plan,
    *,
    who: str,
    new_people: bool = False,
    same_person: bool = False,
    dry_run: bool = False,
    maps: Sequence[LabMap] | None = None,
    measure_all: MeasureAll = measure_here,
    at_once: int = 1,
) -> Iterator[ReportRow]:
    """Import files one by one, as the rows are asked for.

    Parameters
    ----------
    study : Study or None
        None only for a dry run of a study that does not exist yet.
    who : str
        For the history.
    new_people : bool
        Take people that neither the study nor a [person] table knows.
    same_person : bool
        Take walks whose segments are as long as in no other walk of the person.
    dry_run : bool
        Measure and check, and write nothing.
    maps : sequence of LabMap, optional
        In the place of those of the study.
    measure_all : MeasureAll
        Where to measure; see :mod:`gaittrack.study.results.processes`.
    at_once : int
        Most walks of a condition that are added before the row of the first one is given.

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
    run = _Run(study, who, new_people, dry_run, same_person)
    if study is not None:
        _look_around(run, study)
    if maps is not None:
        run.maps = tuple(maps)
    everybody = run.people.union(file.visit.person for file in plan.files)
    run.codes = {person_key(code): code for code in everybody}
    run.together = Together(None if dry_run else study, who, run.seen, most=at_once)
    for file in (each for each in plan.files if each.kind == "standing"):
        yield from _in_turn(run, _Job(file, None), None)
    yield from _walks(run, [file for file in plan.files if file.kind == "walk"], measure_all)
    yield from _stored(run)


def _look_around(run: _Run, study: Study) -> None:
    with study.read() as connection:
        run.maps, run.usual = laboratory_maps(connection), laboratory_defaults(connection)
        run.people = set(person_codes(connection))
        run.seen.sequence = last_sequence(connection)
        hashes = select(TRIAL.c.id, TRIAL.c.sha256, TRIAL.c.events_sha256)
        stored = {row.id: (row.sha256, row.events_sha256) for row in connection.execute(hashes)}
        for kind in ("walk", "standing"):
            for trial in known_trials(connection, kind=kind):
                sha256, events_sha256 = stored[trial.id]
                hashes_there = sha256, events_sha256 or ""
                run.there.note(kind, trial.place, *keys_as(trial.file_name, hashes_there))


def _walks(run: _Run, files: Iterable[PlannedFile], measure_all: MeasureAll) -> Iterator[ReportRow]:
    """Let walks be measured ahead, and finish each when its turn comes."""
    ahead: deque[_Job] = deque()

    def recordings() -> Iterator[Recording]:
        for job in (job for file in files for job in _jobs(run, file)):
            ahead.append(job)
            if job.recording is not None:
                yield job.recording

    for result in measure_all(recordings()):
        while ahead[0].recording is None:
            yield from _in_turn(run, ahead.popleft(), None)
        yield from _in_turn(run, ahead.popleft(), result)
    while ahead:
        yield from _in_turn(run, ahead.popleft(), None)


def _in_turn(run: _Run, job: _Job, result: KeptWalk | None) -> Iterator[ReportRow]:
    """Decide about a file, and give what rows are due."""
    if run.together.is_apart(job.file):
        yield from _stored(run)
    run.together.put(_finish(run, job, result))
    if run.together.is_due():
        yield from _stored(run)


def _stored(run: _Run) -> Iterator[ReportRow]:
    for row, new in run.together.stored():
        if row.state == "refused" and new is not None:
            run.there.forget(new.file.kind, new.file.place)
            _refused(run, new.file, row.message)
        yield row


def _jobs(run: _Run, file: PlannedFile) -> Iterator[_Job]:
    """Return a job for each recording of a file; of a file that is there already, one."""
    try:
        own = keys_of(file, run.read.hashes_of(file))
        is_there = run.there.keys_at(file.kind, file.place) == own
        for one in [file] if is_there else each_recording(file, run.maps):
            yield _Job(one, _to_measure(run, one))
    except (LayoutError, OSError) as error:  # of the disk it is said when its turn comes
        yield _Job(file, None, error if isinstance(error, LayoutError) else None)


def _to_measure(run: _Run, file: PlannedFile) -> Recording | None:
    """Return what to measure ahead; nothing where the file looks known or wrong as it is now."""
    try:
        return None if _known(run, file, run.read.hashes_of(file)) else _recording(run, file)
    except (GaitTrackError, OSError):
        return None  # said when its turn comes, unless a file before it has put things right


def _finish(run: _Run, job: _Job, result: KeptWalk | None) -> ReportRow | NewFile:
    """Decide what becomes of a file. What is wrong with it is its row; a failing study is not."""
    file = job.file
    try:
        if job.refusal is not None:
            raise job.refusal
        hashes = run.read.hashes_of(file)
        known = _known(run, file, hashes)
        if known:
            return _row(file, "known", known + _repaired(run, file, hashes))
        if file.kind == "standing":
            given = run.read.input_of(file.path)
            read_standing(Recording(given, maps=run.maps, usual=run.usual, standing=given))
        else:
            recording = _recording(run, file)
            if result is None or recording != job.recording:
                result = measure_to_keep(recording)
        note = _checked(run, file, result, hashes[0])
    except BusyError:
        raise  # once for all files: each would wait as long
    except OtherPersonError as error:
        return _row(file, "asked about", str(error))
    except ComparisonError as error:
        return _not_in_sheet(run, file, str(error))
    except GaitTrackError as error:
        return _refused(run, file, str(error))
    except OSError as error:
        return _refused(run, file, f"The file cannot be opened ({error.strerror}).")
    note = " ".join(filter(None, (note, _words_asked(run, file))))
    return _new(run, NewFile(file, hashes, result, note))


def _repaired(run: _Run, file: PlannedFile, hashes: tuple[str, str]) -> str:
    """Put back the original of a known file, if it got lost, and say so."""
    is_its_own = run.there.keys_at(file.kind, file.place) == keys_of(file, hashes)
    if run.study is None or run.dry_run or not is_its_own:
        return ""
    return " Its lost original was put back." if put_back(run.study, file, hashes) else ""


def _checked(run: _Run, file: PlannedFile, result: KeptWalk | None, sha256: str) -> str:
    """Return what to know about a result that can be kept; raise what is wrong with it."""
    if result is None:
        return ""
    seen = result.seen
    if isinstance(seen, GaitTrackError):
        raise seen
    if seen.sha256 != sha256:
        raise StudyError.of("file_changed_while_read", where=file.path.name)
    if seen.stands_still:
        raise StudyError.of("recording_stands_still", where=file.place)
    if file.is_shared:
        refuse_other_condition(file, seen.conditions)
    note = notes_on(file, seen)
    if not run.same_person:
        check_header(file, seen.people, run.codes)
    run.bodies.check(run.study, file, seen.segments_m, is_same=run.same_person)
    run.readings.check(run.study, file, sha256, seen.read, dry_run=run.dry_run)
    return note


def _new(run: _Run, new: NewFile) -> ReportRow | NewFile:
    """Take a file as one that goes in; whoever is looked at after it finds it there."""
    file = new.file
    if not run.dry_run:
        run.written[file.visit.person] += 1
        run.checked[id(file.visit), file.condition] = run.written[file.visit.person]
    run.people.add(file.visit.person)
    run.shared.add(file.path)
    run.there.note(file.kind, file.place, *keys_of(file, new.hashes))
    return _row(file, "would add", new.note) if run.dry_run else new


def _row(file: PlannedFile, state: State, message: str = "") -> ReportRow:
    return ReportRow(file.path, state, file.place, message)


def _refused(run: _Run, file: PlannedFile, message: str) -> ReportRow:
    if file.kind == "standing":
        run.refused_standing[file.path.resolve(), file.condition] = message
    return _row(file, "refused", message)


def _not_in_sheet(run: _Run, file: PlannedFile, message: str) -> ReportRow:
    """Pass a condition by that nobody said is in the sheet, if another one of the visit is."""
    is_last = not file.is_offered or file.condition == list(file.visit.conditions)[-1]
    if is_last and file.path not in run.shared:
        return _refused(run, file, message)
    return _row(file, "passed over" if file.is_offered else "refused", message)


def _known(run: _Run, file: PlannedFile, hashes: tuple[str, str]) -> str:
    """Return where the same bytes already are, or "" for a file that is new.

    Raises
    ------
    StudyError
        The bytes stand for something else, the place holds other bytes, or the words beside the
        file contradict the study.
    """
    if file.visit.person not in run.people and not (run.new_people or file.visit.is_described):
        raise StudyError.of("unknown_person", where=file.place, person=file.visit.person)
    _check_words(run, file)
    keys = keys_of(file, hashes)
    there = run.there.keys_at(file.kind, file.place)
    if there == keys:
        return "Already in the study."
    if there is not None and there[0] == keys[0]:
        raise StudyError.of("known_with_other_events", where=file.place)
    elsewhere = run.there.places_of(keys[0]) if file.kind == "walk" else []
    if elsewhere and not (file.is_shared and all(is_other_condition(file, p) for p in elsewhere)):
        return _same_bytes(file, elsewhere[0])
    if there is not None:
        raise StudyError.of("name_taken_by_other_bytes", where=file.place)
    return ""


def _check_words(run: _Run, file: PlannedFile) -> None:
    """Refuse words that contradict the study, once for all files of which they are said.

    They are looked at anew after other words of the person were stored.
    """
    key, written = (id(file.visit), file.condition), run.written[file.visit.person]
    if run.study is not None and run.checked.get(key) != written:
        with run.study.read() as connection:
            check_against_study(connection, file.visit, file.condition)
        run.checked[key] = written


def _same_bytes(file: PlannedFile, elsewhere: str) -> str:
    if elsewhere.split("/")[:3] == file.place.split("/")[:3]:
        return f"The same bytes as {elsewhere}."
    raise StudyError.of("same_bytes_already_stand", where=file.place, elsewhere=elsewhere)


def _recording(run: _Run, file: PlannedFile) -> Recording:
    recording = Recording(
        replace(run.read.input_of(file.path), sha256=""),  # whether it is the same is seen after
        maps=run.maps,
        usual=run.usual,
        events=None if file.events is None else run.read.input_of(file.events),
        condition=file.condition,
    )
    standing = file.standing
    if standing is not None:
        bad = run.refused_standing.get((standing.resolve(), file.condition))
        if bad:
            raise StudyError.of("standing_trial_refused", where=file.place, bad=bad)
        recording = replace(recording, standing=run.read.input_of(standing))
        if run.study is not None:
            with run.study.read() as connection:
                stored = find_standing(connection, file)
                theirs = changes_of_trial(connection, stored) if stored else ()
            recording = replace(recording, standing_corrections=theirs)
    return recording


def _words_asked(run: _Run, file: PlannedFile) -> str:
    """Say once of a visit what is asked about, and stored: words of no list, an odd weakness."""
    place = (file.visit.person, file.visit.code, file.condition)
    if place in run.asked:
        return ""
    run.asked.add(place)
    visit = file.visit
    affected = visit.person_facts.get("affected_side")
    if run.study is not None:
        with run.study.read() as connection:
            visit = in_laboratory_words(connection, visit)
            affected = affected or known_side(connection, visit.person)
    weakness = told_weakness(visit.facts, affected)
    return " ".join(filter(None, (told_words(visit, file.condition), weakness)))
