"""Measured in several processes, a study is the same; a process that dies costs one file."""

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sqlalchemy import select

from gaittrack.errors import ReaderFailedError
from gaittrack.pipeline import InputFile, Recording
from gaittrack.study.originals import original_path
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.keeping import (
    known_trials,
    measure_here,
    recompute,
    stale_trials,
)
from gaittrack.study.results.processes import in_processes
from gaittrack.study.store import create_study, open_study
from gaittrack.study.tables import EVENT, RESULT, TRIAL, TRIAL_MEAN
from gaittrack.study.upkeep.verifying import verify
from tests.study.conftest import write_visit

ROOT = Path(__file__).parents[2]
NOT_COMPARED = ("measured_utc",)


class Deadly(Recording):
    """A recording that ends the process it is sent to."""

    def __reduce__(self):
        """Give what a process does to get it: end."""
        return os._exit, (3,)


def measured(study):
    """Return everything that measuring stores, with each trial's own hash in place of its id."""
    with study.read() as connection:
        names = dict(connection.execute(select(TRIAL.c.id, TRIAL.c.sha256)).all())
        return {
            table.name: sorted(
                repr(
                    {
                        k: v
                        for k, v in (row | {"trial_id": names[row["trial_id"]]}).items()
                        if k not in NOT_COMPARED and k != "id"
                    }
                )
                for row in map(dict, connection.execute(select(table)).mappings())
            )
            for table in (RESULT, EVENT, TRIAL_MEAN)
        }


@pytest.fixture(scope="module")
def in_two():
    """Give what measures in two processes, which live as long as the tests of this file."""
    before = set(multiprocessing.active_children())
    with in_processes(2) as measure_all:
        yield measure_all
    assert set(multiprocessing.active_children()) == before


def test_an_import_in_processes_is_the_same_as_here(tmp_path, in_two):
    """Rows in the same order with the same words, a bad and a doubled file among them."""
    given = tmp_path / "P01"
    visit = write_visit(given / "visit-1", n_walks=3)
    (visit / "with-brace" / "walk-2.c3d").write_bytes(b"no recording")
    content = (visit / "without-brace" / "walk-1.c3d").read_bytes()
    (visit / "without-brace" / "walk-9.c3d").write_bytes(content)
    found, rows = [], []
    for number, measure_all in enumerate((measure_here, in_two)):
        study = create_study(tmp_path / f"study-{number}")
        plan = plan_folders([given])
        rows.append(list(import_files(study, plan, who="Ada", measure_all=measure_all)))
        found.append(measured(study))
        assert verify(study) == [] and stale_trials(study) == []
        study.close()
    assert rows[0] == rows[1]
    assert sorted({row.state for row in rows[0]}) == ["added", "known", "refused"]
    assert found[0] == found[1] and found[0]["trial_mean"]


def test_a_process_that_dies_costs_the_file_it_worked_on(study, in_two):
    """The others of the batch are measured, and results keep their order."""
    with study.read() as connection:
        paths = connection.execute(select(TRIAL.c.sha256, TRIAL.c.suffix)).all()[:3]
    good = [
        Recording(InputFile(original_path(study.folder, *each), f"{each[0]}.c3d"), condition="x")
        for each in paths
    ]
    deadly = Deadly(InputFile(Path("bad.c3d")))
    results = list(in_two([good[0], deadly, *good[1:]]))
    assert [each.error is None for each in results] == [True, False, True, True]
    assert isinstance(results[1].error, ReaderFailedError) and "bad.c3d" in str(results[1].error)
    shas = [each.seen.sha256 for each in results if each.error is None]
    assert shas == [sha256 for sha256, _ in paths]


def test_measuring_again_in_processes_gives_the_same_numbers(study, in_two):
    """Recomputed by two processes, nothing but the instant differs."""
    before = measured(study)
    with study.read() as connection:
        trials = known_trials(connection)[:4]
    done = [one for one, _ in recompute(study, trials, who="Ada", measure_all=in_two)]
    assert done == trials and measured(study) == before


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize("number", ["SIGINT", "SIGKILL"])
def test_an_import_that_is_stopped_leaves_no_process_and_can_go_on(people, tmp_path, number):
    """Ctrl-C is said in a line; and killed or not, what is in stays and a rerun does the rest."""
    folder = tmp_path / "study"
    words = ["import", str(people), "--study", str(folder), "--jobs", "2"]
    code = "from gaittrack.commands import main; main()"
    child = subprocess.Popen(
        [sys.executable, "-c", code, *words],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    lines = [child.stdout.readline() for _ in range(2)]
    assert all(line.startswith("added") for line in lines), child.stderr.read()
    if number == "SIGINT":
        os.killpg(child.pid, signal.SIGINT)
    else:
        child.kill()
    _, said = child.communicate(timeout=60)
    assert child.returncode != 0
    assert ("run it again to go on" in said) == (number == "SIGINT")
    deadline = time.monotonic() + 30
    while alive_in_session(child.pid) and time.monotonic() < deadline:
        time.sleep(0.1)
    assert alive_in_session(child.pid) == []
    study = open_study(folder)
    states = {row.state for row in import_files(study, plan_folders([people]), who="Ada")}
    assert states == {"known", "added"} and verify(study) == []
    study.close()


def alive_in_session(session):
    """Return the processes of a session that still run."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            words = (place / "stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(words[3]) == session and words[0] not in "ZX":
            found.append(place.name)
    return found
