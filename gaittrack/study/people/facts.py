"""The facts of a person and of visits, as a study keeps them.

In come row numbers, out come the facts as they are stored; ``record.visit_facts`` says them.
"""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import ColumnElement, select

from gaittrack.record.registry import FACTS
from gaittrack.record.visit_facts import PersonFacts, VisitFacts
from gaittrack.study.people.documents import unfolded
from gaittrack.study.people.visit_days import with_days
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, PERSON, VISIT


def facts_of_person(study: Study, person_id: int) -> PersonFacts | None:
    """Return what is recorded of a person and of all visits; None for nobody."""
    return _facts(study, PERSON.c.id == person_id, VISIT.c.person_id == person_id)


def facts_of_conditions(study: Study, condition_ids: Collection[int]) -> PersonFacts | None:
    """Return what is recorded of the person and of the visits of some conditions.

    Parameters
    ----------
    condition_ids : collection of int
        Row numbers, all of one person.

    Returns
    -------
    PersonFacts or None
        None when none of them is there.
    """
    own = CONDITION.c.id.in_(list(condition_ids))
    visits = VISIT.c.id.in_(select(CONDITION.c.visit_id).where(own))
    return _facts(study, PERSON.c.id.in_(select(VISIT.c.person_id).where(visits)), visits)


def _facts(
    study: Study, whose: ColumnElement[bool], which: ColumnElement[bool]
) -> PersonFacts | None:
    with study.read() as connection:
        found = connection.execute(select(PERSON).where(whose)).mappings().first()
        rows = connection.execute(select(VISIT).where(which)).mappings().all()
    if found is None:
        return None
    person = unfolded("person", found)
    visits = tuple(
        VisitFacts(
            row["id"],
            row["code"],
            {name: row[name] for name in FACTS["visit"]},
            person["affected_side"],
        )
        for row in with_days(unfolded("visit", row) for row in rows)
    )
    own = {name: person[name] for name in FACTS["person"]}
    return PersonFacts(person["id"], person["code"], own, visits)
