"""The history of a study: append only, each entry sealing the one before it.

In comes what was done, out comes one more entry. An entry's content is hashed with a salt of its
own; when a person is erased, content and salt of that person's entries go, and the chain of hashes
still holds: it keeps only that an erasure took place.
"""

from __future__ import annotations

import getpass
import hashlib
import json
import secrets
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, Final

from sqlalchemy import Connection, bindparam, func, select, update

from gaittrack.readable_names import readable, readable_text
from gaittrack.study.many_rows import insert_rows
from gaittrack.study.tables import HISTORY

_START: Final = "0" * 64
_COLUMNS: Final = tuple(HISTORY.c.keys())
_FROM, _NUMBER = "from_number", "own_number"
_ENTRIES_FROM: Final = (
    select(HISTORY).where(HISTORY.c.sequence >= bindparam(_FROM)).order_by(HISTORY.c.sequence)
)
_SEAL_ENTRY: Final = update(HISTORY).where(HISTORY.c.sequence == bindparam(_NUMBER))
_NEWEST: Final = select(func.max(HISTORY.c.sequence))
LAST_ENTRY: Final = (
    select(HISTORY.c.sequence, HISTORY.c.hash).order_by(HISTORY.c.sequence.desc()).limit(1)
)
"""Asked at each change, so made once."""
ERASURE: Final = "erase person"
MIGRATION: Final = "migrate"


def current_user() -> str:
    """Return the name of whoever runs the program; ``not known`` where the system has none."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "not known"


def utc_now() -> str:
    """Return this instant as ISO 8601 text in UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def record(
    connection: Connection,
    what: str,
    *,
    who: str,
    person: str | None = None,
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
    why: str = "",
) -> int:
    """Append one entry, in the transaction of the change itself.

    Parameters
    ----------
    connection : Connection
        Of :meth:`Study.write`.
    person : str, optional
        Code of the person concerned; erased with the person.
    before, after : mapping, optional
        Plain values.

    Returns
    -------
    int
        Its number in the sequence, from 1.
    """
    told = {"what": what, "before": dict(before or {}), "after": dict(after or {})}
    return _append(connection, [told | {"why": readable_text(why)}], who=who, person=person)


def record_alike(
    connection: Connection, what: str, *, who: str, person: str, after: Sequence[Mapping[str, Any]]
) -> None:
    """Append one entry for each of several things of a person, as :func:`record` does."""
    told = [{"what": what, "before": {}, "after": dict(each), "why": ""} for each in after]
    _append(connection, told, who=who, person=person)


def _append(
    connection: Connection, told: Sequence[Mapping[str, Any]], *, who: str, person: str | None
) -> int:
    last = connection.execute(LAST_ENTRY).first()
    sequence, previous = (last.sequence, last.hash) if last else (0, _START)
    rows = []
    for each in told:
        sequence += 1
        row = {"sequence": sequence, "utc": utc_now(), "who": readable(who), "person": person}
        row |= {"content": json.dumps(each, sort_keys=True), "salt": secrets.token_hex(16)}
        row["digest"] = _digest(row)
        row["previous"] = previous
        row["hash"] = previous = _seal(row)
        rows.append(tuple(map(row.__getitem__, _COLUMNS)))
    insert_rows(connection, HISTORY, _COLUMNS, rows)
    return int(sequence)


def seal_with(connection: Connection, states: Mapping[int, Mapping[str, str]]) -> None:
    """Put checksums of what is recorded into entries of this very transaction.

    Parameters
    ----------
    states : mapping of int to mapping
        By the number of the entry; it and those after it are sealed anew.
    """
    if not states:
        return
    previous = None
    changed = []
    for row in connection.execute(_ENTRIES_FROM, {_FROM: min(states)}).all():
        new = dict(row._mapping)
        new["previous"] = previous or new["previous"]
        if row.sequence in states:
            told = json.loads(row.content) | {"state": dict(states[row.sequence])}
            new["content"] = json.dumps(told, sort_keys=True)
            new["digest"] = _digest(new)
        previous = new["hash"] = _seal(new)
        sealed = {name: new[name] for name in ("previous", "content", "digest", "hash")}
        changed.append(sealed | {_NUMBER: row.sequence})
    connection.execute(_SEAL_ENTRY, changed)


