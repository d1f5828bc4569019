"""A study opens, refuses and waits as it says."""

import sqlite3
import stat
import threading

import pytest
from sqlalchemy import insert, text, update

from gaittrack.errors import StudyError
from gaittrack.study import store
from gaittrack.study.store import create_study, open_or_create_study, open_study
from gaittrack.study.tables import PERSON, SCHEMA_VERSION, STUDY


def add_person(study, code):
    with study.write() as connection:
        connection.execute(insert(PERSON).values(code=code))


def people_in(study):
    with study.read() as connection:
        return list(connection.execute(text("SELECT code FROM person ORDER BY code")).scalars())


def test_a_change_that_fails_half_way_leaves_nothing(tmp_path, database):
    """All changes of one writing are kept, or none."""
    study = create_study(tmp_path / "study", url=database)
    with pytest.raises(ZeroDivisionError), study.write() as connection:
        connection.execute(insert(PERSON).values(code="P01"))
        _ = 1 / 0
    assert people_in(study) == []
    study.close()


def test_a_newer_version_is_refused(tmp_path, database):
    """A database of a later program is not opened, and the message says both versions."""
    study = create_study(tmp_path / "study", url=database)
    with study.write() as connection:
        connection.execute(update(STUDY).values(schema_version=SCHEMA_VERSION + 1))
    study.close()
    with pytest.raises(StudyError, match=f"version {SCHEMA_VERSION + 1}.*newer gaittrack"):
        open_study(tmp_path / "study", url=database)


def test_only_the_owner_may_read(tmp_path):
    """Folder 0700, database 0600, and so its companions."""
    study = create_study(tmp_path / "study")
    add_person(study, "P01")
    modes = {p.name: stat.S_IMODE(p.stat().st_mode) for p in (tmp_path / "study").iterdir()}
    assert stat.S_IMODE((tmp_path / "study").stat().st_mode) == 0o700
    assert modes.pop("originals") == 0o700
    assert "study.db" in modes and set(modes.values()) == {0o600}
    study.close()


@pytest.mark.parametrize("content", [None, b"not a database, though it is called one" * 50])
def test_what_is_no_study_is_said_so(tmp_path, content):
    """An empty folder and a file of other bytes both get a message with the folder."""
    if content is not None:
        (tmp_path / "study.db").write_bytes(content)
    with pytest.raises(StudyError, match="not a study") as caught:
        open_study(tmp_path)
    assert str(tmp_path) in str(caught.value)


@pytest.mark.parametrize("has_header", [False, True])
def test_a_making_that_was_broken_off_is_finished(tmp_path, has_header):
    """A database killed before its tables, with and without its header, becomes a study."""
    (tmp_path / "originals").mkdir()
    if has_header:
        with sqlite3.connect(tmp_path / "study.db") as connection:
            connection.execute("PRAGMA journal_mode = WAL")
        connection.close()
    else:
        (tmp_path / "study.db").touch()
    study = open_or_create_study(tmp_path)
    add_person(study, "P01")
    assert people_in(study) == ["P01"]
    study.close()


def test_a_folder_with_other_things_is_not_taken(tmp_path):
    """A study is never made among other files."""
    (tmp_path / "letters.txt").write_text("private")
    with pytest.raises(StudyError, match="letters.txt"):
        create_study(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letters.txt"]


def test_a_full_disk_is_said_and_loses_nothing(tmp_path):
    """SQLite's own refusal becomes a message; what was there stays."""
    study = create_study(tmp_path / "study")
    add_person(study, "P01")
    with pytest.raises(StudyError, match="disk is full"), study.write() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count = 1")
        for number in range(2000):
            connection.execute(insert(PERSON).values(code=f"P{number}", facts="x" * 500))
    study.close()
    again = open_study(tmp_path / "study")
    assert people_in(again) == ["P01"]
    again.close()


def test_a_read_only_study_can_be_read_and_says_why_not_written(tmp_path):
    """Reading goes on; writing names the cause."""
    study = create_study(tmp_path / "study")
    add_person(study, "P01")
    with pytest.raises(StudyError, match="cannot be written"), study.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA query_only = ON")
        with store.explained(study.folder):
            connection.execute(insert(PERSON).values(code="P02"))
    assert people_in(study) == ["P01"]
    study.close()


def test_a_second_writer_waits_then_gets_a_message(tmp_path, database, monkeypatch):
    """While one process writes, another is told so; nothing is lost."""
    monkeypatch.setattr(store, "LONGEST_WAIT_S", 0.1 if database is None else 1)
    folder = tmp_path / "study"
    first = create_study(folder, url=database)
    second = open_study(folder, url=database)
    with first.write() as connection:
        connection.execute(insert(PERSON).values(code="P01"))
        with pytest.raises(StudyError, match="Another process is writing"):
            add_person(second, "P02")
    add_person(second, "P02")
    assert people_in(first) == ["P01", "P02"]
    first.close()
    second.close()


def test_a_short_wait_is_no_error(tmp_path, database):
    """A writer that soon finishes is waited for."""
    folder = tmp_path / "study"
    first = create_study(folder, url=database)
    second = open_study(folder, url=database)
    with first.write() as connection:
        connection.execute(insert(PERSON).values(code="P01"))
        waiting = threading.Thread(target=add_person, args=(second, "P02"))
        waiting.start()
        waiting.join(0.3)
        assert waiting.is_alive()
    waiting.join()
    assert people_in(first) == ["P01", "P02"]
    first.close()
    second.close()


def test_the_database_is_set_for_clinical_records(tmp_path):
    """Write-ahead log, full synchronising, foreign keys on: asked of the database itself."""
    study = create_study(tmp_path / "study")
    with study.read() as connection:
        asked = ("journal_mode", "synchronous", "foreign_keys")
        found = [connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in asked]
    assert found == ["wal", 2, 1]
    study.close()
    with sqlite3.connect(tmp_path / "study" / "study.db") as plain:
        assert plain.execute("PRAGMA integrity_check").fetchone() == ("ok",)
