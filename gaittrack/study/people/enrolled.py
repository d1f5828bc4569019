"""People, visits and conditions: found, or added with what describes them.

In come a connection and a :class:`Visit`, out comes the row the trials hang on. What is stored is
never overwritten: a new fact fills a gap, a contradicting one is refused.
"""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import replace
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, select, update

from gaittrack.compare.fair.condition import Condition
from gaittrack.errors import StudyError
from gaittrack.record.braces import Brace, whole_facts, with_described
from gaittrack.record.meant_words import MeantWords, with_meaning
from gaittrack.record.registry import CONDITION as CONDITION_FACTS
from gaittrack.record.registry import FACTS
from gaittrack.study.history import record
from gaittrack.study.laboratory import laboratory_words
from gaittrack.study.people.description import Visit, check_brace
from gaittrack.study.people.documents import facts_in, unfolded
from gaittrack.study.people.rows import Row, ensure_row, find_row, inserted_id, new_facts
from gaittrack.study.people.things import (
    check_things,
    keep_things,
    refuse_impossible_now,
    restate_worn,
)
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, PERSON, VISIT


def person_codes(connection: Connection) -> list[str]:
    """Return the codes of all people, sorted."""
    return list(connection.execute(select(PERSON.c.code).order_by(PERSON.c.code)).scalars())


def id_of(connection: Connection, code: str) -> int | None:
    """Return the row number of the person with a code; None for nobody."""
    return connection.execute(select(PERSON.c.id).where(PERSON.c.code == code)).scalar()


def ids_of(connection: Connection, codes: Collection[str]) -> dict[str, int]:
    """Return the row numbers of the people with some codes, by code."""
    query = select(PERSON.c.code, PERSON.c.id).where(PERSON.c.code.in_(list(codes)))
    return {code: number for code, number in connection.execute(query)}


def code_of(connection: Connection, person_id: int) -> str | None:
    """Return the code of the person with a row number; None for nobody."""
    return connection.execute(select(PERSON.c.code).where(PERSON.c.id == person_id)).scalar()


def visit_id_of(connection: Connection, person_id: int, code: str) -> int | None:
    """Return the row number of a person's visit; None where there is none."""
    mine = (VISIT.c.person_id == person_id) & (VISIT.c.code == code)
    return connection.execute(select(VISIT.c.id).where(mine)).scalar()


def is_there(study: Study, person_id: int | None) -> bool:
    """Whether a person is in a study; None is nobody."""
    if person_id is None:
        return False
    with study.read() as connection:
        return code_of(connection, person_id) is not None


def known_side(connection: Connection, code: str) -> str | None:
    """Return the affected side of a person; None where it is not recorded."""
    row = find_row(connection, PERSON, code=code)
    return None if row is None else facts_in("person", row).get("affected_side")


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
    return _condition(row["code"], row["description"])


@lru_cache(maxsize=1024)
def _condition(code: str, description: str) -> Condition:
    """Return what was worn; many people wear the same."""
    return Condition(code, **json.loads(description))


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
    person = find_row(connection, PERSON, code=visit.person)
    facts = visit.person_facts
    person_id = None if person is None else person["id"]
    given = (visit.things, visit.worn, [visit.rated])
    braces = check_things(connection, person_id, visit.person, *given)
    if person is not None:
        known = facts_in("person", person)
        new_facts(known, facts, visit.person)
        facts = known | facts
        place = f"{visit.person}/{visit.code}"
        there = find_row(connection, VISIT, person_id=person["id"], code=visit.code)
        if there is not None:
            new_facts(facts_in("visit", there), visit.facts, place)
            worn = find_row(connection, CONDITION, visit_id=there["id"], code=condition)
            if worn is not None:
                told = described(visit.conditions.get(condition))
                new_facts(json.loads(worn["description"]), told, f"{place}/{condition}")
    place = f"{visit.person}/{visit.code}/{condition}"
    worn_now = whole_facts(described(visit.conditions.get(condition)), braces, place)
    check_brace(Condition(condition, **worn_now), facts.get("affected_side"), place)


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
    person_id = ensure_row(connection, "person", own, visit.person_facts, (person, person), who)
    key = {"person_id": person_id, "code": visit.code}
    visit_id = ensure_row(connection, "visit", key, visit.facts, (person, place), who)
    keep_things(connection, person_id, person, visit.things, who=who)
    place = f"{place}/{condition}"
    given = described(visit.conditions.get(condition))
    row = find_row(connection, CONDITION, visit_id=visit_id, code=condition)
    if row is None:
        key = {"visit_id": visit_id, "code": condition}
        text = json.dumps(given, sort_keys=True)
        added = inserted_id(connection, CONDITION, key | {"description": text})
        after = {"place": place, "description": text}
        record(connection, "add condition", who=who, person=person, after=after)
        _settle_things(connection, person_id, person, visit)
        return added
    before = json.loads(row["description"])
    new = new_facts(before, given, place)
    if new:
        whole = before | new
        described_here = with_described({}, [whole])
        keep_things(connection, person_id, person, (described_here, {}), who=who)
        text = json.dumps(whole, sort_keys=True)
        change = update(CONDITION).where(CONDITION.c.id == row["id"])
        connection.execute(change.values(description=text))
        after = {"place": place} | new
        record(connection, "complete condition", who=who, person=person, after=after)
    _settle_things(connection, person_id, person, visit)
    return int(row["id"])


def _settle_things(connection: Connection, person_id: int, person: str, visit: Visit) -> None:
    """Bring what was worn to its brace, and refuse what then cannot be."""
    if any(visit.things):
        restate_worn(connection, person_id)
        refuse_impossible_now(connection, person_id, person)


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
        braces={code: _meant(brace, meant) for code, brace in visit.braces.items()},
        person_facts=with_meaning(FACTS["person"], visit.person_facts, meant),
        facts=with_meaning(FACTS["visit"], visit.facts, meant),
        conditions=worn,
    )


def _meant(brace: Brace, meant: MeantWords) -> Brace:
    own = {
        code: with_meaning(FACTS["setting"], facts, meant) for code, facts in brace.settings.items()
    }
    return Brace(with_meaning(FACTS["brace"], brace.facts, meant), own)
