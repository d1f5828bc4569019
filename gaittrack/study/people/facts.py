"""What is recorded of a person and of visits beside the walks: cause, body, examination.

In come row numbers, out come the facts as they are stored, and tables of words with one column per
visit. What is missing is said to be not recorded; nothing is judged.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import ColumnElement, select

from gaittrack.compare.condition import NOT_RECORDED, field_words, value_words
from gaittrack.study.people.description import PERSON_FACTS
from gaittrack.study.people.visit_days import with_days
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, PERSON, VISIT

BODY: Final = ("age_years", "age_band", "months_since_onset", "height_cm", "mass_kg")
EXAMINATION: Final = (
    *("quadriceps_strength", "dorsiflexor_strength", "tone", "clonus"),
    *("passive_dorsiflexion_knee_straight_deg", "passive_dorsiflexion_knee_bent_deg"),
    *("correctable_to_neutral", "mediolateral_stability", "comfort", "skin", "wear"),
)
_UNSEEN: Final = ("mediolateral_stability", "tone", "correctable_to_neutral", "skin", "comfort")
"""What no recording shows, in the order of ``compare.watch.CANNOT_SHOW``."""
_NOTHING_FOUND: Final = (True, "stable", "normal", "not raised", "clear", "comfortable", "none")
"""Examined, and nothing to look at."""
_PASSIVE: Final = "passive dorsiflexion"
_SIGN: Final = (
    "Passive dorsiflexion: 0 is the foot at a right angle to the shank, negative is short of it."
)
_WORDS: Final = {
    "number": "number of the visit",
    "kind": "kind of visit",
    "age_band": "age band (years)",
    "months_since_onset": "time since onset (months)",
    "quadriceps_strength": "strength of the quadriceps",
    "dorsiflexor_strength": "strength of the dorsiflexors",
    "tone": "muscle tone",
    "passive_dorsiflexion_knee_straight_deg": f"{_PASSIVE}, knee straight (deg)",
    "passive_dorsiflexion_knee_bent_deg": f"{_PASSIVE}, knee bent (deg)",
    "correctable_to_neutral": "foot correctable to neutral",
    "mediolateral_stability": "mediolateral stability of the ankle under load",
    "comfort": "comfort of the brace",
    "skin": "skin under the brace",
    "wear": "wear of the brace",
}


@dataclass(frozen=True, slots=True)
class VisitFacts:
    """One visit.

    Attributes
    ----------
    facts : mapping of str to value
        Every column of the table ``visit`` that describes it; None where not recorded.
    """

    id: int
    code: str
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class PersonFacts:
    """One person with visits.

    Attributes
    ----------
    facts : mapping of str to value
        ``description.PERSON_FACTS``; None where not recorded.
    visits : tuple of VisitFacts
        In the order of time.
    """

    id: int
    code: str
    facts: Mapping[str, Any]
    visits: tuple[VisitFacts, ...]


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
        person = connection.execute(select(PERSON).where(whose)).mappings().first()
        rows = [dict(row) for row in connection.execute(select(VISIT).where(which)).mappings()]
    if person is None:
        return None
    visits = tuple(
        VisitFacts(
            row["id"],
            row["code"],
            {name: row[name] for name in row if name not in ("id", "person_id", "code")},
        )
        for row in with_days(rows)
    )
    own = {name: person[name] for name in PERSON_FACTS}
    return PersonFacts(person["id"], person["code"], own, visits)


def fact_words(name: str) -> str:
    """Return what a fact of a person, a visit or a condition is called, its unit in brackets.

    Examples
    --------
    >>> fact_words("tone")
    'muscle tone'
    >>> fact_words("height_cm")
    'height (cm)'
    """
    return _WORDS.get(name) or field_words(name)


def person_words(person: PersonFacts) -> list[tuple[str, str]]:
    """Return each fact of the person with its words."""
    return [(fact_words(name), value_words(value)) for name, value in person.facts.items()]


def examined_words(visits: Sequence[VisitFacts]) -> str:
    """Return what was examined at visits of that which no recording shows; empty for nothing."""
    said = []
    for visit in visits:
        facts = {name: visit.facts[name] for name in _UNSEEN if visit.facts[name] is not None}
        words = "; ".join(f"{fact_words(name)}: {value_words(facts[name])}" for name in facts)
        said += [f"Examined at {visit.code}: {words}."] if facts else []
    return " ".join(said)


def examined_points(visits: Sequence[VisitFacts]) -> list[str]:
    """Return what was found at visits of that which no recording shows, a line for each fact."""
    return [
        f"{fact_words(name)}: {value_words(visit.facts[name])}"
        for visit in visits
        for name in _UNSEEN
        if visit.facts[name] is not None and visit.facts[name] not in _NOTHING_FOUND
    ]


def visit_table(
    visits: Sequence[VisitFacts], names: Sequence[str]
) -> tuple[list[list[str]], list[str]]:
    """Return facts of visits in words.

    Parameters
    ----------
    names : sequence of str
        Columns, such as ``EXAMINATION``.

    Returns
    -------
    list of list of str
        Fact and its words at each visit, of facts that are recorded at one of them at least.
    list of str
        What the others are called.
    """
    rows = [[fact_words(n), *(value_words(visit.facts[n]) for visit in visits)] for n in names]
    told = [row for row in rows if set(row[1:]) - {NOT_RECORDED}]
    return told, [row[0] for row in rows if row not in told]


def notes_below(told: Sequence[Sequence[str]], untold: Sequence[str]) -> list[str]:
    """Return what stands below the rows of :func:`visit_table`: signs, and what is not recorded."""
    signs = [_SIGN] if any(row[0].startswith(_PASSIVE) for row in told) else []
    return [*signs, *([f"Not recorded: {', '.join(untold)}."] if untold else [])]
