"""Rows of people, visits, braces and aims: found, added, and gaps in them filled.

In come keys and facts, out come row numbers. What is stored is never overwritten: a new fact fills
a gap, a contradicting one is refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from sqlalchemy import Connection, Select, Table, bindparam, insert, select, update

from gaittrack.errors import DiffersError
from gaittrack.study.history import record
from gaittrack.study.people.documents import WAYS, Part, facts_in, folded

Row = Mapping[str, Any]


def find_row(connection: Connection, table: Table, **key: Any) -> Row | None:
    """Return the row with a key; None where there is none."""
    row = connection.execute(_row_with(table, tuple(key)), key).mappings().first()
    return None if row is None else dict(row)


@cache
def _row_with(table: Table, names: tuple[str, ...]) -> Select[Any]:
    """Return what asks for the row with a key, made once: every import asks again and again."""
    return select(table).where(*(table.c[name] == bindparam(name) for name in names))


def inserted_id(connection: Connection, table: Table, row: Row) -> int:
    """Insert a row and return its number."""
    inserted = connection.execute(insert(table), dict(row)).inserted_primary_key
    return int(inserted[0]) if inserted is not None else 0


def ensure_row(
    connection: Connection, part: Part, key: Row, facts: Row, names: tuple[str, str], who: str
) -> int:
    """Find or add a row, and fill its gaps.

    Parameters
    ----------
    names : (str, str)
        The person and the place, for history and messages.

    Raises
    ------
    DiffersError
        A fact contradicts what is stored.
    """
    person, place = names
    table = WAYS[part][-1]
    row = find_row(connection, table, **key)
    if row is None:
        row_id = inserted_id(connection, table, dict(key) | folded(part, facts))
        after = {"place": place} | dict(facts)
        record(connection, f"add {part}", who=who, person=person, after=after)
        return row_id
    known = facts_in(part, row)
    new = new_facts(known, facts, place)
    if new:
        change = update(table).where(table.c.id == row["id"])
        connection.execute(change.values(**folded(part, known | new)))
        after = {"place": place} | new
        record(connection, f"complete {part}", who=who, person=person, after=after)
    return int(row["id"])


def new_facts(stored: Row, given: Row, place: str) -> dict[str, Any]:
    """Return what is given and not stored yet.

    Raises
    ------
    DiffersError
        Something contradicts what is stored.
    """
    new = {}
    for name, value in given.items():
        there = stored.get(name)
        if there is None:
            new[name] = value
        elif there != value:
            raise DiffersError.about(
                name, "differs_from_study", where=place, there=there, value=value
            )
    return new
