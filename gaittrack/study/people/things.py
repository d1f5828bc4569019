"""The braces and aims of a person in a study, and what was worn kept in step with them.

In come a connection and a person, out come braces with their settings, and aims; in come those of a
visit, out come rows. Whatever changes a brace restates what was worn of it, so that one fact has
one value wherever it is read.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, bindparam, select, update

from gaittrack.record.aims import Aims, Rated, rated_at, refuse_alike, refuse_misrated
from gaittrack.record.braces import (
    Brace,
    Braces,
    Worn,
    named_setting,
    of_part,
    refuse_impossible,
    whole_facts,
)
from gaittrack.study.people.documents import Thing, facts_in
from gaittrack.study.people.rows import ensure_row, new_facts
from gaittrack.study.tables import AIM, BRACE, BRACE_SETTING, CONDITION, PERSON, VISIT

_WHOSE: Final = "whose"
_BRACES: Final = select(BRACE).where(BRACE.c.person_id == bindparam(_WHOSE)).order_by(BRACE.c.id)
_SETTINGS: Final = (
    select(BRACE_SETTING)
    .join_from(BRACE_SETTING, BRACE)
    .where(BRACE.c.person_id == bindparam(_WHOSE))
    .order_by(BRACE_SETTING.c.id)
)
_AIMS: Final = select(AIM).where(AIM.c.person_id == bindparam(_WHOSE)).order_by(AIM.c.id)
_VISITS: Final = select(VISIT).where(VISIT.c.person_id == bindparam(_WHOSE))
_CONDITIONS: Final = (
    select(CONDITION, VISIT.c.date, VISIT.c.code.label("visit"))
    .select_from(PERSON.join(VISIT).join(CONDITION))
    .where(PERSON.c.id == bindparam(_WHOSE))
)
"""Asked at each import, so made once."""


def braces_of(connection: Connection, person_id: int) -> dict[str, Brace]:
    """Return the braces of a person by code, each with its settings."""
    rows = connection.execute(_BRACES, {_WHOSE: person_id}).mappings().all()
    settings = connection.execute(_SETTINGS, {_WHOSE: person_id}) if rows else None
    own: dict[int, dict[str, Any]] = {row["id"]: {} for row in rows}
    for row in settings.mappings() if settings is not None else ():
        own[row["brace_id"]][row["code"]] = facts_in("setting", row)
    return {row["code"]: Brace(facts_in("brace", row), own[row["id"]]) for row in rows}


def aims_of(connection: Connection, person_id: int) -> dict[str, dict[str, Any]]:
    """Return the aims of a person by code, in the order in which they were recorded."""
    rows = connection.execute(_AIMS, {_WHOSE: person_id}).mappings()
    return {row["code"]: facts_in("aim", row) for row in rows}


def check_things(
    connection: Connection,
    person_id: int | None,
    person: str,
    given: tuple[Braces, Aims],
    worn: Iterable[Worn],
    rated: Iterable[Rated],
) -> Braces:
    """Return the braces as they would be; refuse what contradicts the study, or cannot be.

    Parameters
    ----------
    person_id : int or None
        None for somebody who is not in the study yet.
    worn : iterable of Worn
        At the visit that the given ones are of.
    rated : iterable of Rated
        Likewise.

    Raises
    ------
    StudyError, FactError
    """
    known = {} if person_id is None else braces_of(connection, person_id)
    before = [] if person_id is None else _worn(connection, person_id, person)
    aims = {} if person_id is None else aims_of(connection, person_id)
    for code, brace in given[0].items():
        known[code] = _merged(known.get(code, Brace()), brace, f"{person}/{code}")
    for code, facts in given[1].items():
        there = aims.get(code, {})
        aims[code] = there | new_facts(there, facts, f"{person}/{code}")
    refuse_impossible(known, [*before, *worn], person)
    refuse_alike(aims, person)
    refuse_misrated(aims, [*_rated(connection, person_id, person), *rated])
    return known


def _merged(there: Brace, given: Brace, place: str) -> Brace:
    settings = {
        code: {**(own := there.settings.get(code, {})), **new_facts(own, facts, f"{place}/{code}")}
        for code, facts in given.settings.items()
    }
    facts = {**there.facts, **new_facts(there.facts, given.facts, place)}
    return Brace(facts, {**there.settings, **settings})


def keep_things(
    connection: Connection, person_id: int, person: str, given: tuple[Braces, Aims], *, who: str
) -> None:
    """Add braces, settings and aims, and fill gaps of those that are there.

    Raises
    ------
    StudyError
        As :func:`check_things`.
    """
    braces, aims = given
    for code, brace in braces.items():
        names = (person, f"{person}/{code}")
        key = {"person_id": person_id, "code": code}
        brace_id = ensure_row(connection, "brace", key, brace.facts, names, who)
        for setting, facts in brace.settings.items():
            own = {"brace_id": brace_id, "code": setting}
            names = (person, f"{person}/{code}/{setting}")
            ensure_row(connection, "setting", own, facts, names, who)
    for code, facts in aims.items():
        key = {"person_id": person_id, "code": code}
        ensure_row(connection, "aim", key, facts, (person, f"{person}/{code}"), who)


def restate_worn(connection: Connection, person_id: int) -> None:
    """Bring what was worn of each brace to what is recorded of the brace now."""
    braces = braces_of(connection, person_id)
    for row in _conditions(connection, person_id):
        facts = json.loads(row["description"])
        named = named_setting(facts)
        if named is not None and named[0] in braces:
            now = whole_facts(of_part(facts, "condition"), braces, row["code"])
            if now != facts:
                change = update(CONDITION).where(CONDITION.c.id == row["id"])
                text = json.dumps(now, sort_keys=True)
                connection.execute(change.values(description=text))


def refuse_impossible_now(connection: Connection, person_id: int, person: str) -> None:
    """Refuse what is stored of braces and aims when it cannot be: after a change.

    Raises
    ------
    FactError
    """
    check_things(connection, person_id, person, ({}, {}), (), ())


def _worn(connection: Connection, person_id: int, person: str) -> list[Worn]:
    found = []
    for row in _conditions(connection, person_id):
        named = named_setting(json.loads(row["description"]))
        if named is not None:
            found.append(Worn(*named, row["date"], f"{person}/{row['visit']}/{row['code']}"))
    return found


def _rated(connection: Connection, person_id: int | None, person: str) -> list[Rated]:
    rows = connection.execute(_VISITS, {_WHOSE: person_id}).mappings()
    return [rated_at(facts_in("visit", row), f"{person}/{row['code']}") for row in rows]


def _conditions(connection: Connection, person_id: int) -> list[Mapping[str, Any]]:
    rows = connection.execute(_CONDITIONS, {_WHOSE: person_id}).mappings()
    return [dict(row) for row in rows]


@dataclass(frozen=True, slots=True)
class KeptThing:
    """A brace, a setting or an aim as it is stored.

    Attributes
    ----------
    id : int
        Row number.
    place : str
        Its code; that of a setting with its brace before, ``B1/a``.
    facts : mapping of str to value
        Only what is recorded.
    """

    part: Thing
    id: int
    place: str
    facts: Mapping[str, Any]


def kept_things(connection: Connection, person_id: int) -> list[KeptThing]:
    """Return the braces of a person, each with its settings below, then the aims."""
    found: list[KeptThing] = []
    query = select(BRACE).where(BRACE.c.person_id == person_id).order_by(BRACE.c.id)
    for brace in connection.execute(query).mappings().all():
        found.append(KeptThing("brace", brace["id"], brace["code"], facts_in("brace", brace)))
        settings = select(BRACE_SETTING).where(BRACE_SETTING.c.brace_id == brace["id"])
        for row in connection.execute(settings.order_by(BRACE_SETTING.c.id)).mappings():
            place = f"{brace['code']}/{row['code']}"
            found.append(KeptThing("setting", row["id"], place, facts_in("setting", row)))
    aims = select(AIM).where(AIM.c.person_id == person_id).order_by(AIM.c.id)
    found += [
        KeptThing("aim", row["id"], row["code"], facts_in("aim", row))
        for row in connection.execute(aims).mappings()
    ]
    return found


def next_code(part: Thing, taken: Collection[str]) -> str:
    """Return a code to propose: ``B2`` after ``B1``, ``b`` after ``a``, ``A1`` for a first aim."""
    letters = "abcdefghijklmnopqrstuvwxyz" if part == "setting" else ""
    start = {"brace": "B", "aim": "A"}.get(part, "")
    proposed: list[str] = [*letters, *(f"{start}{n}" for n in range(1, len(taken) + 2))]
    return next(code for code in proposed if code not in taken)
