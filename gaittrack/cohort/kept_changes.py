"""Keep what was compared in the study itself, so that no start compares it again.

In come the changes of people with stamps of all they were made from, out come those whose stamp
still holds. Nothing is lost with them: they are made from the results at any time.
"""

from __future__ import annotations

import base64
import json
import logging
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import chain
from typing import Any, Final

import pandas as pd
from sqlalchemy import Connection, delete, insert, select

from gaittrack.cohort.from_study import person_stamps
from gaittrack.errors import StudyError
from gaittrack.study.checksums import kept_checksum
from gaittrack.study.store import Study
from gaittrack.study.tables import KEPT_CHANGES, PERSON

Compared = pd.DataFrame | str
"""The changes of a person, or why the person's walks cannot be compared."""
_LOG: Final = logging.getLogger(__name__)


@dataclass(frozen=True, eq=False, slots=True)
class Kept:
    """What was kept and still holds.

    Attributes
    ----------
    changes : DataFrame
        Of all of them.
    problems : mapping of person to str
        Whose walks cannot be compared, and why.
    """

    people: frozenset[str]
    changes: pd.DataFrame
    problems: Mapping[str, str]


def kept_changes(connection: Connection, stamps: Mapping[str, str]) -> Kept:
    """Return what was kept of people and still holds; what was damaged does not.

    Parameters
    ----------
    stamps : mapping of person to str
        Of what the changes would be made from today; only these people are looked at.
    """
    kept = (KEPT_CHANGES.c.stamp, KEPT_CHANGES.c.content, KEPT_CHANGES.c.checksum)
    rows = connection.execute(select(PERSON.c.code, *kept).select_from(KEPT_CHANGES.join(PERSON)))
    found = {
        code: _unpacked(text)
        for code, stamp, text, checksum in rows
        if stamps.get(code) == stamp and checksum == kept_checksum(stamp, text)
    }
    filled = [one for one in found.values() if one and not isinstance(one, str)]
    names = list(filled[0]) if filled else []
    columns = {name: list(chain.from_iterable(one[name] for one in filled)) for name in names}
    problems = {code: one for code, one in found.items() if isinstance(one, str)}
    return Kept(frozenset(found), pd.DataFrame(columns), problems)


def keep_changes(study: Study, compared: Mapping[str, Compared], stamps: Mapping[str, str]) -> None:
    """Keep what was compared, of those whose walks did not change meanwhile.

    A study that cannot be written at the moment keeps nothing, which is logged: it is compared
    again another time.

    Parameters
    ----------
    stamps : mapping of person to str
        As read before the comparison.
    """
    try:
        with study.write() as connection:
            today = person_stamps(connection)
            same = [code for code in compared if today.get(code) == stamps[code]]
            query = select(PERSON.c.code, PERSON.c.id).where(PERSON.c.code.in_(same))
            rows = [
                {"person_id": row, **_kept(stamps[code], compared[code])}
                for code, row in connection.execute(query)
            ]
            if rows:
                ids = [row["person_id"] for row in rows]
                connection.execute(delete(KEPT_CHANGES).where(KEPT_CHANGES.c.person_id.in_(ids)))
                connection.execute(insert(KEPT_CHANGES), rows)
    except StudyError as error:
        _LOG.warning("Compared changes are not kept, and made again next time: %s", error)


def _kept(stamp: str, compared: Compared) -> dict[str, str]:
    content = _packed(compared)
    return {"stamp": stamp, "content": content, "checksum": kept_checksum(stamp, content)}


def _packed(compared: Compared) -> str:
    plain = compared if isinstance(compared, str) else compared.to_dict("list")
    return base64.b64encode(zlib.compress(json.dumps(plain).encode())).decode()


def _unpacked(text: str) -> dict[str, list[Any]] | str:
    """Return the columns of a table, or why there is none."""
    found: dict[str, list[Any]] | str = json.loads(zlib.decompress(base64.b64decode(text)))
    return found
