"""What was compared stays in the study, and counts only as long as it would be the same today."""

import json

import pandas as pd
import pytest
from sqlalchemy import delete, insert, select, update

from gaittrack.answer import to_stored
from gaittrack.cohort.asking.view import read_cohort
from gaittrack.cohort.kept import compared, person_stamps
from gaittrack.cohort.kept.compared import compared_parts, kept_of, told_of_person
from gaittrack.cohort.kept.kept_changes import ABOUT, keep_parts, kept_parts
from gaittrack.errors import ComparisonError
from gaittrack.record.registry import FACTS
from gaittrack.study.laboratory import ERRORS, MAP, TYPICAL, WORDS
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.overview import list_people
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results import follow, visit_answers
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.store import create_study, open_study
from gaittrack.study.tables import AIM, CONDITION, KEPT_CHANGES, PERSON, SETTING, TRIAL, VISIT
from gaittrack.study.upkeep.backups import back_up
from gaittrack.study.upkeep.erasing import erase_person
from tests.correcting import exclude_stride, swap_trial_sides, undo_correction
from tests.study.conftest import write_visit
from tests.study.planted_results import plant

WHO = {"who": "tester", "why": "a test"}


@pytest.fixture
def counted(monkeypatch):
    """Note who is compared."""
    codes = []
    plain = compared.compared_parts
    noted = lambda *given: codes.append(given[1]) or plain(*given)  # noqa: E731
    monkeypatch.setattr(compared, "compared_parts", noted)
    return codes


def n_kept(of):
    with of.read() as connection:
        return len(connection.execute(select(KEPT_CHANGES.c.person_id).distinct()).all())


def test_a_new_start_compares_nobody_again(study, counted, monkeypatch):
    """The second reading, as of another program, gives table and answers to the last digit."""
    first = read_cohort(study)
    again = open_study(study.folder)
    second = read_cohort(again)
    assert counted == ["P01"] and n_kept(study) == 1
    assert len(first.changes) > 100
    pd.testing.assert_frame_equal(second.changes, first.changes)
    anew = visit_answers.compared_answers(again, 1)
    monkeypatch.setattr(compared, "compared_answers", lambda *_: pytest.fail("compared again"))
    followed = follow.follow_person(again, "P01")
    monkeypatch.setattr(compared, "follow_person", lambda *_: pytest.fail("compared again"))
    kept, found = told_of_person(again, facts_of_person(again, 1), ())
    assert repr(found) == repr(followed)
    assert list(kept) == ["visit-1", "visit-2"] == list(anew)
    for visit, own in kept.items():
        assert [each.sentences() for each in own] == [each.sentences() for each in anew[visit]]
        assert [repr(to_stored(e)) for e in own] == [repr(to_stored(e)) for e in anew[visit]]
    again.close()


def correct(of, place, correction, *more):
    with of.read() as connection:
        trial = find_trial(connection, place)
    correction(of, trial, *more, **WHO)


def change(of, table, **values):
    with of.write() as connection:
        connection.execute(update(table).values(**values))


def add(of, table, **values):
    with of.write() as connection:
        connection.execute(insert(table).values(**values))


def a_new_walk(of, folder):
    rows = import_files(
        of, plan_folders([write_visit(folder / "P01" / "visit-3", seed=3)]), who="x"
    )
    assert {row.state for row in rows} == {"added"}


def measured_otherwise(of):
    with of.write() as connection:
        plant(connection, None, software_version="0.0.1")


def every_change(study, folder):
    """Yield what it is called, and do it: all that a screen, command or program can change."""
    walk = "P01/visit-1/with-brace/walk-1"
    yield "stride left out", lambda: correct(study, walk, exclude_stride, "left-01")
    yield "taken back", lambda: correct(study, walk, undo_correction, 1)
    yield "sides", lambda: correct(study, walk, swap_trial_sides)
    yield "walk in", lambda: a_new_walk(study, folder)
    for table in (PERSON, VISIT):
        for name in FACTS[table.name]:
            facts = json.dumps({name: "anything"})
            yield name, lambda table=table, facts=facts: change(study, table, facts=facts)
    for column in ("number", "days_since_first_visit"):
        yield column, lambda column=column: change(study, VISIT, **{column: None})
    for name in FACTS[
        "condition"
    ]:  # also what is said of a brace and its setting, where it is worn
        said = json.dumps({name: "anything"})
        yield name, lambda said=said: change(study, CONDITION, description=said)
    for reached in ("{}", '{"aim_question": "how the toe clears the floor"}'):
        aim = {"person_id": 1, "code": f"A {reached}", "facts": reached}
        yield "aim", lambda aim=aim: add(study, AIM, **aim)
    yield "aim", lambda: change(study, AIM, facts='{"aim_level": 1}')
    for name in (MAP, ERRORS, TYPICAL, WORDS):
        setting = {"name": name, "file_name": "own.toml", "content": "a = 1"}
        yield name, lambda setting=setting: add(study, SETTING, **setting)
        yield name, lambda name=name: change(study, SETTING, content=f"b = {name!r}")
    yield "measured by another version", lambda: measured_otherwise(study)
    yield "walk out", lambda: take_out(study)


