"""Every row of a study that holds facts: of people, visits, what was worn, braces and aims.

In comes a connection, out come rows with their facts and the person's code.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, Table, select

from gaittrack.study.tables import AIM, BRACE, BRACE_SETTING, CONDITION, PERSON, VISIT

_PLACES: Final[tuple[tuple[str, Table, Any, str], ...]] = (
    ("person", PERSON, PERSON, "facts"),
    ("visit", VISIT, PERSON.join(VISIT), "facts"),
    ("condition", CONDITION, PERSON.join(VISIT).join(CONDITION), "description"),
    ("brace", BRACE, PERSON.join(BRACE), "facts"),
    ("setting", BRACE_SETTING, PERSON.join(BRACE).join(BRACE_SETTING), "facts"),
    ("aim", AIM, PERSON.join(AIM), "facts"),
)
"""Part, its table, its table with the person beside, and the column with its facts."""
COLUMNS: Final = {part: (table, column) for part, table, _, column in _PLACES}
"""Part to its table and the column with its facts."""


@dataclass(frozen=True, slots=True)
class StoredDocument:
    """The facts of one row."""

    part: str
    id: int
    person: str
    facts: Mapping[str, Any]


def stored_documents(connection: Connection) -> Iterator[StoredDocument]:
    """Yield every row that holds facts."""
    for part, table, joined, column in _PLACES:
        query = select(table.c.id, table.c[column].label("said"), PERSON.c.code.label("person"))
        for row in connection.execute(query.select_from(joined).order_by(table.c.id)).all():
            yield StoredDocument(part, row.id, row.person, json.loads(row.said))
