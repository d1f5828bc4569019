"""Ended at any step that writes, every change of a study leaves the old state or the new one."""

import functools
import hashlib
import json
import os
import shutil
import sqlite3
import tempfile
from pathlib import Path

import pytest
from sqlalchemy import create_engine, event, inspect, select
from sqlalchemy.engine import Engine

from gaittrack.cohort.export import ExportOptions
from gaittrack.cohort.study_export import export_study
from gaittrack.errors import StudyError
from gaittrack.lab_defaults import LabDefaults
from gaittrack.pipeline import measure_recording
from gaittrack.scratch import scratch_folder, sweep_scratch
from gaittrack.study import migrating, originals
from gaittrack.study.corrections import making
from gaittrack.study.corrections.looking import corrections_of
from gaittrack.study.history import entries
from gaittrack.study.laboratory import keep_defaults, set_setting
from gaittrack.study.named_maps import keep_map
from gaittrack.study.people.asked_words import settle_words
from gaittrack.study.people.enrolled import person_codes
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.recordings.together import AT_ONCE
from gaittrack.study.results.keeping import (
    find_trial,
    known_trials,
    recompute,
    stale_trials,
)
from gaittrack.study.results.kept_walk import measure_to_keep
from gaittrack.study.results.sources import recording_of
from gaittrack.study.store import DATABASE, open_study
from gaittrack.study.tables import METADATA, SCHEMA_VERSION, STUDY
from gaittrack.study.upkeep.backups import back_up, restore
from gaittrack.study.upkeep.erasing import erase_person, finish_removals
from gaittrack.study.upkeep.manifest import MANIFEST, UNFINISHED
from gaittrack.study.upkeep.users import add_user, read_users
from gaittrack.study.upkeep.verifying import verify
from tests import correcting
from tests.faults.damage import SETTINGS as SETTINGS_OF_FILES
from tests.study.conftest import WALK

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="there is no fork")
FIXTURES = Path(__file__).parent / "fixtures"
ENDED = 9
MOST_ENDS = 30
"""Of a change that a server keeps; spread evenly over all its steps."""


def run_in_fork(change, folder, at_step):
    """Run a change in a fork, ``at_step(number)`` before each of its steps.

    A step is a statement to the database, its end, a file put on the disk, moved or deleted.
    Returns how the fork ended, and how many steps it saw (only when it was not ended).
    """
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        tempfile.tempdir = str(folder) + "-temporary"  # what is left there goes with the test
        os.makedirs(tempfile.tempdir, exist_ok=True)
        try:
            seen, step = watch_steps(at_step)
            change(folder)
            step()
        except BaseException as error:
            os.write(writing, repr(error).encode())
            os._exit(1)
        os.write(writing, str(seen[0]).encode())
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        said = pipe.read()
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    assert code in (0, ENDED), said
    return code, int(said) if said else None


def watch_steps(at_step):
    seen, is_within = [0], [False]

    def step(*_, **__):
        if not is_within[0]:
            is_within[0] = True
            at_step(seen[0])
            is_within[0] = False
            seen[0] += 1

    for name in ("before_cursor_execute", "commit"):
        event.listen(Engine, name, step)
    for place, name in (
        *((os, "fsync"), (os, "open"), (os, "mkdir"), (os, "rmdir")),
        *((Path, "replace"), (Path, "unlink"), (Path, "rename")),
    ):
        setattr(place, name, stepping(getattr(place, name), step))
    return seen, step


def stepping(real, step):
    @functools.wraps(real)
    def call(*given, **named):
        step()
        return real(*given, **named)

    return call


def bytes_in(folder):
    """Return a hash of all that an ended process leaves: names and bytes.

    The index that SQLite shares between processes is none of it: with nobody there it is made anew.
    """
    found = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if not path.name.endswith("-shm"):
            content = path.read_bytes() if path.is_file() else b""
            found.update(f"{path.relative_to(folder)}\0{len(content)}\0".encode() + content)
    return found.digest()


def each_point(change, start, tmp_path, check):
    """Check what each step of a change finds on the disk: an end there leaves just that.

    What is the same as a step before is checked once. Returns how many steps there are.
    """
    seen = set()

    def keep(number):
        state = bytes_in(folder)
        if state not in seen:
            seen.add(state)
            shutil.copytree(folder, tmp_path / f"at-{number:04}")

    folder = shutil.copytree(start, tmp_path / "whole")
    code, n_steps = run_in_fork(change, folder, keep)
    assert code == 0
    check(folder, is_done=True)
    left = sorted(tmp_path.glob("at-*"))
    assert len(left) > 1
    assert {check(each, is_done=False) for each in left} == {"old", "new"}
    return n_steps


