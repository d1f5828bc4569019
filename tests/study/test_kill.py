"""Killed at any instant, an import leaves the old state or the new one."""

import os
import random
import shutil
import signal
import sqlite3
import time

import pytest

from gaittrack.pipeline import measure_recording
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.recordings.together import AT_ONCE
from gaittrack.study.results.keeping import known_trials, stale_trials
from gaittrack.study.store import DATABASE, open_or_create_study
from gaittrack.study.upkeep.verifying import verify

N_KILLS = 8


def measured_before():
    """Give what measures each file once: forks of this process find it done, and only write."""
    known = {}

    def measure_all(recordings):
        for recording in recordings:
            place = recording.file.path
            if place not in known:
                known[place] = measure_recording(recording)
            yield known[place]

    return measure_all


def begun(folder, plan, measure_all, at_once):
    """Fork an import; return the process."""
    child = os.fork()
    if child:
        return child
    code = 1
    try:
        study = open_or_create_study(folder)
        list(import_files(study, plan, who="tester", measure_all=measure_all, at_once=at_once))
        code = 0
    finally:
        os._exit(code)


def check_whole(folder):
    """See that the database is sound and each row has its original; strays may wait."""
    if not (folder / DATABASE).is_file():
        return
    with sqlite3.connect(folder / DATABASE) as plain:
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
        tables = plain.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if tables:
        study = open_or_create_study(folder)
        assert [fault for fault in verify(study) if "no trial refers" not in fault] == []
        assert stale_trials(study) == []
        study.close()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="there is no fork")
def test_a_killed_import_leaves_a_whole_study_and_a_rerun_completes(people, tmp_path):
    """Kills at random instants, in new and in half-filled studies."""
    rng, folder = random.Random(20), tmp_path / "study"
    plan, measure_all = plan_folders([people]), measured_before()
    measured = open_or_create_study(tmp_path / "measured")
    assert list(import_files(measured, plan, who="tester", measure_all=measure_all))
    measured.close()
    n_started = n_killed = 0
    whole_s = 0.0
    while n_killed < N_KILLS and n_started < 5 * N_KILLS:
        start_s, child = (
            time.monotonic(),
            begun(folder, plan, measure_all, (1, AT_ONCE)[n_started % 2]),
        )
        if n_started:  # the first is left alone: how long does a whole import take here?
            time.sleep(rng.uniform(0, 0.8 * whole_s))  # half-filled ones end sooner
            os.kill(child, signal.SIGKILL)
        code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        assert code in (0, -signal.SIGKILL)
        whole_s = whole_s if n_started else time.monotonic() - start_s
        n_started += 1
        n_killed += code != 0
        check_whole(folder)
        if code == 0:
            shutil.rmtree(folder)
    assert n_killed == N_KILLS
    study = open_or_create_study(folder)
    rows = list(import_files(study, plan, who="tester", measure_all=measure_all))
    assert {row.state for row in rows} <= {"added", "known"}
    assert verify(study) == []
    with study.read() as connection:
        assert len(known_trials(connection)) == 8
    study.close()
