"""A backup is the same study, and goes back: into a folder, and into PostgreSQL."""

import shutil
import sqlite3

import pytest
from sqlalchemy import create_engine, inspect

from gaittrack.cohort.view import read_cohort
from gaittrack.errors import StudyError
from gaittrack.study.corrections.making import exclude_stride
from gaittrack.study.history import entries
from gaittrack.study.originals import kept_files
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.store import DATABASE, create_study, open_study
from gaittrack.study.tables import HISTORY, SCHEMA_VERSION, STUDY
from gaittrack.study.upkeep.backups import back_up, restore
from gaittrack.study.upkeep.verifying import verify
from tests.study.conftest import write_visit
from tests.study.test_migrating import FIXTURES, VERSIONS
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
    n_files = restore(tmp_path / "backup", tmp_path / "new", who="Ada", url=database)
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


@pytest.mark.parametrize("version", VERSIONS)
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
    restore(backup, tmp_path / "new", who="Ada")
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
