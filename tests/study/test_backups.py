"""A backup is the same study, and goes back: into a folder, and into PostgreSQL."""

import json
import shutil
import sqlite3

import pytest
from sqlalchemy import create_engine, inspect

from gaittrack.cohort.asking.view import read_cohort
from gaittrack.errors import StudyError
from gaittrack.study.history import entries
from gaittrack.study.originals import kept_files
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.store import DATABASE, create_study, open_study
from gaittrack.study.tables import HISTORY, SCHEMA_VERSION, STUDY
from gaittrack.study.upkeep import backups
from gaittrack.study.upkeep.backups import back_up, restore
from gaittrack.study.upkeep.erasing import erase_person
from gaittrack.study.upkeep.manifest import FIRST_WITH_MANIFEST, MANIFEST, UNFINISHED
from gaittrack.study.upkeep.verifying import verify
from tests.correcting import exclude_stride
from tests.study.conftest import write_visit
from tests.study.test_migrating import (
    BACK_TO_VERSION_1,
    FIXTURES,
    VERSIONS,
    put_columns_back,
    put_sentences_back,
)
from tests.study.test_upkeep import content


def everything_but_the_last(found):
    """Leave out that it was restored, the last entry of the history."""
    return found | {HISTORY.name: [row for row in found[HISTORY.name] if "restore" not in row]}


def test_a_restored_study_is_the_one_that_was_backed_up(
    study, tmp_path, database, trial_at, people
):
    """Rows, originals and history, with one entry more; and it goes on: ids do not clash."""
    exclude_stride(study, trial_at(study), "left-01", who="Ada", why="stumbled")
    read_cohort(study)
    back_up(study, tmp_path / "backup")
    done = restore(tmp_path / "backup", tmp_path / "new", who="Ada", url=database)
    n_files = done.n_originals
    assert done.has_manifest and not (tmp_path / "new" / MANIFEST).exists()
    new = open_study(tmp_path / "new", url=database)
    assert everything_but_the_last(content(new)) == content(study)
    assert n_files == len(kept_files(new.folder)) == len(kept_files(study.folder))
    assert verify(new) == [] and stale_trials(new) == []
    with new.read() as connection:
        last = entries(connection)[-1]
    assert (last["what"], last["who"], last["after"]) == ("restore", "Ada", {"originals": n_files})
    write_visit(tmp_path / "more" / "P02" / "visit-1", seed=7, n_walks=1)
    words = (tmp_path / "more" / "P02" / "visit-1" / "conditions.toml").read_text()
    (tmp_path / "more" / "P02" / "visit-1" / "conditions.toml").write_text(
        words.replace("P01", "P02")
    )
    rows = list(import_files(new, plan_folders([tmp_path / "more"]), who="Ada"))
    assert {row.state for row in rows} == {"added"}, rows
    exclude_stride(new, trial_at(new), "left-02", who="Ada", why="stumbled")
    assert verify(new) == []
    new.close()


def test_a_study_on_a_server_goes_round(people, tmp_path, database):
    """From any database into a backup and back into any: the same rows."""
    study = create_study(tmp_path / "study", url=database)
    list(import_files(study, plan_folders([people]), who="Ada"))
    back_up(study, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "new", who="Ada")
    new = open_study(tmp_path / "new")
    assert everything_but_the_last(content(new)) == content(study) and verify(new) == []
    study.close()
    new.close()


@pytest.mark.parametrize("version", VERSIONS[: FIRST_WITH_MANIFEST - 1])
def test_a_backup_of_an_older_version_goes_back_too(tmp_path, version):
    """The new study is of today's version; not a byte of the backup changes."""
    backup = tmp_path / "backup"
    (backup / "originals").mkdir(parents=True)
    with sqlite3.connect(backup / DATABASE) as plain:
        plain.executescript((FIXTURES / f"version-{version}.sql").read_text(encoding="utf-8"))
        hashes = plain.execute("SELECT sha256, suffix FROM trial").fetchall()
        plain.execute("PRAGMA foreign_keys = ON")
        plain.execute("DELETE FROM trial")  # their originals are not kept with the fixture
    plain.close()
    assert hashes
    before = {path: path.read_bytes() for path in backup.rglob("*") if path.is_file()}
    assert not restore(backup, tmp_path / "new", who="Ada").has_manifest
    new = open_study(tmp_path / "new")
    with new.read() as connection:
        assert connection.execute(STUDY.select()).mappings().one()["schema_version"] == (
            SCHEMA_VERSION
        )
    new.close()
    assert {path: path.read_bytes() for path in backup.rglob("*") if path.is_file()} == before


