"""Ended at any step that writes, every change of a study leaves the old state or the new one."""

import functools
import os
import shutil
import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import event, select
from sqlalchemy.engine import Engine

from gaittrack.study import migrating, originals
from gaittrack.study.corrections import making
from gaittrack.study.people.enrolled import person_codes
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.keeping import find_trial, known_trials, stale_trials
from gaittrack.study.results.measuring import measure_recording
from gaittrack.study.results.sources import recording_of
from gaittrack.study.store import DATABASE, open_study
from gaittrack.study.tables import SCHEMA_VERSION, STUDY
from gaittrack.study.upkeep.erasing import erase_person, finish_removals
from gaittrack.study.upkeep.verifying import verify
from tests.study.conftest import WALK

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="there is no fork")
FIXTURES = Path(__file__).parent / "fixtures"
MOST_POINTS = 200 if os.environ.get("CI") else 30
"""Of each change; spread evenly over all its steps where there are more. In CI nearly all."""
ENDED = 9


def run_and_end(change, folder, at_step):
    """Run a change in a fork that ends, without any clean-up, before a step.

    A step is a statement to the database, its end, a file put on the disk, moved or deleted.
    Returns how the fork ended, and how many steps it saw (only when it was not ended).
    """
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        seen, step = watch_steps(at_step)
        try:
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
    seen = [0]

    def step(*_, **__):
        if seen[0] == at_step:
            os._exit(ENDED)
        seen[0] += 1

    for name in ("before_cursor_execute", "commit"):
        event.listen(Engine, name, step)
    for place, name in ((os, "fsync"), (Path, "replace"), (Path, "unlink"), (os, "open")):
        setattr(place, name, stepping(getattr(place, name), step))
    return seen, step


def stepping(real, step):
    @functools.wraps(real)
    def call(*given, **named):
        step()
        return real(*given, **named)

    return call


def each_point(change, start, tmp_path, check):
    """End the change at many of its steps, each time from the start, and check what is left."""
    whole = shutil.copytree(start, tmp_path / "whole")
    code, n_steps = run_and_end(change, whole, None)
    assert code == 0 and n_steps > 5
    check(whole, is_done=True)
    points = sorted({round(n * (n_steps - 1) / (MOST_POINTS - 1)) for n in range(MOST_POINTS)})
    states = set()
    for point in points:
        folder = shutil.copytree(start, tmp_path / f"at-{point}")
        assert run_and_end(change, folder, point)[0] == ENDED
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
            if recording.path not in known:
                known[recording.path] = measure_recording(recording)
            yield known[recording.path]

    def bring_in(folder):
        study = open_study(folder)
        assert len(list(import_files(study, plan, who="Ada", measure_all=measure_all))) == 2
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

    def measure_once(recording):
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
            making.swap_trial_sides(study, trial, who="Ada", why="left is right")
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
            rows = making.corrections_of(connection, trial)
        study.close()
        assert len(rows) == trial.version - 1 <= 1 and (rows or not is_done)
        return "new" if rows else "old"

    assert each_point(swap, start, tmp_path, check) >= 10


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