def each_end(change, start, tmp_path, check):
    """End a change at many of its steps, each time from the start, and check what is left."""
    whole = shutil.copytree(start, tmp_path / "whole")
    code, n_steps = run_in_fork(change, whole, lambda _: None)
    assert code == 0
    check(whole, is_done=True)
    points = sorted({round(n * (n_steps - 1) / (MOST_ENDS - 1)) for n in range(MOST_ENDS)})
    states = set()
    for point in points:
        folder = shutil.copytree(start, tmp_path / f"at-{point}")
        code, _ = run_in_fork(change, folder, lambda n, point=point: n == point and os._exit(ENDED))
        assert code == ENDED
        states.add(check(folder, is_done=False))
        shutil.rmtree(folder)
    assert states == {"old", "new"}
    return len(points)


def check_database(folder):
    with sqlite3.connect(folder / DATABASE) as plain:
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
    plain.close()


def sound(study):
    """See that nothing but a waiting stray is wrong."""
    assert [fault for fault in verify(study) if "no trial refers" not in fault] == []
    assert stale_trials(study) == []


def test_an_import_can_end_at_any_step(people, imported, tmp_path):
    """Each file is in with its original and result, or is not; a rerun brings the rest."""
    start = shutil.copytree(imported, tmp_path / "start")
    study = open_study(start)
    erase_person(study, "P01", who="Ada", why="start empty")
    study.close()
    plan = plan_folders([people / "P01" / "visit-2" / "with-brace"])
    known = {}

    def measure_all(recordings):
        for recording in recordings:
            if recording.file.path not in known:
                known[recording.file.path] = measure_to_keep(recording)
            yield known[recording.file.path]

    def bring_in(folder):
        study = open_study(folder)
        rows = import_files(study, plan, who="Ada", measure_all=measure_all, at_once=AT_ONCE)
        assert [row.state for row in rows] == ["added"] * 2
        study.close()

    bring_in(shutil.copytree(start, tmp_path / "measured"))  # so that forks need not measure

    def check(folder, *, is_done):
        check_database(folder)
        study = open_study(folder)
        sound(study)
        with study.read() as connection:
            n_walks = len(known_trials(connection))
        states = {r.state for r in import_files(study, plan, who="Ada", measure_all=measure_all)}
        assert states <= ({"known"} if is_done else {"known", "added"})
        assert verify(study) == [] and stale_trials(study) == []
        study.close()
        return "new" if n_walks else "old"

    assert each_point(bring_in, start, tmp_path, check) >= 20


def test_a_correction_can_end_at_any_step(imported, tmp_path):
    """It is made, with its history and result, or it is not."""
    start = shutil.copytree(imported, tmp_path / "start")
    study = open_study(start)
    with study.read() as connection:
        recording = recording_of(connection, study, find_trial(connection, WALK).id)
    study.close()
    results = {}

    def measure_once(recording, **_):
        key = len(recording.corrections)
        if key not in results:
            results[key] = measure_recording(recording)
        return results[key]

    def swap(folder):
        making.measure_recording = measure_once
        try:
            study = open_study(folder)
            with study.read() as connection:
                trial = find_trial(connection, WALK)
            correcting.swap_trial_sides(study, trial, who="Ada", why="left is right")
            study.close()
        finally:
            making.measure_recording = measure_recording

    swap(shutil.copytree(start, tmp_path / "measured"))
    assert recording.corrections == () and len(results) == 1

    def check(folder, *, is_done):
        check_database(folder)
        study = open_study(folder)
        sound(study)
        with study.read() as connection:
            trial = find_trial(connection, WALK)
            rows = corrections_of(connection, trial)
        study.close()
        assert len(rows) == trial.version - 1 <= 1 and (rows or not is_done)
        return "new" if rows else "old"

    assert each_point(swap, start, tmp_path, check) >= 10


def test_a_recomputing_can_end_at_any_step(imported, tmp_path):
    """Each walk has its old result or its new one, with its entry in the history, or neither."""
    study = open_study(imported)
    with study.read() as connection:
        trials = known_trials(connection)[:2]
        recordings = [recording_of(connection, study, trial.id) for trial in trials]
    study.close()
    results = list(map(measure_to_keep, recordings))

    def measure_again(folder):
        study = open_study(folder)
        list(recompute(study, trials, who="Ada", measure_all=lambda _: iter(results)))
        study.close()

    def check(folder, *, is_done):
        check_database(folder)
        study = open_study(folder)
        sound(study)
        with study.read() as connection:
            done = [row["what"] for row in entries(connection)].count("measure again")
            versions = [each.version for each in known_trials(connection)[:2]]
        study.close()
        assert sum(versions) == 2 + done and (done == 2 or not is_done)
        return "new" if done else "old"

    assert each_point(measure_again, imported, tmp_path, check) >= 20


