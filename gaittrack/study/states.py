"""What the history seals of a person, or of the laboratory, at the end of each change.

In comes a connection, out come checksums over all that was entered: facts, recordings, corrections,
settings. The last entry that a change makes of somebody holds them, so that what is changed past
the program is seen as a changed entry is. Results have checksums of their own (``checksums.py``).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from functools import cache
from typing import Any, Final

from sqlalchemy import Connection, Select, Table, bindparam, select, true

from gaittrack.study.history import MIGRATION, seal_with
from gaittrack.study.tables import (
    AIM,
    BRACE,
    BRACE_SETTING,
    CONDITION,
    CORRECTION,
    HISTORY,
    OF_PERSON,
    PERSON,
    SETTING,
    TRIAL,
    VISIT,
)

_OF_A_PERSON: Final = {
    "facts": (PERSON, VISIT, CONDITION, BRACE, BRACE_SETTING, AIM),
    "recordings": (TRIAL,),
    "corrections": (CORRECTION,),
}
_OF_THE_LABORATORY: Final = {"settings": (SETTING,)}
_WHOSE: Final = "whose"
_AFTER: Final = "after"
_LENGTH: Final = 32
"""Characters kept of a hash: against slips and damage, which no clever hand makes."""

_NEW_ENTRIES: Final = (
    select(HISTORY.c.sequence, HISTORY.c.person)
    .where(HISTORY.c.sequence > bindparam(_AFTER), HISTORY.c.content.is_not(None))
    .order_by(HISTORY.c.sequence)
)

State = dict[str, str]
"""Checksum of each part."""


def seal_states(connection: Connection, *, after: int) -> None:
    """Put what is recorded now into the last entry of each person, and of the laboratory.

    Parameters
    ----------
    after : int
        The newest entry before this change.
    """
    rows = connection.execute(_NEW_ENTRIES, {_AFTER: after}).all()
    last = {person: sequence for sequence, person in rows}
    seal_with(connection, {last[person]: _state_of(connection, person) for person in last})


def changed_states(connection: Connection) -> list[str]:
    """Return what is not as the history last sealed it; empty when all is.

    Nothing is said of whom an earlier version wrote last.
    """
    found = []
    for person, (sequence, sealed) in _sealed(connection).items():
        now = _state_of(connection, person)
        changed = ", ".join(part for part in sealed if sealed[part] != now.get(part))
        if changed:
            whose = "the laboratory" if person is None else person
            found.append(
                f"{whose}: {changed} changed after history entry {sequence}, and no entry says so: "
                "compare with gaittrack study history, and enter what is right, or restore a backup"
            )
    return found


def _sealed(connection: Connection) -> dict[str | None, tuple[int, State]]:
    """Return what the newest entry of each holds, where it holds something."""
    newest: dict[str | None, tuple[int, State]] = {}
    query = select(HISTORY.c.sequence, HISTORY.c.person, HISTORY.c.content)
    for sequence, person, content in connection.execute(query.order_by(HISTORY.c.sequence)):
        told = _read(content)
        if told.get("what") == MIGRATION:
            newest.clear()
        newest[person] = sequence, told.get("state", {})
    return newest


def _read(content: str | None) -> dict[str, Any]:
    """Return what an entry says; nothing where it is emptied, or damaged as its digest shows."""
    try:
        told = json.loads(content or "{}")
    except ValueError:
        return {}
    return told if isinstance(told, dict) else {}


def _state_of(connection: Connection, person: str | None) -> State:
    parts = _OF_THE_LABORATORY if person is None else _OF_A_PERSON
    return {
        part: _checksum(
            [list(row) for row in connection.execute(_rows_of(table), {_WHOSE: person})]
            for table in tables
        )
        for part, tables in parts.items()
    }


@cache
def _rows_of(table: Table) -> Select[Any]:
    """Return what asks for the rows of one person, made once: every change asks for them."""
    mine = true() if table is SETTING else PERSON.c.code == bindparam(_WHOSE)
    way = OF_PERSON.get(table, table)
    return select(table).select_from(way).where(mine).order_by(*table.primary_key)


def _checksum(tables: Iterable[list[list[Any]]]) -> str:
    # SQLite keeps no minus before zero.
    plain = [
        [[one + 0.0 if isinstance(one, float) else one for one in row] for row in rows]
        for rows in tables
    ]
    return hashlib.sha256(json.dumps(plain).encode()).hexdigest()[:_LENGTH]
