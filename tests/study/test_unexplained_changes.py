"""Whatever is changed past the program is seen, on SQLite and on a server, and nothing else is."""

import shutil
from contextlib import nullcontext

import pytest
from sqlalchemy import delete, func, insert, select, update

from gaittrack.study.history import entries
from gaittrack.study.laboratory import ERRORS, put_setting
from gaittrack.study.people.fact_changes import change_facts, recorded
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.store import open_study
from gaittrack.study.tables import (
    AIM,
    BRACE,
    BRACE_SETTING,
    CONDITION,
    CORRECTION,
    EVENT,
    HISTORY,
    PERSON,
    RESULT,
    SETTING,
    TRIAL,
    TRIAL_MEAN,
    VISIT,
)
from gaittrack.study.upkeep.backups import back_up, restore
from gaittrack.study.upkeep.verifying import verify
from tests import correcting
from tests.study.conftest import WALK

WAYS = {
    PERSON: {"facts": '{"sex": "female"}'},
    VISIT: {"date": "2001-01-01"},
    CONDITION: {"description": "{}"},
    BRACE: {"facts": '{"side": "right"}'},
    BRACE_SETTING: {"facts": '{"x": 1}'},
    AIM: {"facts": '{"x": 1}'},
    TRIAL: {"version": 9},
    CORRECTION: {"is_undone": True},
    SETTING: {"content": "x = 1"},
    RESULT: {"facts": "{}"},
    EVENT: {"time_s": 9.0},
    TRIAL_MEAN: {"value": 9.0},
    HISTORY: {"who": "Eve"},
}
"""A change of each table that holds what somebody entered or measured."""


@pytest.fixture(scope="module")
def filled(imported, tmp_path_factory):
    """Give the folder of a study that has a row in every one of these tables; not to be changed."""
    folder = shutil.copytree(imported, tmp_path_factory.mktemp("filled") / "study")
    study = open_study(folder)
    with study.read() as connection:
        trial = find_trial(connection, WALK)
        person = connection.execute(select(PERSON.c.id)).scalar()
    correcting.exclude_stride(study, trial, "left-02", who="Ada", why="stumbled")
    with study.write() as connection:
        brace = connection.execute(insert(BRACE).values(person_id=person, code="B1"))
        of_brace = {"brace_id": brace.inserted_primary_key[0], "code": "a"}
        connection.execute(insert(BRACE_SETTING).values(of_brace))
        own = {"person_id": person, "code": "A1", "facts": '{"aim_words": "stairs"}'}
        connection.execute(insert(AIM).values(own))
        put_setting(connection, ERRORS, {"file_name": "e", "content": ""}, who="Ada", why="x")
    change_facts(study, recorded(study, "person", person), {"sex": "male"}, who="Ada", why="so")
    study.close()
    return folder


def planted(connection, table, values):
    """Change the first row of a table past the program."""
    key = next(iter(table.primary_key))
    first = connection.execute(select(func.min(key))).scalar()
    connection.execute(update(table).where(key == first).values(values))


@pytest.mark.parametrize("database", ["sqlite", "postgresql"], indirect=True)
def test_a_change_of_any_table_is_seen(filled, tmp_path, database):
    """One value, one row more or less, the last entries gone: verify names whose it is."""
    if database is None:
        study = open_study(shutil.copytree(filled, tmp_path / "study"))
    else:
        source = open_study(filled)
        back_up(source, tmp_path / "backup")
        source.close()
        restore(tmp_path / "backup", tmp_path / "study", who="Ada", url=database)
        study = open_study(tmp_path / "study", url=database)
    assert verify(study) == []
    with study.read() as connection:
        assert not any("state" in entry for entry in entries(connection))
        n_entries = len(entries(connection))
    for table, values in WAYS.items():
        said = one_change(study, lambda c, t=table, v=values: planted(c, t, v))
        assert said, table.name
        if table not in (RESULT, EVENT, TRIAL_MEAN, HISTORY):
            whose = "the laboratory: " if table is SETTING else "P01: "
            assert said[0].startswith(whose), (table.name, said)
    for gone in (SETTING, CORRECTION, AIM):
        assert one_change(study, lambda c, t=gone: c.execute(delete(t))), gone.name
    last_five = delete(HISTORY).where(HISTORY.c.sequence > n_entries - 5)
    (said, *_) = one_change(study, lambda c: c.execute(last_five))
    assert f"ends with entry {n_entries - 5}, and went on to {n_entries}" in said
    assert verify(study) == []
    study.close()


class TakenBackError(Exception):
    """Takes a planted change back."""


def one_change(study, change):
    """Return what verify says after a change, which is then taken back."""
    said = []
    with pytest.raises(TakenBackError), study.engine.begin() as connection:
        change(connection)
        said += verify(Within(study, connection))
        raise TakenBackError
    return said


class Within:
    """A study that is looked at from within a transaction."""

    def __init__(self, study, connection):
        self.folder, self.engine, self._connection = study.folder, study.engine, connection

    def read(self):
        """Give the connection, and leave it open."""
        return nullcontext(self._connection)
