"""The history shows every tampering, and forgets only whom it was told to."""

import pytest
from sqlalchemy import delete, update

from gaittrack.study.history import entries, faults, forget, record
from gaittrack.study.store import create_study
from gaittrack.study.tables import HISTORY


@pytest.fixture
def told(tmp_path, database):
    """Give a study with three entries, two of them about P01."""
    study = create_study(tmp_path / "study", url=database)
    for what, person in (("add person", "P01"), ("set map", None), ("import", "P01")):
        with study.write() as connection:
            record(connection, what, who="Ada", person=person, after={"x": 1}, why="because")
    yield study
    study.close()


def test_entries_say_who_what_and_why_in_order(told):
    """Numbers run from 1; words come back as written."""
    with told.read() as connection:
        rows = entries(connection)
        assert faults(connection) == []
    assert [row["sequence"] for row in rows] == [1, 2, 3]
    assert [row["what"] for row in rows] == ["add person", "set map", "import"]
    assert {(row["who"], row["why"]) for row in rows} == {("Ada", "because")}


@pytest.mark.parametrize(
    "change",
    [
        update(HISTORY).where(HISTORY.c.sequence == 2).values(who="Eve"),
        update(HISTORY).where(HISTORY.c.sequence == 2).values(utc="1999-01-01T00:00:00.000Z"),
        update(HISTORY).where(HISTORY.c.sequence == 2).values(content="{}"),
        update(HISTORY).where(HISTORY.c.sequence == 2).values(person="P02"),
        update(HISTORY).where(HISTORY.c.sequence == 3).values(content=None, salt=None),
        delete(HISTORY).where(HISTORY.c.sequence == 2),
    ],
    ids=["who", "when", "what", "whom", "emptied", "removed"],
)
def test_any_change_is_found(told, change):
    """Whoever rewrites, empties or removes an entry is seen."""
    with told.write() as connection:
        connection.execute(change)
        assert faults(connection)


def test_forgetting_empties_the_person_and_keeps_the_chain(told):
    """Nothing of the person stays, the chain holds, and the erasure is on record."""
    with told.write() as connection:
        forget(connection, "P01", who="Ada", why="asked for")
        rows = entries(connection)
        assert faults(connection) == []
    assert "P01" not in str(rows)
    assert [row["what"] for row in rows] == ["erased", "set map", "erased", "erase person"]
