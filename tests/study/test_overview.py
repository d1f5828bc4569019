"""Who is in a study at a glance, and what waits there."""

import json

import pytest
from sqlalchemy import insert

from gaittrack.study.laboratory import set_setting
from gaittrack.study.recordings.overview import (
    Changes,
    ListedPerson,
    Waiting,
    changes_since,
    list_people,
    waiting_of,
    waiting_of_all,
)
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.store import create_study
from gaittrack.study.tables import PERSON, VISIT
from gaittrack.study.upkeep.erasing import erase_person
from tests.correcting import confirm_trial
from tests.study.conftest import WALK
from tests.study.planted_results import plant

WARNING = json.dumps([{"level": "warning", "what": "x", "where": "y", "action": "z"}])


@pytest.fixture
def walk(study):
    """Return the walk that the tests spoil."""
    with study.read() as connection:
        return find_trial(connection, WALK)


def set_result(study, trial, **values):
    with study.write() as connection:
        plant(connection, trial.id, **values)


def test_a_person_is_listed_with_the_last_visit_and_all_walks(study):
    """The last visit is the one with the highest number; standing trials are no walks."""
    with study.read() as connection:
        (person,) = list_people(connection)
    assert (person.code, person.cause, person.affected_side) == ("P01", "stroke", "left")
    assert (person.last_visit, person.n_visits, person.n_walks) == ("visit-2", 2, 8)


def test_codes_are_listed_with_numbers_by_size_and_people_without_visits(tmp_path):
    """P2 comes before P10, and somebody without a visit is not lost."""
    study = create_study(tmp_path / "new")
    with study.write() as connection:
        for code in ("P10", "p2", "A-3"):
            connection.execute(insert(PERSON).values(code=code))
        connection.execute(insert(VISIT).values(person_id=1, code="a", date="2026-02-01", number=1))
        connection.execute(insert(VISIT).values(person_id=1, code="b", date="2026-01-01", number=2))
    with study.read() as connection:
        people = list_people(connection)
    study.close()
    assert [one.code for one in people] == ["A-3", "p2", "P10"]
    assert [one.n_walks for one in people] == [0, 0, 0]
    assert people[-1].last_visit == "b"


@pytest.mark.parametrize(
    ("typed", "found"),
    [("", True), ("p0", True), ("LEFT stro", True), ("right", False), ("p01 right", False)],
)
def test_each_word_typed_must_be_there(typed, found):
    """Words are looked for in code, cause and side, whatever their capitals."""
    assert ListedPerson(1, "P01", "Stroke", "left").has(typed) is found


def test_a_sound_study_has_nothing_waiting_that_was_looked_at(study, walk):
    """A warning asks for a look, until a person has looked."""
    assert walk.id not in waiting_of(study, 1).to_look_at
    set_result(study, walk, problems=WARNING)
    assert walk.id in waiting_of(study, 1).to_look_at
    assert waiting_of(study, 1).stale == ()
    confirm_trial(study, walk, who="tester", why="looked")
    assert walk.id not in waiting_of(study, 1).to_look_at


def test_refused_and_stale_walks_wait(study, walk):
    """What could not be measured, and what another version measured, is counted apart."""
    set_result(study, walk, refusal="no markers", software_version="0.0.1")
    with study.read() as connection:
        other = find_trial(connection, WALK.replace("walk-1", "walk-2"))
    set_result(study, other, problems=WARNING)
    waiting = waiting_of(study, 1)
    assert other.id in waiting.to_look_at
    assert waiting.refused == (walk.id,)
    assert waiting.stale == (walk.id,)
    assert walk.id not in waiting.to_look_at
    assert waiting.n == 2 + len(waiting.to_look_at)


def test_everybody_at_once_gives_what_each_gives_alone(study, walk):
    """The quick way for all and the way for one agree."""
    set_result(study, walk, problems=WARNING, software_version="0.0.1")
    assert dict(waiting_of_all(study)) == {1: waiting_of(study, 1)}
    assert waiting_of(study, 99) == Waiting()


def test_the_history_tells_whom_a_change_concerns(study, walk, tmp_path):
    """A correction concerns one person, a map everybody, errors nobody's stamp."""
    start = changes_since(study, 0).last
    assert changes_since(study, start) == Changes(start, frozenset(), False, False)
    confirm_trial(study, walk, who="tester", why="looked")
    after = changes_since(study, start)
    told = after.people, after.concerns_all, after.is_nameless
    assert told == (frozenset({"P01"}), False, False)
    lab_map = tmp_path / "map.toml"
    lab_map.write_text('[landmarks]\nleft_heel = "left toe"\n')
    set_setting(study, "map", lab_map, who="tester", why="new markers")
    mapped = changes_since(study, after.last)
    assert mapped.concerns_all and mapped.is_nameless
    assert len(waiting_of(study, 1).stale) == 8


def test_nothing_waits_after_an_erasure(study):
    """Somebody erased is neither listed nor waited for."""
    erase_person(study, "P01", who="tester", why="asked for it")
    assert dict(waiting_of_all(study)) == {}
    assert waiting_of(study, 1) == Waiting()
