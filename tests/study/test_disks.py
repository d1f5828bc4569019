"""On a real full disk and a real read-only one: a clear message, and nothing lost.

Needs the right to mount a small file system in memory; skipped without it.
"""

import shutil
import subprocess

import pytest

from gaittrack.errors import StudyError
from gaittrack.study.corrections.looking import corrections_of
from gaittrack.study.originals import kept_files
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.keeping import find_trial, known_trials
from gaittrack.study.store import create_study, open_study
from gaittrack.study.upkeep.erasing import erase_person
from gaittrack.study.upkeep.verifying import verify
from tests import correcting
from tests.study.conftest import WALK

SIZE = 16_000_000


@pytest.fixture
def disk(tmp_path):
    """Give a folder that is a disk of its own."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "none", str(folder)]
    if shutil.which("mount") is None or subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("no disk can be mounted here")
    yield folder
    subprocess.run(["umount", "--lazy", str(folder)], check=True)


@pytest.fixture
def on_disk(disk, imported):
    """Give the folder of a study on that disk."""
    return shutil.copytree(imported, disk / "study")


def fill(disk, *, free):
    """Fill a disk, so many bytes left out."""
    n_bytes = shutil.disk_usage(disk).free - free
    (disk / "filling").write_bytes(bytes(n_bytes))


def make_read_only(disk):
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)


def exclude(folder):
    study = open_study(folder)
    try:
        with study.read() as connection:
            trial = find_trial(connection, WALK)
        correcting.exclude_stride(study, trial, "left-02", who="Ada", why="stumbled")
    finally:
        study.close()


def bring_in(folder, people):
    study = open_study(folder)
    try:
        return list(import_files(study, plan_folders([people]), who="Ada"))
    finally:
        study.close()


def check_unchanged(folder):
    """See that the study is sound and has no correction."""
    study = open_study(folder)
    assert verify(study) == []
    with study.read() as connection:
        trial = find_trial(connection, WALK)
        assert corrections_of(connection, trial) == [] and trial.version == 1
        assert len(known_trials(connection)) == 8
    study.close()


@pytest.mark.parametrize("free", [0, 40_960])
def test_a_correction_on_a_full_disk_is_all_or_nothing(disk, on_disk, free):
    """Even where SQLite cannot start for want of room, the disk is named."""
    fill(disk, free=free)
    with pytest.raises(StudyError, match="disk is full") as said:
        exclude(on_disk)
    assert str(on_disk) in str(said.value) and "Make room" in str(said.value)
    (disk / "filling").unlink()
    check_unchanged(on_disk)
    exclude(on_disk)


def test_an_import_on_a_full_disk_keeps_what_went_in_and_a_rerun_completes(disk, on_disk, people):
    """Stopped in the middle by the disk, it leaves no stray file and goes on when there is room."""
    study = open_study(on_disk)
    erase_person(study, "P01", who="Ada", why="start empty")
    study.close()
    fill(disk, free=600_000)
    with pytest.raises(StudyError, match="disk is full"):
        bring_in(on_disk, people)
    (disk / "filling").unlink()
    study = open_study(on_disk)
    assert verify(study) == [] and kept_files(on_disk)
    study.close()
    states = [row.state for row in bring_in(on_disk, people)]
    assert {"known", "added"} == set(states) and len(states) == 9
    check_unchanged(on_disk)
    study = open_study(on_disk)
    assert verify(study) == []
    study.close()


def test_on_a_read_only_disk_it_is_said_and_nothing_changes(disk, on_disk, people):
    """For a correction, an import and a new study."""
    make_read_only(disk)
    for change in (lambda: exclude(on_disk), lambda: bring_in(on_disk, people)):
        with pytest.raises(StudyError, match="cannot be written") as said:
            change()
        assert "copy the study to a disk you may write to" in str(said.value)
    with pytest.raises(StudyError, match="cannot be written"):
        create_study(disk / "new")
    check_unchanged(shutil.copytree(on_disk, disk.parent / "copy"))
