"""``gaittrack demo``: from a checkout and from an installed package, to the open dashboard."""

import os
import re
import signal
import subprocess
import sys
import urllib.request
from collections import Counter
from dataclasses import replace

import pytest
from sqlalchemy import select

from gaittrack.commands import made_up_study
from gaittrack.simulate.scenario import PATIENTS
from gaittrack.study.history import record
from gaittrack.study.people.enrolled import person_codes
from gaittrack.study.results.keeping import known_trials
from gaittrack.study.store import create_study, open_study
from gaittrack.study.tables import RESULT


@pytest.fixture
def few(monkeypatch, tmp_path):
    """Make the sample people two with one walk each, as in an installed package."""
    two = tuple(replace(patient, n_walks=(1,) * patient.n_visits) for patient in PATIENTS[:2])
    monkeypatch.setattr(made_up_study, "PATIENTS", two)
    monkeypatch.setattr(made_up_study, "_BESIDE_CHECKOUT", tmp_path / "nowhere")


def test_makes_a_study_to_open_to_follow_and_to_export(run, few, tmp_path):
    """The sample people over their visits and more people, all measured; a second time it stays."""
    folder = tmp_path / "study"
    done = run("demo", "--study", folder, "--people", "1")
    assert done.exit_code == 0, done.stderr
    for command in ("dashboard", "follow P01", "export"):
        assert f"gaittrack {command} --study {folder}" in done.stdout
    study = open_study(folder)
    with study.read() as connection:
        codes = person_codes(connection)
        n_walks = Counter(trial.person for trial in known_trials(connection))
        refusals = connection.execute(select(RESULT.c.refusal)).scalars().all()
    study.close()
    assert codes == ["P01", "P02", "P05"]
    assert n_walks == {"P01": 10, "P02": 6, "P05": 6}
    assert set(refusals) == {""}
    assert "visit-3" in run("follow", "P01", "--study", folder).stdout
    before = (folder / "study.db").stat().st_mtime_ns
    again = run("demo", "--study", folder)
    assert again.exit_code == 0 and "there already" in again.stdout
    assert (folder / "study.db").stat().st_mtime_ns == before


def test_takes_the_files_of_a_checkout(run, monkeypatch, tmp_path):
    """Beside a checkout its sample trials go in as they lie there."""
    lying = tmp_path / "sample_trials"
    (lying / "P01").mkdir(parents=True)
    (lying / "P01" / "note.c3d").write_bytes(b"")
    monkeypatch.setattr(made_up_study, "PATIENTS", PATIENTS[:1])
    monkeypatch.setattr(made_up_study, "_BESIDE_CHECKOUT", lying)
    done = run("demo", "--study", tmp_path / "study", "--people", "0")
    assert done.exit_code == 1 and "note.c3d" in done.stderr


def test_a_study_of_ones_own_or_a_filled_folder_is_left_alone(run, few, tmp_path):
    """Neither is opened as the made-up study, nor added to."""
    create_study(tmp_path / "own").close()
    own = run("demo", "--study", tmp_path / "own")
    assert own.exit_code == 2 and "a study of your own" in own.stderr
    (tmp_path / "filled").mkdir()
    (tmp_path / "filled" / "letter.txt").write_text("mine")
    filled = run("demo", "--study", tmp_path / "filled")
    assert filled.exit_code == 2 and "letter.txt" in filled.stderr
    assert [path.name for path in (tmp_path / "filled").iterdir()] == ["letter.txt"]


def test_a_demo_broken_off_leaves_nothing_half_made(run, few, monkeypatch, tmp_path):
    """Nothing is there that the next start could take for the whole study."""

    def broken(*_arguments, **_options):
        raise KeyboardInterrupt

    folder = tmp_path / "study"
    monkeypatch.setattr(made_up_study, "import_files", broken)
    assert run("demo", "--study", folder, "--people", "0").exit_code == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name != "posix", reason="there are no such terminals")
def test_in_a_terminal_it_ends_with_the_dashboard_open(tmp_path):
    """The address is printed and answers; Ctrl-C ends it and says how to go on."""
    folder = tmp_path / "study"
    study = create_study(folder)
    with study.write() as connection:
        record(connection, "add person", who=made_up_study.MAKER)
    study.close()
    ours, theirs = os.openpty()
    process = subprocess.Popen(
        [sys.executable, "-u", "-m", "gaittrack", "demo", "--study", str(folder)],
        stdout=theirs,
        stderr=subprocess.PIPE,
        env={name: value for name, value in os.environ.items() if "DISPLAY" not in name},
    )
    os.close(theirs)
    told = ""
    while "Ctrl-C ends it" not in told:
        told += os.read(ours, 4096).decode()
    address = re.search(r"http://127\.0\.0\.1:\d+/start\?token=\S+", told)[0]
    with urllib.request.urlopen(address, timeout=20) as answer:
        assert answer.status == 200 and b"The study opens" in answer.read()
    process.send_signal(signal.SIGINT)
    assert process.wait(20) == 0, process.stderr.read()
    process.stderr.close()
    assert b"gaittrack dashboard --study" in os.read(ours, 65536)
    os.close(ours)