def take_out(study):
    with study.write() as connection:
        connection.execute(delete(TRIAL).where(TRIAL.c.code == "walk-2"))


def test_whatever_changes_nothing_kept_before_it_is_shown(study, tmp_path, monkeypatch):
    """Each kind of change, and each fact there is, makes what was kept not hold; so do versions."""
    found = kept_of(study)
    seen = {found.stamps["P01"]: "before"}

    def is_new(name):
        with study.read() as connection:
            one = person_stamps.person_stamps(connection, [1])
            assert one == person_stamps.person_stamps(connection), name
        assert one["P01"] not in seen, (name, seen.get(one["P01"]))
        seen[one["P01"]] = name

    for name, act in every_change(study, tmp_path / "more"):
        if name != "taken back":  # as before, but for the correction that stays in the history
            keep_parts(study, "P01", {ABOUT: {"named": name}}, kept_of(study).stamps["P01"])
            assert kept_of(study).about == {"P01": {"named": name}}
        act()
        assert kept_of(study).missing == ["P01"], name
        is_new(name)
    assert len(seen) > 150
    monkeypatch.setattr(person_stamps, "__version__", "another")
    is_new("version")
    monkeypatch.setattr(person_stamps, "stamp_of_rules", lambda: "other rules")
    is_new("rules")
    fewer = {**person_stamps.TABLES, "changes": person_stamps.TABLES["changes"][:-1]}
    monkeypatch.setattr(person_stamps, "TABLES", fewer)
    is_new("columns")


def test_what_is_kept_after_a_correction_is_as_if_never_kept(study, counted):
    """All parts, to the last digit, where something was kept before and where nothing was."""
    read_cohort(study)
    correct(study, "P01/visit-1/with-brace/walk-1", exclude_stride, "left-01")
    read_cohort(study)
    assert counted == ["P01", "P01"]
    anew = compared_parts(study, "P01")
    with study.read() as connection:
        kept, _ = kept_parts(connection, list(anew), kept_of(study).stamps)
    assert json.dumps(kept["P01"], sort_keys=True) == json.dumps(anew, sort_keys=True)


def test_why_walks_cannot_be_compared_is_kept_too(study, counted, monkeypatch):
    """Nobody is tried again who failed, until something changes; the answers say why, too."""

    def fails(*_given, **_more):
        raise ComparisonError("Twice the same.", where="", action="")

    monkeypatch.setattr("gaittrack.cohort.tables.changes.compare_walks", fails)
    monkeypatch.setattr("gaittrack.study.results.comparing.compare_walks", fails)
    first, second = read_cohort(study), read_cohort(study)
    assert counted == ["P01"]
    assert first.problems == second.problems and "Twice" in first.problems["P01"]
    assert "Twice" in second.about["P01"]["newest"]["why"]
    assert len(second.changes) == 0


def test_what_changed_during_the_comparison_is_not_kept(study):
    """The stamp of before does not fit any more: parts of after would stand under it."""
    before = kept_of(study).stamps["P01"]
    correct(study, "P01/visit-1/with-brace/walk-1", exclude_stride, "left-01")
    assert not keep_parts(study, "P01", {ABOUT: {}}, before)
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
    assert kept_of(copy).missing == []
    copy.close()
    erase_person(study, "P01", who="tester", why="asked for")
    assert n_kept(study) == 0


@pytest.mark.parametrize("database", ["postgresql"], indirect=True)
def test_it_is_the_same_on_a_server(people, database, tmp_path, counted):
    """Kept, found again and gone with the person, as in the studies of the other tests."""
    made = create_study(tmp_path / "study", url=database)
    list(import_files(made, plan_folders([people]), who="tester"))
    first, second = read_cohort(made), read_cohort(made)
    assert counted == ["P01"]
    pd.testing.assert_frame_equal(second.changes, first.changes)
    with made.read() as connection:
        (listed,) = list_people(connection)
    assert (listed.n_visits, listed.n_walks, listed.sex) == (2, 8, "female")
    erase_person(made, "P01", who="tester", why="asked for")
    assert n_kept(made) == 0
    made.close()