def test_an_export_can_end_at_any_step(imported, tmp_path):
    """It is there whole, or not at all; what tells who is who lies where the study is."""
    start = tmp_path / "start"
    shutil.copytree(imported, start / "study")
    options = ExportOptions(least_alike=1, override_reason="made up")

    def bring_out(folder):
        study = open_study(folder / "study")
        export_study(study, folder / "out", who="Ada", options=options)
        study.close()

    def check(folder, *, is_done):
        is_there = (folder / "out").exists()
        assert is_there or not is_done
        assert not is_done or verify_of(folder / "study") == []
        if is_there:
            told = json.loads((folder / "out" / "datapackage.json").read_text(encoding="utf-8"))
            assert {each["path"] for each in told["resources"]} <= {
                path.name for path in (folder / "out").iterdir()
            }
        return "new" if is_there else "old"

    assert each_point(bring_out, start, tmp_path, check) >= 10


def test_what_a_killed_program_left_is_swept(tmp_path, monkeypatch):
    """Copies of a study that nobody holds go at the next start; those in use stay."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "study-temporary"))

    def copy(_):
        with scratch_folder() as inner:
            (inner / "study.db").write_bytes(b"P01")
            os._exit(ENDED)

    (tmp_path / "study").mkdir()
    assert run_in_fork(copy, tmp_path / "study", lambda _: None)[0] == ENDED
    assert len(list(tmp_path.glob("*/gaittrack-copy-*/inner/study.db"))) == 1
    with scratch_folder() as mine:
        assert sweep_scratch() == 1 and mine.is_dir()
    assert list(tmp_path.glob("*/gaittrack-*")) == []


ADA = {"who": "Ada", "why": "as we record"}
SETTINGS = {
    "rate and plates": lambda study: keep_defaults(study, LabDefaults(rate_hz=100.0), **ADA),
    "a setting of a file": lambda study: set_setting(
        study, "typical", study.folder.parent / "typical.toml", **ADA
    ),
    "a map": lambda study: keep_map(study, "ours", '[landmarks]\nleft_heel = "LHEE"\n', **ADA),
    "words": lambda study: settle_words(study, {"cause": {"a stroke": "stroke"}}, **ADA),
    "a user": lambda study: add_user(study, "bo", "a long password", ["view"], who="Ada"),
}
"""What is set of the laboratory, each by what changes it."""


@pytest.mark.parametrize("name", SETTINGS)
def test_what_is_set_can_end_at_any_step(imported, tmp_path, name):
    """It is set, with its entry in the history, or it is not; nobody has an entry and no door."""
    (tmp_path / "typical.toml").write_text(SETTINGS_OF_FILES["typical"], encoding="utf-8")

    def change(folder):
        study = open_study(folder)
        SETTINGS[name](study)
        study.close()

    study = open_study(imported)
    n_before = len(list_of_entries(study))
    study.close()

    def check(folder, *, is_done):
        check_database(folder)
        study = open_study(folder)
        assert [fault for fault in verify(study) if "no trial refers" not in fault] == []
        n_more = len(list_of_entries(study)) - n_before
        names = [user.name for user in read_users(folder)]
        study.close()
        assert n_more == 1 or not is_done
        assert names in ([], ["bo"]) and (name == "a user" or not names)
        assert names or name != "a user" or not n_more  # nobody is said to be there who is not
        return "new" if n_more else "old"

    assert each_point(change, imported, tmp_path, check) >= 3


def list_of_entries(study):
    with study.read() as connection:
        return list(entries(connection))


def test_an_erasure_can_end_at_any_step(imported, tmp_path):
    """The person is there whole, or is gone; what is left to delete goes at the next chance."""
    start = shutil.copytree(imported, tmp_path / "start")

    def erase(folder):
        study = open_study(folder)
        erase_person(study, "P01", who="Ada", why="asked for")
        study.close()

    def check(folder, *, is_done):
        check_database(folder)
        study = open_study(folder)
        with study.read() as connection:
            is_there = person_codes(connection) == ["P01"]
        if is_there:
            sound(study)
            erase_person(study, "P01", who="Ada", why="asked for")
        finish_removals(study)
        assert originals.kept_files(folder) == [] and verify(study) == []
        study.close()
        assert not (is_there and is_done)
        if is_done or is_there:
            content = b"".join(p.read_bytes() for p in folder.rglob("*") if p.is_file())
            assert b"P01" not in content
        return "old" if is_there else "new"

    assert each_point(erase, start, tmp_path, check) >= 20


def test_a_migration_can_end_at_any_step(tmp_path):
    """The study is of its old version or of today's, with a whole backup; opening goes on."""
    start = tmp_path / "start"
    (start / originals.FOLDER).mkdir(parents=True)
    with sqlite3.connect(start / DATABASE) as plain:
        plain.executescript((FIXTURES / "version-1.sql").read_text(encoding="utf-8"))
    plain.close()

    def take_steps(folder):
        open_study(folder).close()

    def check(folder, *, is_done):
        check_database(folder)
        with sqlite3.connect(folder / DATABASE) as plain:
            version = plain.execute("SELECT schema_version FROM study").fetchone()[0]
        plain.close()
        assert version in (1, SCHEMA_VERSION) and (version > 1 or not is_done)
        study = open_study(folder)
        with study.read() as connection:
            assert connection.execute(select(STUDY.c.schema_version)).scalar() == SCHEMA_VERSION
            assert [trial.place for trial in known_trials(connection)] == [WALK]
        study.close()
        backups = list(folder.glob("study-version-1-*.db"))
        assert any(is_whole(backup) for backup in backups)
        return "old" if version == 1 else "new"

    assert migrating.STEPS
    assert each_point(take_steps, start, tmp_path, check) >= 20


