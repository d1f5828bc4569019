"""Which leg a fact of an examination is of.

In comes what stands under [visit], out come facts by the names under which they are stored:
``[visit.left] tone`` is ``left_tone``. What is written without a leg is of the affected one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from gaittrack.errors import LayoutError
from gaittrack.lab_files import refuse_unknown
from gaittrack.record.closed_lists import LISTS
from gaittrack.record.registry import LEG, Fact, leg_name
from gaittrack.vocabulary import SIDES

AS_LAST_TIME: Final = "as_last_time"
"""Of a visit: the lines that were not examined, and that somebody said are as last time."""
_OF_LEG: Final = {side: tuple(leg_name(side, name) for name in LEG) for side in SIDES}
_OF_ONE_LEG: Final = ("mediolateral_stability",)
"""Where both legs are affected, this was said of the less stable one, whichever that is."""


def with_legs(about_visit: Mapping[str, Any], where: str) -> dict[str, Any]:
    """Return what stands under [visit], with [visit.left] and [visit.right] laid open.

    Raises
    ------
    LayoutError
        One of these holds what is no fact of a leg.
    """
    found = {key: value for key, value in about_visit.items() if key not in SIDES}
    for side in SIDES:
        leg = about_visit.get(side, {})
        if not isinstance(leg, Mapping):
            raise LayoutError.of("no_table", where=f"{where}.{side}")
        refuse_unknown(leg, LEG, f"{where}.{side}")
        found |= {leg_name(side, key): value for key, value in leg.items()}
    return found


def affected_legs(affected_side: object, plain: str) -> tuple[str, ...]:
    """Return the legs that a fact without a leg is of; none where nobody can tell."""
    if affected_side == "both" and plain not in _OF_ONE_LEG:
        return SIDES
    return tuple(side for side in SIDES if side == affected_side)


def onto_legs(facts: Mapping[str, Any], affected_side: object, where: str) -> dict[str, Any]:
    """Return facts with those of a leg under the names of the affected one.

    Raises
    ------
    LayoutError
        Nobody can tell which leg it is.
    """
    found = {name: value for name, value in facts.items() if name not in LEG}
    for name in (each for each in facts if each in LEG):
        legs = affected_legs(affected_side, name)
        if not legs:
            raise LayoutError.of("which_leg", where=where, name=name)
        found = {leg_name(side, name): facts[name] for side in legs} | found
    return found


def said_as_last_time(facts: Mapping[str, Any]) -> frozenset[str]:
    """Return the lines of the legs that a visit left as they were, by their plain names."""
    return frozenset((facts.get(AS_LAST_TIME) or "").split(", ")) & LEG.keys()


def known_of_legs(visits: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Return what holds of the legs after visits, by stored names.

    Parameters
    ----------
    visits : iterable of mapping
        What is recorded of each, in the order of time; what was neither examined nor said to be as
        last time holds no more.
    """
    known: dict[str, Any] = {}
    for facts in visits:
        kept = [leg_name(side, name) for name in said_as_last_time(facts) for side in SIDES]
        own = {name: facts.get(name) for side in SIDES for name in _OF_LEG[side]}
        known = {name: known[name] for name in kept if name in known} | {
            name: value for name, value in own.items() if value is not None
        }
    return known


def weaker_on_other_leg(facts: Mapping[str, Any], affected_side: object) -> list[Fact]:
    """Return the strengths, by their lines, that are less on the leg that is not affected."""
    if affected_side not in SIDES:
        return []
    (other,) = [side for side in SIDES if side != affected_side]
    found = []
    for fact in (each for each in LEG.values() if each.list == "grade"):
        grades = [facts.get(leg_name(str(side), fact.name)) for side in (affected_side, other)]
        known = [int(grade) for grade in grades if grade in LISTS["grade"]]
        if len(known) == len(SIDES) and known[1] < known[0]:
            found.append(fact)
    return found
