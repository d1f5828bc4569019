"""Killed at any instant, an import leaves the old state or the new one."""

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.keeping import known_trials, stale_trials
from gaittrack.study.store import DATABASE, open_or_create_study
from gaittrack.study.upkeep.verifying import verify

N_KILLS = 20 if os.environ.get("CI") else 8
CHILD = """
import os, sys
from pathlib import Path
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.store import open_or_create_study
people, folder = map(Path, sys.argv[1:])
plan = plan_folders([people])
while sys.stdin.readline():
    child = os.fork()
    if child == 0:
        study = open_or_create_study(folder)
        list(import_files(study, plan, who="tester"))
        os._exit(0)
    print(child, flush=True)
    sys.stdin.readline()
    print(os.waitpid(child, 0)[1], flush=True)
"""
"""Forks an import for one line and takes its end for the next; the libraries are loaded once."""


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
    rng = random.Random(20)
    folder = tmp_path / "study"
    command = [sys.executable, "-c", CHILD, str(people), str(folder)]
    root = Path(__file__).parents[2]
    pipe = subprocess.PIPE
    n_started = n_killed = 0
    whole_s = 0.0
    with subprocess.Popen(command, cwd=root, stdin=pipe, stdout=pipe, text=True) as forker:
        while n_killed < N_KILLS and n_started < 5 * N_KILLS:
            print("go", file=forker.stdin, flush=True)
            child, start_s = int(forker.stdout.readline()), time.monotonic()
            if n_started:  # the first is left alone: how long does a whole import take here?
                time.sleep(rng.uniform(0, 0.8 * whole_s))  # half-filled ones end sooner
                os.kill(child, signal.SIGKILL)
            print("reap", file=forker.stdin, flush=True)
            was_killed = int(forker.stdout.readline()) != 0
            whole_s = whole_s if n_started else time.monotonic() - start_s
            n_started += 1
            n_killed += was_killed
            check_whole(folder)
            if not was_killed:
                shutil.rmtree(folder)
        forker.stdin.close()
    assert n_killed == N_KILLS
    study = open_or_create_study(folder)
    rows = list(import_files(study, plan_folders([people]), who="tester"))
    assert {row.state for row in rows} <= {"added", "known"}
    assert verify(study) == []
    with study.read() as connection:
        assert len(known_trials(connection)) == 8
    study.close()
