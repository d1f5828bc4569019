"""What was compared stays in the study, and counts only as long as it would be the same today."""

from functools import partial

import pandas as pd
import pytest
from sqlalchemy import delete, select, text, update

from gaittrack.cohort import from_study, view
from gaittrack.cohort.from_study import person_stamps
from gaittrack.cohort.kept_changes import keep_changes, kept_changes
from gaittrack.cohort.view import read_cohort
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.store import create_study, open_study
from gaittrack.study.tables import CONDITION, KEPT_CHANGES, PERSON, VISIT
from gaittrack.study.upkeep.backups import back_up
from gaittrack.study.upkeep.erasing import erase_person
from tests.cohort.made_up_cohort import SWING
from tests.correcting import exclude_stride
from tests.planted_facts import put_facts

WHO = {"who": "tester", "why": "a test"}


@pytest.fixture
def counted(monkeypatch):
    """Note whose visits are compared."""
    codes = []
    plain = view._changes_of
    monkeypatch.setattr(view, "_changes_of", lambda *given: codes.append(given[1]) or plain(*given))
    return codes


def n_kept(of):
    with of.read() as connection:
        return len(connection.execute(select(KEPT_CHANGES)).all())


def test_a_new_start_compares_nobody_again(study, counted):
    """The second reading, as of another program, gives the same table to the last digit."""
    first = read_cohort(study)
    again = open_study(study.folder)
    second = read_cohort(again)
    again.close()
    assert counted == ["P01"] and n_kept(study) == 1
    assert len(first.changes) > 100
    pd.testing.assert_frame_equal(second.changes, first.changes)


def a_correction(of):
    with of.read() as connection:
        trial = find_trial(connection, "P01/visit-1/with-brace/walk-1")
    exclude_stride(of, trial, "left-01", **WHO)


def a_change(of, *, table, values):
    with of.write() as connection:
        connection.execute(update(table).values(**values))


@pytest.mark.parametrize(
    "change",
    [
        a_correction,
        partial(a_change, table=CONDITION, values={"description": '{"orthosis": "none"}'}),
        partial(put_facts, table=PERSON, affected_side="right"),
        partial(put_facts, table=VISIT, age_years=9.0),
    ],
    ids=["correction", "worn", "side", "age"],
)
def test_what_would_be_another_today_is_compared_again(study, counted, change):
    """And gives what a study gives that never kept anything."""
    read_cohort(study)
    change(study)
    found = read_cohort(study)
    assert counted == ["P01", "P01"]
    with study.write() as connection:
        connection.execute(delete(KEPT_CHANGES))
    pd.testing.assert_frame_equal(read_cohort(study).changes, found.changes)


def test_another_version_or_setting_keeps_nothing_valid(study, counted, monkeypatch):
    """Software, the laboratory's values, and the columns of the table are in the stamp."""
    read_cohort(study)
    with study.write() as connection:
        connection.execute(
            text("INSERT INTO setting VALUES ('typical', 'own.toml', :content)"),
            {"content": f'[[typical]]\nmeasure = "{SWING}"\nlow = 0\nhigh = 9\nsource = "own"\n'},
        )
    read_cohort(study)
    monkeypatch.setattr(from_study, "__version__", "another")
    read_cohort(study)
    fewer = {**from_study.TABLES, "changes": from_study.TABLES["changes"][:-1]}
    monkeypatch.setattr(from_study, "TABLES", fewer)
    read_cohort(study)
    assert counted == ["P01"] * 4


def test_why_walks_cannot_be_compared_is_kept_too(study, counted, monkeypatch):
    """Nobody is tried again who failed, until something changes."""

    def fails(_study, code):
        counted.append(code)
        return "Twice the same.", ""

    monkeypatch.setattr(view, "_changes_of", fails)
    first, second = read_cohort(study), read_cohort(study)
    assert counted == ["P01"]
    assert first.problems == second.problems and "Twice" in first.problems["P01"]
    assert len(second.changes) == 0


def test_what_changed_during_the_comparison_is_not_kept(study):
    """The stamp of before does not fit any more: a table of after would stand under it."""
    with study.read() as connection:
        before = person_stamps(connection)
    a_correction(study)
    keep_changes(study, {"P01": pd.DataFrame({"a": [1]})}, before)
    assert n_kept(study) == 0


def test_a_study_that_cannot_be_written_is_shown_all_the_same(study, monkeypatch, caplog):
    """Another program writes for long: the view is there, and the log says what is not kept."""
    monkeypatch.setattr("gaittrack.study.store.LONGEST_WAIT_S", 0.1)
    reader, other = open_study(study.folder), open_study(study.folder)
    with other.write():
        found = read_cohort(reader)
    assert len(found.changes) > 100 and n_kept(study) == 0
    assert "not kept" in caplog.text and "writing" in caplog.text
    reader.close()
    other.close()


def test_it_goes_with_the_person_and_into_a_backup(study, tmp_path):
    """Erasing leaves no row; a backup holds the same."""
    read_cohort(study)
    back_up(study, tmp_path / "backup")
    copy = open_study(tmp_path / "backup")
    with copy.read() as connection:
        assert kept_changes(connection, person_stamps(connection)).people == {"P01"}
    copy.close()
    erase_person(study, "P01", who="tester", why="asked for")
    assert n_kept(study) == 0


def test_it_is_the_same_on_a_server(people, database, tmp_path, counted):
    """Kept, found again and gone with the person, on SQLite and PostgreSQL."""
    made = create_study(tmp_path / "study", url=database)
    list(import_files(made, plan_folders([people]), who="tester"))
    first, second = read_cohort(made), read_cohort(made)
    assert counted == ["P01"]
    pd.testing.assert_frame_equal(second.changes, first.changes)
    erase_person(made, "P01", who="tester", why="asked for")
    assert n_kept(made) == 0
    made.close()
