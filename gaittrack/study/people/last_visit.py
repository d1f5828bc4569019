"""What is likely at a person's next visit, from the last one: a proposal to look at and correct.

In comes a person's code, out come the next visit's name and number and what was worn last time.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, select

from gaittrack.record.aims import Aims
from gaittrack.record.braces import Braces, named_setting, of_part
from gaittrack.record.legs import known_of_legs
from gaittrack.record.registry import CONDITION as CONDITION_FACTS
from gaittrack.study.people.documents import facts_in
from gaittrack.study.people.things import aims_of, braces_of
from gaittrack.study.tables import CONDITION, PERSON, VISIT


@dataclass(frozen=True, slots=True)
class NextVisit:
    """A proposal for the next visit.

    Attributes
    ----------
    is_known : bool
        Whether the person is in the study.
    facts : dict of str to value
        What is recorded of the person.
    last : str
        Code of the last visit; empty without one.
    conditions : dict of str to dict
        Name to what is carried over to the next visit, in the order of that day.
    days_worn : dict of str to float
        By condition, as it was last time.
    examined : dict of str to value
        What holds of the legs since the last visit.
    braces, aims : mapping
        Of the person, by code.
    """

    is_known: bool
    facts: dict[str, Any]
    code: str
    number: int
    last: str = ""
    conditions: dict[str, dict[str, Any]] = field(default_factory=dict)
    days_worn: dict[str, float] = field(default_factory=dict)
    examined: dict[str, Any] = field(default_factory=dict)
    braces: Braces = field(default_factory=dict)
    aims: Aims = field(default_factory=dict)


def next_visit(connection: Connection, code: str) -> NextVisit:
    """Propose the next visit of a person.

    Parameters
    ----------
    code : str
        A first visit is proposed for who is not in the study.
    """
    person = connection.execute(select(PERSON).where(PERSON.c.code == code)).mappings().first()
    if person is None:
        return NextVisit(False, {}, "visit-1", 1)
    facts = facts_in("person", person)
    query = select(VISIT).where(VISIT.c.person_id == person["id"])
    visits = list(connection.execute(query))
    things = braces_of(connection, person["id"]), aims_of(connection, person["id"])
    if not visits:
        return NextVisit(True, facts, "visit-1", 1, braces=things[0], aims=things[1])
    visits = sorted(visits, key=lambda each: (each.number or 0, each.date or "", each.code))
    last = visits[-1]
    return NextVisit(
        True,
        facts,
        _next_code({each.code for each in visits}, last.code),
        (last.number or len(visits)) + 1,
        last.code,
        *_worn(connection, last.id),
        known_of_legs(facts_in("visit", each._mapping) for each in visits),
        *things,
    )


def _next_code(taken: set[str], last: str) -> str:
    """Return the last code counted up, ``visit-2`` after ``visit-1``; never one that is taken."""
    found = re.fullmatch(r"(.*?)(\d{1,6})", last)
    start, digits = found.groups() if found else (f"{last}-", "1")
    number = int(digits) + 1
    while f"{start}{number:0{len(digits)}}" in taken:
        number += 1
    return f"{start}{number:0{len(digits)}}"


def _carried(facts: dict[str, Any]) -> dict[str, Any]:
    """Return what is proposed again; a brace that is named is that brace, and is not said again."""
    own = facts if named_setting(facts) is None else of_part(facts, "condition")
    return {name: value for name, value in own.items() if CONDITION_FACTS[name].is_carried}


def _worn(
    connection: Connection, visit_id: int
) -> tuple[dict[str, dict[str, Any]], dict[str, float]]:
    query = select(CONDITION.c.code, CONDITION.c.description)
    rows = connection.execute(query.where(CONDITION.c.visit_id == visit_id)).all()
    worn = {row.code: json.loads(row.description) for row in rows}
    order = sorted(worn, key=lambda name: (worn[name].get("order") or 99, name))
    kept = {name: _carried(worn[name]) for name in order}
    days = {
        name: one["days_worn"] for name, one in worn.items() if one.get("days_worn") is not None
    }
    return kept, days
