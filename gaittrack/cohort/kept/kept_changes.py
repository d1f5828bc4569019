"""Keep what was compared of people in the study itself, so that nobody compares it again.

In come the parts of people with stamps of all they were made from, out come those whose stamp
still holds. Nothing is lost with them: they are made from the results at any time.
"""

from __future__ import annotations

import base64
import json
import logging
import time
import zlib
from collections.abc import Collection, Iterable, Mapping
from pathlib import Path
from typing import Any, Final

import orjson
from sqlalchemy import Connection, Row, delete, insert, select

from gaittrack.cohort.kept.person_stamps import person_stamps
from gaittrack.errors import StudyBusyError, StudyError
from gaittrack.study.checksums import kept_checksum
from gaittrack.study.people.enrolled import id_of
from gaittrack.study.store import Study
from gaittrack.study.tables import KEPT_CHANGES, PERSON

Parts = Mapping[str, Any]
"""What was compared of a person: plain values by the name of the part, ``ABOUT`` among them."""
ABOUT: Final = "about"
"""Part that everybody has, and that says what the others hold."""
_LOG: Final = logging.getLogger(__name__)
BUSY_S: Final = 60.0
"""How long nothing is kept after a study was busy for as long as one waits; own choice."""
_NOT_BEFORE: Final[dict[Path, float]] = {}
"""Folder of a study that was busy: when to try again, by the clock of the process."""


def kept_parts(
    connection: Connection,
    names: Collection[str] | None,
    stamps: Mapping[str, str],
    people: Collection[int] | None = None,
) -> tuple[dict[str, dict[str, Any]], frozenset[str]]:
    """Return what was kept of people and still holds, and whose part was damaged.

    Parameters
    ----------
    names : collection of str or None
        Of the parts that are wanted; None: all.
    stamps : mapping of person to str
        Of what they would be made from today; only these people are looked at.
    people : collection of int, optional
        Row numbers of those in ``stamps``, where they are few.

    Returns
    -------
    dict of person to parts
        Only of people of whom there is any.
    frozenset of str
        They are not among the others.
    """
    found: dict[str, dict[str, Any]] = {}
    damaged = set()
    for row in _rows(connection, names, people):
        code, part, stamp, text, checksum = tuple(row)
        if stamps.get(code) != stamp:
            continue
        if checksum == kept_checksum(part, stamp, text):
            found.setdefault(code, {})[part] = _unpacked(text)
        else:
            damaged.add(code)
    sound = {code: parts for code, parts in found.items() if code not in damaged}
    return sound, frozenset(damaged)


def _rows(
    connection: Connection, names: Collection[str] | None, people: Collection[int] | None
) -> Iterable[Row[Any]]:
    kept = (KEPT_CHANGES.c[name] for name in ("part", "stamp", "content", "checksum"))
    query = select(PERSON.c.code, *kept).select_from(KEPT_CHANGES.join(PERSON))
    if names is not None:
        query = query.where(KEPT_CHANGES.c.part.in_(list(names)))
    if people is not None:
        query = query.where(KEPT_CHANGES.c.person_id.in_(list(people)))
    return connection.execute(query)


def keep_parts(study: Study, code: str, parts: Parts, stamp: str) -> bool:
    """Keep what was compared of a person, unless something of that changed meanwhile.

    A study that cannot be written at the moment keeps nothing, which is logged: it is compared
    again another time. One that another process keeps writing to is not waited for again for
    ``BUSY_S``: else everybody who is compared would wait as long.

    Parameters
    ----------
    stamp : str
        As read before the comparison.

    Returns
    -------
    bool
        Whether it is kept.
    """
    if time.monotonic() < _NOT_BEFORE.get(study.folder, 0.0):
        return False
    rows = [{"part": name, **_kept(name, stamp, part)} for name, part in parts.items()]
    try:
        with study.write() as connection:
            person = id_of(connection, code)
            if person is None or person_stamps(connection, [person])[code] != stamp:
                return False
            old = delete(KEPT_CHANGES).where(KEPT_CHANGES.c.person_id == person)
            connection.execute(old)
            connection.execute(insert(KEPT_CHANGES), [row | {"person_id": person} for row in rows])
    except StudyError as error:
        if isinstance(error, StudyBusyError):
            _NOT_BEFORE[study.folder] = time.monotonic() + BUSY_S
        _LOG.warning("What was compared is not kept, and made again next time: %s", error)
        return False
    return True


def _kept(name: str, stamp: str, part: Any) -> dict[str, str]:
    content = _packed(part)
    checksum = kept_checksum(name, stamp, content)
    return {"stamp": stamp, "content": content, "checksum": checksum}


def _packed(part: Any) -> str:
    return base64.b64encode(zlib.compress(json.dumps(part).encode())).decode()


def _unpacked(text: str) -> Any:
    told = zlib.decompress(base64.b64decode(text))
    try:
        return orjson.loads(told)  # in a quarter of the time
    except orjson.JSONDecodeError:
        return json.loads(told)  # with numbers that are none
