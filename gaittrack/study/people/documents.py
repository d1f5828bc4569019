"""Rows of people, visits, braces and aims, with their facts laid open.

In come rows as they are stored, with facts as a JSON document, out come all facts by name; and the
other way round.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, Final, Literal

from sqlalchemy import Table

from gaittrack.record.registry import FACTS
from gaittrack.study.tables import AIM, BRACE, BRACE_SETTING, PERSON, VISIT

Thing = Literal["brace", "setting", "aim"]
Part = Literal["person", "visit", "brace", "setting", "aim"]
TABLES: Final[Mapping[Part, Table]] = {
    "person": PERSON,
    "visit": VISIT,
    "brace": BRACE,
    "setting": BRACE_SETTING,
    "aim": AIM,
}


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
    columns = TABLES[part].c
    own = [name for name in FACTS[part] if name in columns]
    kept = {n: facts[n] for n in facts if n not in own and facts[n] is not None}
    return {name: facts.get(name) for name in own} | {"facts": json.dumps(kept, sort_keys=True)}