def test_what_cannot_be_restored_leaves_nothing(study, tmp_path, database):
    """A damaged original, a filled folder, a folder that is no backup: said, and nothing there."""
    back_up(study, tmp_path / "backup")
    kept_files(tmp_path / "backup")[-1].write_bytes(b"changed")
    with pytest.raises(StudyError, match="changed"):
        restore(tmp_path / "backup", tmp_path / "new", who="Ada", url=database)
    assert not (tmp_path / "new").exists()
    if database is not None:
        engine = create_engine(database)
        assert inspect(engine).get_table_names() == []
        engine.dispose()
    with pytest.raises(StudyError, match="not a backup"):
        restore(tmp_path, tmp_path.with_name("another"), who="Ada")
    with pytest.raises(StudyError, match="would be lost"):
        restore(tmp_path / "backup", tmp_path / "backup" / "new", who="Ada")


def test_a_database_in_use_is_left_alone(people, study, tmp_path, database):
    """A server's database that holds a study keeps it; no folder is left behind."""
    if database is None:
        pytest.skip("a file's study has a test of its own")
    there = create_study(tmp_path / "there", url=database)
    list(import_files(there, plan_folders([people]), who="Ada"))
    before = content(there)
    back_up(study, tmp_path / "backup")
    with pytest.raises(StudyError, match="database is not empty"):
        restore(tmp_path / "backup", tmp_path / "new", who="Ada", url=database)
    assert not (tmp_path / "new").exists() and content(there) == before
    there.close()


def test_a_folder_with_something_in_it_is_left_alone(study, tmp_path):
    """Neither a study nor anything else is overwritten, nor originals without a database."""
    back_up(study, tmp_path / "backup")
    before = content(study)
    with pytest.raises(StudyError, match="not empty"):
        restore(tmp_path / "backup", study.folder, who="Ada")
    assert content(study) == before and verify(study) == []
    shutil.copytree(study.folder / "originals", tmp_path / "left" / "originals")
    with pytest.raises(StudyError, match="not empty"):
        restore(tmp_path / "backup", tmp_path / "left", who="Ada")
    with pytest.raises(StudyError, match="originals of another study"):
        create_study(tmp_path / "left")
    assert len(kept_files(tmp_path / "left")) == 9


def refused(backup, tmp_path):
    """Return why a backup is refused; nothing is left where it would have gone."""
    with pytest.raises(StudyError) as said:
        restore(backup, tmp_path / "refused", who="Ada")
    assert not list(tmp_path.glob("refused*"))
    assert str(backup) in str(said.value)
    return str(said.value)


def one_original(backup):
    return kept_files(backup)[3]


DAMAGES = {
    "is missing": lambda backup: one_original(backup).unlink(),
    "was changed": lambda backup: one_original(backup).write_bytes(
        one_original(backup).read_bytes()[:-1] + b"?"
    ),
    "bytes, not": lambda backup: one_original(backup).write_bytes(b"cut"),
    "strange.txt is not of the backup": lambda backup: (backup / "strange.txt").touch(),
    "study.db was changed": lambda backup: change_history(backup),
    "not a backup": lambda backup: (backup / DATABASE).unlink(),
    "list of what the backup holds is damaged": lambda backup: (backup / MANIFEST).write_text("{"),
    "holds is damaged": lambda backup: rewrite(backup, more=1),
    "newer version": lambda backup: rewrite(backup, format=2),
    "history ends elsewhere": lambda backup: rewrite(backup, history={"entries": 1, "hash": "x"}),
}


def change_history(backup):
    with sqlite3.connect(backup / DATABASE) as plain:
        plain.execute("UPDATE history SET who = 'Eve' WHERE sequence = 1")
    plain.close()


def rewrite(backup, **values):
    path = backup / MANIFEST
    found = json.loads(path.read_text())
    del found["seal"]
    path.write_text(json.dumps(found | values))


@pytest.mark.parametrize("words", DAMAGES)
def test_a_backup_that_is_not_as_it_was_made_is_refused(study, tmp_path, words):
    """Whatever is missing, changed or added: the message names it and says what to do."""
    back_up(study, tmp_path / "backup")
    DAMAGES[words](tmp_path / "backup")
    said = refused(tmp_path / "backup", tmp_path)
    assert words in said and ("estore" in said or "Name the folder" in said)


def test_a_backup_without_a_manifest_must_be_sound(study, tmp_path):
    """One of an earlier version is restored when nothing is wrong with it; else it is refused."""
    back_up(study, tmp_path / "backup")
    of_an_earlier_version(tmp_path / "backup")
    assert not restore(tmp_path / "backup", tmp_path / "new", who="Ada").has_manifest
    one_original(tmp_path / "backup").unlink()
    assert "is missing" in refused(tmp_path / "backup", tmp_path)


