"""Whatever a disk, a clock or another program does, a study says so, and loses nothing."""

import errno
import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from gaittrack.errors import GaitTrackError, StudyError
from gaittrack.study import history
from gaittrack.study.history import record
from gaittrack.study.history_end import FILE
from gaittrack.study.store import DATABASE, open_study
from gaittrack.study.tables import METADATA, STUDY
from gaittrack.study.upkeep.backups import back_up, restore
from gaittrack.study.upkeep.verifying import verify


def page_of(path, table):
    """Return (place, size) of the page where a table begins."""
    with closing(sqlite3.connect(path)) as plain:
        query = "SELECT rootpage FROM sqlite_master WHERE type = 'table' AND name = ?"
        (number,) = plain.execute(query, (table,)).fetchone()
        (size,) = plain.execute("PRAGMA page_size").fetchone()
    return (number - 1) * size, size


@pytest.mark.parametrize("filling", [b"\0", b"gait"])
def test_a_corrupted_page_of_any_table_is_named(imported, tmp_path, filling):
    """Verifying names the table, and whose rows are lost; opening, that it is the database."""
    folder = shutil.copytree(imported, tmp_path / "study")
    whole = (folder / DATABASE).read_bytes()
    for table in METADATA.tables:
        (folder / DATABASE).write_bytes(whole)
        place, size = page_of(folder / DATABASE, table)
        damage = (filling * size)[:size]
        (folder / DATABASE).write_bytes(whole[:place] + damage + whole[place + size :])
        try:
            study = open_study(folder)
            try:
                said = verify(study)
            finally:
                study.close()
        except GaitTrackError as error:
            said = [str(error)]
        if table != STUDY.name:  # the first that is read, before there is a study to verify
            assert any(f"the table {table}" in line for line in said), (table, said)
        assert any("backup" in line for line in said), (table, said)
        if table in ("visit", "result", "event"):
            assert "of P01" in said[0], said
        for path in folder.glob(f"{DATABASE}-*"):
            path.unlink()


@pytest.mark.parametrize(("place", "code"), [("fsync", errno.EIO), ("replace", errno.ENOSPC)])
def test_a_disk_that_refuses_a_backup_or_a_restoring_leaves_nothing_half(
    imported, tmp_path, monkeypatch, place, code
):
    """Whichever call it refuses, the study says so and is as before; the target is not there."""
    study = open_study(shutil.copytree(imported, tmp_path / "study"))
    back_up(study, tmp_path / "backup")
    owner = os if place == "fsync" else Path
    real, calls, refused = getattr(owner, place), [0], [0]

    def refuse(*given):
        calls[0] += 1
        if calls[0] == refused[0]:
            raise OSError(code, os.strerror(code))
        return real(*given)

    monkeypatch.setattr(owner, place, refuse)
    for number in (1, 9):
        for copy in (
            lambda target: back_up(study, target),
            lambda target: restore(tmp_path / "backup", target, who="Ada"),
        ):
            calls[0], refused[0] = 0, number
            with pytest.raises(StudyError):
                copy(tmp_path / "new")
            assert not list(tmp_path.glob("new*"))
    monkeypatch.undo()
    assert verify(study) == []
    study.close()


def test_the_end_of_the_history_is_kept_however_the_disk_behaves(study, monkeypatch):
    """Where its file cannot be written it lags behind, which is no fault, and catches up."""
    kept = (study.folder / FILE).read_bytes()
    monkeypatch.setattr(Path, "replace", refusing)
    with study.write() as connection:
        record(connection, "test", who="Ada")
    monkeypatch.undo()
    assert (study.folder / FILE).read_bytes() == kept and verify(study) == []
    with study.write() as connection:
        record(connection, "test", who="Ada")
    assert (study.folder / FILE).read_bytes() != kept and verify(study) == []
    (study.folder / FILE).write_bytes(b"")
    assert ["damaged" in line for line in verify(study)] == [True]


def refusing(*_):
    raise OSError(errno.ENOSPC, "full")


def test_a_clock_set_back_changes_no_order(study, monkeypatch):
    """Entries go on in order, and the history holds."""
    monkeypatch.setattr(history, "utc_now", lambda: "1999-01-01T00:00:00.000Z")
    with study.write() as connection:
        last = record(connection, "test", who="Ada")
    monkeypatch.undo()
    with study.write() as connection:
        assert record(connection, "test", who="Ada") == last + 1
    assert verify(study) == []