def last_sequence(connection: Connection) -> int:
    """Return the number of the newest entry; 0 without one.

    As long as it is the same nobody has changed the study.
    """
    last = connection.execute(_NEWEST).scalar()
    return int(last or 0)


def _digest(row: Mapping[str, Any]) -> str:
    text = json.dumps([row["salt"], row["person"], row["content"]])
    return hashlib.sha256(text.encode()).hexdigest()


def _seal(row: Mapping[str, Any]) -> str:
    parts = [row[key] for key in ("sequence", "utc", "who", "digest", "previous")]
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def forget(
    connection: Connection, person: str, *, who: str, why: str, releases: Sequence[int] = ()
) -> None:
    """Empty the entries of a person and record that an erasure took place.

    Parameters
    ----------
    releases : sequence of int
        Numbers of the exports that still hold the person, under an id.
    """
    mine = HISTORY.c.person == person
    emptied = connection.execute(select(HISTORY.c.sequence).where(mine)).scalars().all()
    connection.execute(update(HISTORY).where(mine).values(person=None, content=None, salt=None))
    after = {"emptied": sorted(emptied), **({"releases": [*releases]} if releases else {})}
    record(connection, ERASURE, who=who, after=after, why=why)


def entries(
    connection: Connection, *, person: str | None = None, begins: str = ""
) -> list[dict[str, Any]]:
    """Return the history in order.

    Parameters
    ----------
    person : str, optional
        Only the entries of this person.
    begins : str, optional
        Only the entries whose ``what`` begins so, and that concern no person.

    Returns
    -------
    list of dict
        ``sequence, utc, who, person, what, before, after, why``; ``what`` is ``erased`` where a
        person was erased.
    """
    query = select(HISTORY).order_by(HISTORY.c.sequence)
    if person is not None:
        query = query.where(HISTORY.c.person == person)
    if begins:
        said = HISTORY.c.content.contains(f'"what": {json.dumps(begins)[:-1]}', autoescape=True)
        query = query.where(HISTORY.c.person.is_(None), said)
    erased = {"what": "erased", "before": {}, "after": {}, "why": ""}
    return [
        {key: row[key] for key in ("sequence", "utc", "who", "person")}
        | (_told(row["content"]) if row["content"] else erased)
        for row in connection.execute(query).mappings()
    ]


def _told(content: str) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(content)
    told.pop("state", None)
    return told


def faults(connection: Connection) -> list[str]:
    """Return what is wrong with the chain; empty when every entry is as it was written."""
    found: list[str] = []
    previous = _START
    query = select(HISTORY).order_by(HISTORY.c.sequence)
    rows = [dict(row) for row in connection.execute(query).mappings()]
    for number, row in enumerate(rows, 1):
        place = f"history entry {row['sequence']}"
        if row["sequence"] != number:
            return [*found, f"history entry {number} is missing"]
        if row["previous"] != previous or row["hash"] != _seal(row):
            found.append(f"{place} or the one before it was changed")
        if row["content"] is not None and row["digest"] != _digest(row):
            found.append(f"{place}: its content was changed")
        previous = row["hash"]
    return found + _unexplained(rows)


def _unexplained(rows: list[Any]) -> list[str]:
    """Return the entries that are empty though no erasure names them."""
    named: set[int] = set()
    for row in rows:
        content = json.loads(row["content"]) if row["content"] else {}
        if content.get("what") == ERASURE:
            named |= set(content["after"]["emptied"])
    empty = [row["sequence"] for row in rows if row["content"] is None]
    return [f"history entry {n} is empty, and no erasure says so" for n in empty if n not in named]
