"""Rows of people, visits, what was worn, braces and aims, with their facts laid open.

In come rows as they are stored, with facts as a JSON document, out come all facts by name; and the
other way round.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from sqlalchemy import Connection, RowMapping, Select, Table, select

from gaittrack.record.registry import FACTS
from gaittrack.study.tables import (
    AIM,
    BRACE,
    BRACE_SETTING,
    CONDITION,
    OF_PERSON,
    PERSON,
    VISIT,
)

Thing = Literal["brace", "setting", "aim"]
Part = Literal["person", "visit", "condition", "brace", "setting", "aim"]
WAYS: Final[Mapping[Part, tuple[Table, ...]]] = {
    "person": (PERSON,),
    "visit": (PERSON, VISIT),
    "condition": (PERSON, VISIT, CONDITION),
    "brace": (PERSON, BRACE),
    "setting": (PERSON, BRACE, BRACE_SETTING),
    "aim": (PERSON, AIM),
}
"""The tables from a person down to the part."""


def unfolded(part: Part, row: Mapping[Any, Any]) -> dict[str, Any]:
    """Return a row with every fact beside its columns; None where not recorded."""
    found: dict[str, Any] = dict.fromkeys(FACTS[part])
    found |= json.loads(row["facts"])
    return found | {str(name): row[name] for name in row if name != "facts"}


def facts_in(part: Part, row: Mapping[Any, Any]) -> dict[str, Any]:
    """Return the facts of a row that are recorded."""
    found = unfolded(part, row)
    return {name: found[name] for name in FACTS[part] if found[name] is not None}


def folded(part: Part, facts: Mapping[str, Any]) -> dict[str, Any]:
    """Return all recorded facts as the columns of a row hold them."""
    columns = WAYS[part][-1].c
    own = [name for name in FACTS[part] if name in columns]
    kept = {n: facts[n] for n in facts if n not in own and facts[n] is not None}
    return {name: facts.get(name) for name in own} | {"facts": json.dumps(kept, sort_keys=True)}


def with_codes(part: Part) -> Select[Any]:
    """Return the query for the rows of a part, with ``code_0`` of the person, ``code_1`` below."""
    codes = [table.c.code.label(f"code_{n}") for n, table in enumerate(WAYS[part])]
    own = WAYS[part][-1]
    return select(*codes).add_columns(own).select_from(OF_PERSON[own])


def place_of(part: Part, row: RowMapping) -> str:
    """Return where a row of :func:`with_codes` stands: ``P01/visit-1/with-brace``, ``P01/B1/a``."""
    return "/".join(row[f"code_{n}"] for n in range(len(WAYS[part])))


def column_of(part: Part) -> str:
    """Return the column with the JSON document of a part."""
    return "description" if part == "condition" else "facts"


@dataclass(frozen=True, slots=True)
class StoredDocument:
    """The JSON document of one row."""

    part: Part
    id: int
    person: str
    place: str
    facts: Mapping[str, Any]


def stored_documents(connection: Connection) -> Iterator[StoredDocument]:
    """Yield the document of every row that holds facts."""
    for part, (*_, table) in WAYS.items():
        for row in connection.execute(with_codes(part).order_by(table.c.id)).mappings().all():
            facts = json.loads(row[column_of(part)])
            yield StoredDocument(part, row["id"], row["code_0"], place_of(part, row), facts)
