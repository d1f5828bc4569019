"""People, visits and conditions: found, or added with what describes them.

In come a connection and a :class:`Visit`, out comes the row the trials hang on. What is stored is
never overwritten: a new fact fills a gap, a contradicting one is refused.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, Table, insert, select, update

from gaittrack.compare.condition import Condition
from gaittrack.errors import StudyError
from gaittrack.record.meant_words import with_meaning
from gaittrack.record.registry import CONDITION as CONDITION_FACTS
from gaittrack.record.registry import FACTS
from gaittrack.study.history import record
from gaittrack.study.laboratory import laboratory_words
from gaittrack.study.people.description import Visit, check_brace
from gaittrack.study.people.documents import TABLES, Part, facts_in, folded, unfolded
from gaittrack.study.tables import CONDITION, PERSON, VISIT

Row = Mapping[str, Any]


def person_codes(connection: Connection) -> list[str]:
    """Return the codes of all people, sorted."""
    return list(connection.execute(select(PERSON.c.code).order_by(PERSON.c.code)).scalars())


def id_of(connection: Connection, code: str) -> int | None:
    """Return the row number of the person with a code; None for nobody."""
    return connection.execute(select(PERSON.c.id).where(PERSON.c.code == code)).scalar()


def code_of(connection: Connection, person_id: int) -> str | None:
    """Return the code of the person with a row number; None for nobody."""
    return connection.execute(select(PERSON.c.code).where(PERSON.c.id == person_id)).scalar()


def find_person(connection: Connection, code: str) -> Row:
    """Return the row of a person.

    Raises
    ------
    StudyError
        Unknown; the message lists the people.
    """
    row = connection.execute(select(PERSON).where(PERSON.c.code == code)).mappings().first()
    if row is None:
        known = person_codes(connection)
        shown = ", ".join(known[:20]) + (" …" if len(known) > 20 else "")
        raise StudyError.of("no_person", where="person", code=code, shown=shown or "none")
    return unfolded("person", row)


def condition_of(row: Row) -> Condition:
    """Return what was worn, from a row of ``condition``."""
    return Condition(row["code"], **json.loads(row["description"]))


def described(condition: Condition | None) -> dict[str, Any]:
    """Return the recorded facts of a condition as plain values."""
    return {} if condition is None else dict(condition.facts)


def check_against_study(connection: Connection, visit: Visit, condition: str) -> None:
    """Refuse words that contradict what the study holds.

    Raises
    ------
    StudyError
        A fact of the person, the visit or the condition differs, or the brace has no side.
    """
    visit = in_laboratory_words(connection, visit)
    person = _find(connection, PERSON, code=visit.person)
    facts = visit.person_facts
    if person is not None:
        known = facts_in("person", person)
        _new_facts(known, facts, visit.person)
        facts = known | facts
        place = f"{visit.person}/{visit.code}"
        there = _find(connection, VISIT, person_id=person["id"], code=visit.code)
        if there is not None:
            _new_facts(facts_in("visit", there), visit.facts, place)
            worn = _find(connection, CONDITION, visit_id=there["id"], code=condition)
            if worn is not None:
                given = described(visit.conditions.get(condition))
                _new_facts(json.loads(worn["description"]), given, f"{place}/{condition}")
    check_brace(
        visit.conditions.get(condition),
        facts.get("affected_side"),
        f"{visit.person}/{visit.code}/{condition}",
    )


def ensure_condition(connection: Connection, visit: Visit, condition: str, *, who: str) -> int:
    """Return the id of a condition; add it, its visit and its person where they are missing.

    Raises
    ------
    StudyError
        As :func:`check_against_study`.
    """
    visit = in_laboratory_words(connection, visit)
    person, place = visit.person, f"{visit.person}/{visit.code}"
    own = {"code": person}
    person_id = _ensure(connection, "person", own, visit.person_facts, (person, person), who)
    key = {"person_id": person_id, "code": visit.code}
    visit_id = _ensure(connection, "visit", key, visit.facts, (person, place), who)
    place = f"{place}/{condition}"
    given = described(visit.conditions.get(condition))
    row = _find(connection, CONDITION, visit_id=visit_id, code=condition)
    if row is None:
        key = {"visit_id": visit_id, "code": condition}
        text = json.dumps(given, sort_keys=True)
        added = inserted_id(connection, CONDITION, key | {"description": text})
        after = {"place": place, "description": text}
        record(connection, "add condition", who=who, person=person, after=after)
        return added
    before = json.loads(row["description"])
    new = _new_facts(before, given, place)
    if new:
        text = json.dumps(before | new, sort_keys=True)
        change = update(CONDITION).where(CONDITION.c.id == row["id"])
        connection.execute(change.values(description=text))
        after = {"place": place} | new
        record(connection, "complete condition", who=who, person=person, after=after)
    return int(row["id"])


def in_laboratory_words(connection: Connection, visit: Visit) -> Visit:
    """Return a visit with the words of the lists where the laboratory has said what others mean."""
    meant = laboratory_words(connection)
    if not meant:
        return visit
    worn = {
        name: Condition(name, **with_meaning(CONDITION_FACTS, one.facts, meant))
        for name, one in visit.conditions.items()
    }
    return replace(
        visit,
        person_facts=with_meaning(FACTS["person"], visit.person_facts, meant),
        facts=with_meaning(FACTS["visit"], visit.facts, meant),
        conditions=worn,
    )


def _find(connection: Connection, table: Table, **key: Any) -> Row | None:
    wanted = [table.c[name] == value for name, value in key.items()]
    row = connection.execute(select(table).where(*wanted)).mappings().first()
    return None if row is None else dict(row)


def inserted_id(connection: Connection, table: Table, row: Row) -> int:
    """Insert a row and return its number."""
    inserted = connection.execute(insert(table).values(dict(row))).inserted_primary_key
    return int(inserted[0]) if inserted is not None else 0


def _ensure(
    connection: Connection,
    part: Part,
    key: Row,
    facts: Row,
    names: tuple[str, str],
    who: str,
) -> int:
    """Find or add a row; ``names`` are the person and the place for history and messages."""
    person, place = names
    table = TABLES[part]
    row = _find(connection, table, **key)
    if row is None:
        row_id = inserted_id(connection, table, dict(key) | folded(part, facts))
        after = {"place": place} | dict(facts)
        record(connection, f"add {part}", who=who, person=person, after=after)
        return row_id
    known = facts_in(part, row)
    new = _new_facts(known, facts, place)
    if new:
        change = update(table).where(table.c.id == row["id"])
        connection.execute(change.values(**folded(part, known | new)))
        after = {"place": place} | new
        record(connection, f"complete {part}", who=who, person=person, after=after)
    return int(row["id"])


def _new_facts(stored: Row, given: Row, place: str) -> dict[str, Any]:
    """Return what is given and not stored yet; refuse what contradicts."""
    new = {}
    for name, value in given.items():
        there = stored.get(name)
        if there is None:
            new[name] = value
        elif there != value:
            raise StudyError.of(
                "differs_from_study", where=place, name=name, there=there, value=value
            )
    return new