def is_whole(backup):
    plain = sqlite3.connect(backup)
    try:
        return plain.execute("SELECT schema_version FROM study").fetchone() == (1,)
    except sqlite3.DatabaseError:
        return False
    finally:
        plain.close()


def is_restored_whole(folder, *, url=None):
    """See that a restored study has everything; return that it has."""
    new = open_study(folder, url=url)
    sound(new)
    with new.read() as connection:
        assert len(known_trials(connection)) == 8
    new.close()
    return len(originals.kept_files(folder)) == 9


def test_a_backup_can_end_at_any_step(imported, tmp_path):
    """It is there whole, or what is left is refused: by its name, and under any other."""
    start = tmp_path / "start"
    shutil.copytree(imported, start / "study")

    def make_backup(folder):
        study = open_study(folder / "study")
        back_up(study, folder / "backup")
        study.close()

    def check(folder, *, is_done):
        backup, unfinished = folder / "backup", folder / f"backup{UNFINISHED}"
        assert verify_of(folder / "study") == []
        if backup.exists():
            assert not unfinished.exists()
            restore(backup, folder / "new", who="Ada")
            assert is_restored_whole(folder / "new")
            return "new"
        assert not is_done
        if not unfinished.exists():
            return "old"
        with pytest.raises(StudyError, match="broken off"):
            restore(unfinished, folder / "new", who="Ada")
        if not (unfinished / MANIFEST).exists():  # with it, all is there but the name
            unfinished.rename(folder / "renamed")
            with pytest.raises(StudyError):
                restore(folder / "renamed", folder / "new", who="Ada")
        assert not list(folder.glob("new*"))
        return "old"

    assert each_point(make_backup, start, tmp_path, check) >= 20


def verify_of(folder):
    study = open_study(folder)
    try:
        return verify(study)
    finally:
        study.close()


@pytest.fixture
def with_backup(imported, tmp_path):
    """Give a folder with nothing but a backup in it."""
    (tmp_path / "start").mkdir()
    study = open_study(imported)
    back_up(study, tmp_path / "start" / "backup")
    study.close()
    return tmp_path / "start"


def test_a_restoring_can_end_at_any_step(with_backup, tmp_path):
    """The study is there whole under its name, or not at all."""

    def bring_back(folder):
        restore(folder / "backup", folder / "new", who="Ada")

    def check(folder, *, is_done):
        if not (folder / "new").exists():
            assert not is_done
            return "old"
        check_database(folder / "new")
        assert is_restored_whole(folder / "new")
        return "new"

    assert each_point(bring_back, with_backup, tmp_path, check) >= 20


@pytest.mark.parametrize("database", ["postgresql"], indirect=True)
def test_a_restoring_into_a_server_can_end_at_any_step(with_backup, tmp_path, database):
    """Its database holds the whole study, or no table: an empty study is never left there."""

    def bring_back(folder):
        restore(folder / "backup", folder / "new", who="Ada", url=database)

    def check(folder, *, is_done):
        engine = create_engine(database)
        has_tables = bool(inspect(engine).get_table_names())
        assert has_tables or not is_done
        if has_tables:
            assert is_restored_whole(folder / "new", url=database)
            METADATA.drop_all(engine)
        engine.dispose()
        return "new" if has_tables else "old"

    assert each_end(bring_back, with_backup, tmp_path, check) >= 20
