"""What is recorded of a person and of visits beside the walks, in words.

In come the facts as they are stored, out come tables of words with one column per visit. What is
missing is said to be not recorded; nothing is judged.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from gaittrack.record.legs import known_of_legs, said_as_last_time
from gaittrack.record.registry import FACTS, LEG, Fact, leg_name
from gaittrack.record.wording import fact_label, full_label, said_of
from gaittrack.vocabulary import SIDES

BODY: Final = ("age_years", "age_band", "months_since_onset", "height_cm", "mass_kg")
EXAMINATION: Final = (
    *LEG,
    *("comfort", "skin", "wear", "visit_notes"),
)
"""By plain names: what is of a leg stands for both."""
_UNSEEN: Final = (
    *("mediolateral_stability", "tone", "correctable_to_neutral", "skin_state_before"),
    *("skin_place_before", "skin_state", "skin_place", "pain_before", "pain_place_before"),
    *("pain", "pain_place", "skin", "comfort"),
)
"""What no recording shows, in the order of ``compare.watch.CANNOT_SHOW``."""
_NOTHING_FOUND: Final = ("yes", "stable", "normal", "0", "clear", "comfortable", "none")
"""Examined, and nothing to look at."""
_BROKEN: Final = ("broken", "blister")
_PASSIVE: Final = "passive dorsiflexion"
_SIGN: Final = (
    "Passive dorsiflexion: 0 is the foot at a right angle to the shank, negative is short of it."
)


@dataclass(frozen=True, slots=True)
class VisitFacts:
    """One visit.

    Attributes
    ----------
    facts : mapping of str to value
        Every fact of the registry; None where not recorded.
    affected_side : str or None
        Of the person: that leg is told first.
    """

    id: int
    code: str
    facts: Mapping[str, Any]
    affected_side: str | None = None

    @property
    def is_examined(self) -> bool:
        """Whether anything of an examination is recorded."""
        return any(self.facts[fact.name] is not None for fact in stored_facts(EXAMINATION))


@dataclass(frozen=True, slots=True)
class PersonFacts:
    """One person with visits.

    Attributes
    ----------
    facts : mapping of str to value
        Every fact of the registry; None where not recorded.
    visits : tuple of VisitFacts
        In the order of time.
    """

    id: int
    code: str
    facts: Mapping[str, Any]
    visits: tuple[VisitFacts, ...]


def stored_facts(names: Sequence[str], first: object = None) -> Iterator[Fact]:
    """Yield facts of a visit by plain names: those of a leg twice, the leg named first before."""
    for name in names:
        if name in LEG:
            for side in sorted(SIDES, key=lambda side: side != first):
                yield FACTS["visit"][leg_name(side, name)]
        else:
            yield FACTS["visit"][name]


def person_words(person: PersonFacts) -> list[tuple[str, str]]:
    """Return each fact of the person with its words."""
    lines = FACTS["person"]
    return [(fact_label(lines[n]), said_of(lines[n], v)) for n, v in person.facts.items()]


def examined_words(visits: Sequence[VisitFacts]) -> str:
    """Return what was examined at visits of that which no recording shows; empty for nothing."""
    said = []
    for visit in visits:
        facts = [
            f"{full_label(fact)}: {said_of(fact, visit.facts[fact.name])}"
            for fact in stored_facts(_UNSEEN, visit.affected_side)
            if visit.facts[fact.name] is not None
        ]
        said += [f"Examined at {visit.code}: {'; '.join(facts)}."] if facts else []
    return " ".join(said)


def examined_points(visits: Sequence[VisitFacts]) -> list[str]:
    """Return what was found at visits of that which no recording shows.

    A line for each fact, one for both legs where they are alike; broken skin stands first, then the
    affected leg.
    """
    found = [line for visit in visits for line in _found_at(visit)]
    return [line for _, line in sorted(found, key=lambda each: each[0])]


def examined_names(visit: VisitFacts) -> list[str]:
    """Return the plain names of the facts of :func:`examined_points`, each once."""
    return list(dict.fromkeys(fact.plain for fact, _ in _findings(visit)))


def _findings(visit: VisitFacts) -> Iterator[tuple[Fact, str]]:
    for fact in stored_facts(_UNSEEN, visit.affected_side):
        if visit.facts[fact.name] is not None:
            words = said_of(fact, visit.facts[fact.name])
            if words not in _NOTHING_FOUND:
                yield fact, words


def _found_at(visit: VisitFacts) -> Iterator[tuple[bool, str]]:
    """Yield whether a finding can wait, and its words."""
    alike: dict[tuple[str, str], list[Fact]] = {}
    for fact, words in _findings(visit):
        alike.setdefault((fact.plain, words), []).append(fact)
    for (_, words), (fact, *other_leg) in alike.items():
        label = f"{fact_label(fact)}, both legs" if other_leg else full_label(fact)
        yield visit.facts[fact.name] not in _BROKEN, f"{label}: {words}"


def visit_table(
    visits: Sequence[VisitFacts], names: Sequence[str]
) -> tuple[list[list[str]], list[str]]:
    """Return facts of visits in words, the affected leg first.

    Parameters
    ----------
    names : sequence of str
        Plain names, such as ``EXAMINATION``.

    Returns
    -------
    list of list of str
        Fact and its words at each visit, of facts that are recorded at one of them at least.
    list of str
        What the others are called; of a leg only where it is told of neither.
    """
    told: list[list[str]] = []
    untold: list[str] = []
    for name in names:
        lines = list(stored_facts((name,), visits[0].affected_side if visits else None))
        own = [
            [full_label(fact), *(_said_at(fact, visits, n) for n in range(len(visits)))]
            for fact in lines
            if any(visit.facts[fact.name] is not None for visit in visits)
        ]
        told += own
        untold += [] if own else [fact_label(lines[0])]
    return told, untold


def _said_at(fact: Fact, visits: Sequence[VisitFacts], n: int) -> str:
    """Return a fact at a visit; what was not examined there, and is as before, says so."""
    own = visits[n].facts
    if own[fact.name] is None and fact.plain in said_as_last_time(own):
        known = known_of_legs(visit.facts for visit in visits[: n + 1])
        if fact.name in known:
            return f"{said_of(fact, known[fact.name])} as before, not examined"
    return said_of(fact, own[fact.name])


def notes_below(told: Sequence[Sequence[str]], untold: Sequence[str]) -> list[str]:
    """Return what stands below the rows of :func:`visit_table`: signs, and what is not recorded."""
    signs = [_SIGN] if any(row[0].startswith(_PASSIVE) for row in told) else []
    return [*signs, *([f"Not recorded: {', '.join(untold)}."] if untold else [])]