def of_an_earlier_version(backup):
    """Make a backup what a version without manifests would have made."""
    (backup / MANIFEST).unlink(missing_ok=True)
    earlier = open_study(backup)
    with earlier.write() as connection:
        put_sentences_back(connection)
        put_columns_back(connection)
    earlier.close()
    with sqlite3.connect(backup / DATABASE) as plain:
        for statement in BACK_TO_VERSION_1:
            plain.execute(statement)
    plain.close()


def test_an_empty_study_without_a_manifest_is_not_taken_for_a_backup(tmp_path):
    """It is what an earlier version left when it was broken off: sound, and empty."""
    create_study(tmp_path / "backup").close()
    of_an_earlier_version(tmp_path / "backup")
    assert "it is empty" in refused(tmp_path / "backup", tmp_path)


def test_todays_backup_without_its_manifest_is_refused(study, tmp_path):
    """It is written last: without it something was broken off, or this is no backup."""
    back_up(study, tmp_path / "backup")
    (tmp_path / "backup" / MANIFEST).unlink()
    assert f"{MANIFEST} is missing" in refused(tmp_path / "backup", tmp_path)


def test_an_unfinished_backup_is_refused_and_in_the_way_of_another(study, tmp_path):
    """By its name alone, also when it is whole; a second run does not write into it."""
    back_up(study, tmp_path / "backup")
    (tmp_path / "backup").rename(tmp_path / f"backup{UNFINISHED}")
    assert "still being written" in refused(tmp_path / f"backup{UNFINISHED}", tmp_path)
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(StudyError, match="delete that folder"):
        back_up(study, tmp_path / "backup")
    assert sorted(tmp_path.rglob("*")) == before


def test_a_backup_somebody_worked_in_is_a_study_to_back_up_anew(study, tmp_path):
    """Erasing in it is allowed; verify and restore say that it is not as it was made."""
    back_up(study, tmp_path / "backup")
    copy = open_study(tmp_path / "backup")
    assert verify(copy) == []
    erase_person(copy, "P01", who="Ada", why="asked for")
    assert all(fault.startswith("as a backup: ") for fault in verify(copy)) and verify(copy)
    back_up(copy, tmp_path / "anew")
    copy.close()
    assert "back it up anew" in refused(tmp_path / "backup", tmp_path)
    restore(tmp_path / "anew", tmp_path / "new", who="Ada")


def test_a_copy_that_fails_half_way_leaves_what_was_there(study, tmp_path, database, monkeypatch):
    """An empty folder stays, an empty database is empty again; of the copy nothing is left."""
    back_up(study, tmp_path / "backup")
    (tmp_path / "new").mkdir()
    monkeypatch.setattr(backups, "manifest_faults", lambda *_: [])
    kept_files(tmp_path / "backup")[-1].write_bytes(b"changed meanwhile")
    with pytest.raises(StudyError, match="changed"):
        restore(tmp_path / "backup", tmp_path / "new", who="Ada", url=database)
    assert list((tmp_path / "new").iterdir()) == [] and not list(tmp_path.glob(f"*{UNFINISHED}"))
    if database is not None:
        engine = create_engine(database)
        assert inspect(engine).get_table_names() == []
        engine.dispose()


def test_a_folder_that_fills_meanwhile_is_left_alone(study, tmp_path, monkeypatch):
    """Somebody else put something where the backup should go: it stays, the backup does not."""
    plain = backups.write_manifest

    def fills(*given):
        plain(*given)
        (tmp_path / "backup").mkdir()
        (tmp_path / "backup" / "letter.txt").write_text("private")

    monkeypatch.setattr(backups, "write_manifest", fills)
    with pytest.raises(StudyError):
        back_up(study, tmp_path / "backup")
    assert (tmp_path / "backup" / "letter.txt").read_text() == "private"
    assert not list(tmp_path.glob(f"*{UNFINISHED}"))


def test_a_lost_original_costs_itself_and_not_the_backup(study, tmp_path):
    """One is gone, one was changed: named, left out, and missed again in the study restored."""
    gone, changed = kept_files(study.folder)[:2]
    gone.unlink()
    changed.write_bytes(b"other")
    done = back_up(study, tmp_path / "backup")
    assert len(done.lost) == 2 and done.n_originals == len(kept_files(tmp_path / "backup"))
    again = restore(tmp_path / "backup", tmp_path / "new", who="Ada")
    assert sorted(again.lost) == sorted(done.lost) and again.n_originals == done.n_originals
    new = open_study(tmp_path / "new")
    found = verify(new)
    assert len(found) == 2 and all("is missing" in fault for fault in found)
    new.close()
    kept_files(tmp_path / "backup")[0].unlink()
    assert "is missing" in refused(tmp_path / "backup", tmp_path)
