"""Say which tables of an SQLite file are damaged, and whose rows cannot be read.

In comes a connection, out come sentences, empty where the database finds nothing wrong with itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from sqlalchemy import Connection, FromClause, Table, select
from sqlalchemy.exc import DBAPIError

from gaittrack.study.tables import (
    METADATA,
    OF_PERSON,
    PERSON,
)

_TREE: Final = re.compile(r"[Tt]ree (?:page )?(\d+)")
_MOST_PEOPLE: Final = 10
_RESTORE: Final = "restore a backup"


def damaged_pages(connection: Connection) -> list[str]:
    """Return what of the file is damaged: a sentence for each table or index, then the rest."""
    try:
        words = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
    except DBAPIError as error:
        words = [str(error.orig)]
    bad = [word for word in words if word != "ok"]
    if not bad:
        return []
    unreadable = [table for table in METADATA.sorted_tables if not _is_read(connection, table)]
    named = [_of_table(connection, table) for table in unreadable]
    own = {table.name for table in unreadable}
    others = dict.fromkeys(name for name in _names(connection, bad) if name not in own)
    named += [f"database: {name} is damaged: {_RESTORE}" for name in others]
    return [*named, *(f"database: {word}" for word in bad)]


def _is_read(connection: Connection, table: FromClause, *conditions: object) -> bool:
    query = select(table).where(*conditions)  # type: ignore[arg-type]
    try:
        for _ in connection.execute(query).partitions(100):
            pass
    except (DBAPIError, UnicodeDecodeError, ValueError):
        return False
    return True


def _of_table(connection: Connection, table: Table) -> str:
    people = _people_of(connection, table)
    whose = "" if people is None else f", of {people}"
    return f"database: rows of the table {table.name}{whose} cannot be read: {_RESTORE}"


def _people_of(connection: Connection, table: Table) -> str | None:
    """Return the codes of those whose rows are lost; None where nobody can tell."""
    if table not in OF_PERSON or table is PERSON:
        return None
    try:
        codes = connection.execute(select(PERSON.c.code).order_by(PERSON.c.id)).scalars().all()
    except DBAPIError:
        return None
    way = OF_PERSON[table]
    lost = [code for code in codes if not _is_read(connection, way, PERSON.c.code == code)]
    more = f" and {len(lost) - _MOST_PEOPLE} more" if len(lost) > _MOST_PEOPLE else ""
    return ", ".join(lost[:_MOST_PEOPLE]) + more or None


def _names(connection: Connection, words: list[str]) -> Iterator[str]:
    """Give what the database's own words are about: it counts trees by their first page."""
    rows = connection.exec_driver_sql("SELECT rootpage, type, name FROM sqlite_master").all()
    roots = {str(root): f"the {kind} {name}" for root, kind, name in rows}
    for word in words:
        for number in _TREE.findall(word):
            if number in roots:
                yield roots[number]
