"""Two processes on one study: each ends whole or says why not, and waits once only."""

import sqlite3
import subprocess
import sys
import time
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from gaittrack.cohort.asking.view import read_cohort
from gaittrack.cohort.kept import kept_changes
from gaittrack.errors import StudyBusyError
from gaittrack.study import store
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.store import DATABASE, create_study, open_study
from gaittrack.study.upkeep.verifying import verify
from tests.study.conftest import write_visit

ROOT = Path(__file__).parents[2]
RUN = "from gaittrack.commands import main; main()"
WAIT_S = 0.5
BUSY = "Another process is writing to the study"


@contextmanager
def written_to(folder):
    """Hold the lock of who writes, as a process does that has stopped."""
    with closing(sqlite3.connect(folder / DATABASE, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


def visit_of(folder, person, *, seed):
    """Write a visit of somebody."""
    visit = write_visit(folder / person / "visit-1", seed=seed)
    said = visit / "conditions.toml"
    said.write_text(said.read_text(encoding="utf-8").replace("P01", person), encoding="utf-8")


@pytest.fixture
def walks(tmp_path):
    """Give the walks of two people."""
    for seed, person in enumerate(("P01", "P02"), 1):
        visit_of(tmp_path / "walks", person, seed=seed)
    return tmp_path / "walks"


@pytest.fixture
def folder(walks, tmp_path, monkeypatch):
    """Give the folder of a study of them; who opens it waits half a second for another."""
    monkeypatch.setattr(store, "LONGEST_WAIT_S", WAIT_S)
    monkeypatch.setattr(kept_changes, "_NOT_BEFORE", {})
    with closing(create_study(tmp_path / "study")) as study:
        rows = list(import_files(study, plan_folders([walks]), who="t", new_people=True))
    assert {row.state for row in rows} == {"added"}
    return tmp_path / "study"


def test_an_import_waits_once_and_refuses_no_file_for_it(folder, walks):
    """The originals are lost, so that each known file is put back: not one of them is "refused"."""
    for path in (folder / "originals").rglob("*.c3d"):
        path.unlink()
    with closing(open_study(folder)) as study, written_to(folder):
        rows, begun = [], time.monotonic()
        with pytest.raises(StudyBusyError, match=BUSY):
            rows.extend(import_files(study, plan_folders([walks]), who="t"))
        assert rows == [] and time.monotonic() - begun < 6 * WAIT_S


def test_what_was_compared_is_kept_later_and_waited_for_once(folder, caplog):
    """Not as long for each person."""
    with closing(open_study(folder)) as study:
        with written_to(folder):
            assert set(read_cohort(study).about) == {"P01", "P02"}
        assert sum(BUSY in line for line in caplog.messages) == 1


PAIRS = {
    "import and import": (("import", "WALKS", "--study", "STUDY", "--new-people"),) * 2,
    "backup and import": (
        ("study", "backup", "BACKUP", "--study", "STUDY"),
        ("import", "MORE", "--study", "STUDY", "--new-people"),
    ),
    "settings and export": (
        ("study", "settings", "--study", "STUDY", "--usual-rate", "100", "--why", "asked"),
        ("export", "--study", "STUDY", "--out", "OUT", "--override-reason", "a test"),
    ),
}


@pytest.mark.parametrize("pair", PAIRS)
def test_each_of_two_ends_whole_or_says_why(folder, walks, tmp_path, pair):
    """At once; neither ends without words, and the study is as sound as it was."""
    visit_of(tmp_path / "more", "P03", seed=3)
    places = {"WALKS": walks, "MORE": tmp_path / "more", "STUDY": folder}
    places |= {"BACKUP": tmp_path / "backup", "OUT": tmp_path / "out"}
    children = [
        subprocess.Popen(
            [sys.executable, "-c", RUN, *(str(places.get(word, word)) for word in words)],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for words in PAIRS[pair]
    ]
    for child in children:
        said = child.communicate(timeout=300)[1]
        assert child.returncode in (0, 1) or BUSY in said, said
    with closing(open_study(folder)) as study:
        assert verify(study) == []
    if pair.startswith("backup"):
        with closing(open_study(tmp_path / "backup")) as copy:
            assert verify(copy) == []
