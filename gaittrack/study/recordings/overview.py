"""Who is in a study at a glance, and what waits there for somebody.

In comes a study, out come one line per person and the walks of each that should be looked at, could
not be measured, or have a stale or damaged result. No curve is decoded.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from sqlalchemy import Connection, case, func, select

from gaittrack.study.checksums import DAMAGED
from gaittrack.study.laboratory import ANSWERED, MAP, RECORDINGS
from gaittrack.study.people.documents import unfolded
from gaittrack.study.people.enrolled import code_of
from gaittrack.study.recordings.reviewing import (
    NOT_MEASURABLE,
    NOT_MEASURED_YET,
    trials_of_person,
)
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, HISTORY, PERSON, TRIAL, VISIT

_CONCERNS_ALL: Final = (f"set {MAP}", f"set {ANSWERED}", f"set {RECORDINGS}", "migrate")
"""How changes begin after which the results of everybody may be stale, or walks wait no more."""

_NO_NUMBERS: Final = {NOT_MEASURABLE, NOT_MEASURED_YET, DAMAGED.code}
"""Codes of trials that cannot be looked at."""


@dataclass(frozen=True, slots=True)
class ListedPerson:
    """One person of a study, as a list shows them.

    Attributes
    ----------
    cause, affected_side : str
        Empty when not recorded.
    sex, age_band : str
        The band at the last visit; empty when not recorded.
    last_visit, last_date : str
        Code and day of the last visit; empty without one, or when not recorded.
    braces : str
        What is said of the kinds of brace worn.
    """

    id: int
    code: str
    cause: str = ""
    affected_side: str = ""
    last_visit: str = ""
    last_date: str = ""
    n_visits: int = 0
    n_walks: int = 0
    sex: str = ""
    age_band: str = ""
    braces: str = ""

    def has(self, words: str) -> bool:
        """Tell whether each word typed stands somewhere in code, cause, affected side or braces."""
        text = f"{self.code} {self.cause} {self.affected_side} {self.braces}".casefold()
        return all(word in text for word in words.casefold().split())


@dataclass(frozen=True, slots=True)
class Waiting:
    """What waits in the walks of one person: numbers of trials.

    Attributes
    ----------
    to_look_at : tuple of int
        Measured, with something that a person should see.
    why : tuple of str
        Code of the first reason of each of these.
    refused : tuple of int
        Could not be measured.
    stale : tuple of int
        Their result is damaged or not of today's software and settings.
    untold : tuple of int
        Nobody said whether a brace was worn.
    """

    to_look_at: tuple[int, ...] = ()
    refused: tuple[int, ...] = ()
    stale: tuple[int, ...] = ()
    why: tuple[str, ...] = ()
    untold: tuple[int, ...] = ()

    @property
    def n(self) -> int:
        """How much waits."""
        return sum(map(len, (self.to_look_at, self.refused, self.stale, self.untold)))


def list_people(connection: Connection) -> list[ListedPerson]:
    """Return everybody in a study, in the order of their codes, numbers by size."""
    visits: dict[int, list[Any]] = {}
    for row in connection.execute(_visits_query()):
        visits.setdefault(row.person_id, []).append(row)
    braces: dict[int, dict[str, None]] = {}
    for person, described in connection.execute(_WORN):
        braces.setdefault(person, {})[_kind_of_brace(described)] = None
    people = [unfolded("person", row) for row in connection.execute(select(PERSON)).mappings()]
    found = [
        _listed(row, visits.get(row["id"], []), " ".join(braces.get(row["id"], ())))
        for row in people
    ]
    return sorted(found, key=lambda one: _natural(one.code))


def _visits_query() -> Any:
    n_walks = func.sum(case((TRIAL.c.kind == "walk", 1), else_=0)).label("n_walks")
    columns = (VISIT.c[name] for name in ("id", "person_id", "code", "date", "number", "facts"))
    tables = VISIT.outerjoin(CONDITION).outerjoin(TRIAL)
    return select(*columns, n_walks).select_from(tables).group_by(VISIT.c.id)


_WORN: Final = select(VISIT.c.person_id, CONDITION.c.description).join_from(VISIT, CONDITION)


@lru_cache(maxsize=4096)
def _kind_of_brace(description: str) -> str:
    worn = json.loads(description)
    return " ".join(filter(None, (worn.get("orthosis_class"), worn.get("brace"))))


def _listed(row: dict[str, Any], visits: list[Any], braces: str) -> ListedPerson:
    last = max(
        visits, key=lambda each: (each.number or 0, each.date or "", each.code), default=None
    )
    return ListedPerson(
        row["id"],
        row["code"],
        row["cause"] or "",
        row["affected_side"] or "",
        last.code if last else "",
        (last.date or "") if last else "",
        len(visits),
        sum(visit.n_walks for visit in visits),
        row["sex"] or "",
        (json.loads(last.facts).get("age_band") or "") if last else "",
        braces,
    )


def _natural(code: str) -> list[tuple[int, int, str]]:
    parts = re.split(r"(\d+)", code.casefold())
    return [(0, int(p), "") if p.isdecimal() else (1, 0, p) for p in parts if p]


def waiting_of(study: Study, person_id: int) -> Waiting:
    """Return what waits in the walks of one person.

    Parameters
    ----------
    person_id : int
        Nothing waits for somebody who is no longer there.
    """
    with study.read() as connection:
        code = code_of(connection, person_id)
    if code is None:
        return Waiting()
    stale = {trial.id for trial, _ in stale_trials(study, person=code)}
    return _sorted_out(study, person_id, stale)


def waiting_of_all(study: Study) -> Iterator[tuple[int, Waiting]]:
    """Return what waits in the walks of everybody, person by person.

    Yields
    ------
    (int, Waiting)
        Number of the person, and what waits; looked up as it is asked for.
    """
    stale = {trial.id for trial, _ in stale_trials(study)}
    with study.read() as connection:
        people = connection.execute(select(PERSON.c.id).order_by(PERSON.c.id)).scalars().all()
    for person_id in people:
        yield person_id, _sorted_out(study, person_id, stale)


def _sorted_out(study: Study, person_id: int, stale: set[int]) -> Waiting:
    with study.read() as connection:
        trials = trials_of_person(connection, person_id)
    codes = {one.trial.id: [reason.code for reason in one.reasons] for one in trials}
    asked = {key: own[0] for key, own in codes.items() if own and own[0] not in _NO_NUMBERS}
    return Waiting(
        tuple(asked),
        tuple(key for key, own in codes.items() if NOT_MEASURABLE in own),
        tuple(one.trial.id for one in trials if one.trial.id in stale),
        tuple(asked.values()),
        tuple(one.trial.id for one in trials if one.kind == "walk" and one.is_braced is None),
    )


@dataclass(frozen=True, slots=True)
class Changes:
    """What changed in a study since a place in its history.

    Attributes
    ----------
    last : int
        The newest entry; 0 in an empty history.
    people : frozenset of str
        Codes of those concerned.
    concerns_all : bool
        The results of everybody may be stale.
    is_nameless : bool
        Something was done that names nobody, and may change what is said of anybody.
    """

    last: int
    people: frozenset[str]
    concerns_all: bool
    is_nameless: bool


def last_entry(study: Study) -> int:
    """Return the number of the newest entry in the history; 0 in an empty one."""
    with study.read() as connection:
        return connection.execute(select(func.max(HISTORY.c.sequence))).scalar() or 0


def changes_since(study: Study, sequence: int) -> Changes:
    """Return whom the history names after an entry.

    Parameters
    ----------
    sequence : int
        The entry; 0 for the beginning.
    """
    query = select(HISTORY.c.sequence, HISTORY.c.person, HISTORY.c.content)
    with study.read() as connection:
        rows = connection.execute(query.where(HISTORY.c.sequence > sequence)).all()
    done = [json.loads(row.content)["what"] for row in rows if row.content and not row.person]
    return Changes(
        max((row.sequence for row in rows), default=sequence),
        frozenset(row.person for row in rows if row.person),
        any(what.startswith(_CONCERNS_ALL) for what in done),
        any(row.person is None for row in rows),
    )
