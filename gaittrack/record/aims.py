"""What a fitting is for: one of the eight questions, or own words, and how far it is reached.

In come facts by code, out come the same, checked; two aims alike, and one that says nothing, are
refused. How far aims are reached is said at each visit, and held against them here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from gaittrack.errors import FactError, LayoutError
from gaittrack.lab_files import refuse_unknown
from gaittrack.record.checking import check_all, ratings_of
from gaittrack.record.meant_words import folded_word
from gaittrack.record.registry import FACTS

Aims = Mapping[str, Mapping[str, Any]]


@dataclass(frozen=True, slots=True)
class Rated:
    """Which aims were rated at a visit."""

    codes: tuple[str, ...]
    day: str | None
    place: str


def rated_at(facts: Mapping[str, Any], place: str) -> Rated:
    """Return which aims the facts of a visit rate."""
    return Rated(tuple(ratings_of(facts.get("aim_level"))), facts.get("date"), place)


def parse_aims(table: Mapping[str, Any], where: str) -> dict[str, dict[str, Any]]:
    """Return the aims of a conditions file, ``[aims.A1]``, by code.

    Raises
    ------
    LayoutError
        No tables, an unknown key or a value of the wrong kind.
    """
    own = table.get("aims", {})
    if not isinstance(own, Mapping) or not all(isinstance(each, Mapping) for each in own.values()):
        raise LayoutError.of("no_table", where=f"{where} [aims]")
    return {code: checked_aim(facts, f"{where} [aims.{code}]") for code, facts in own.items()}


def checked_aim(facts: Mapping[str, Any], where: str) -> dict[str, Any]:
    """Return the facts of an aim as they are stored."""
    refuse_unknown(facts, FACTS["aim"], where)
    return check_all(FACTS["aim"], facts, where)


def refuse_alike(aims: Aims, where: str) -> None:
    """Refuse two aims alike, and an aim that says nothing.

    Raises
    ------
    FactError
    """
    seen: dict[str, str] = {}
    for code, facts in aims.items():
        place = f"{where}/{code}"
        said = [facts[n] for n in ("aim_question", "aim_words") if str(facts.get(n) or "").strip()]
        if not said:
            raise FactError.about("aim_question", "aim_says_nothing", where=place)
        for each in map(folded_word, said):
            if each in seen:
                name = "aim_question" if "aim_question" in facts else "aim_words"
                raise FactError.about(name, "two_aims_alike", where=place, other=seen[each])
            seen[each] = code


def refuse_misrated(aims: Aims, rated: Iterable[Rated]) -> None:
    """Refuse a level of an aim that there is not, or of a day before it was set.

    Raises
    ------
    FactError
    """
    for visit, code in ((each, code) for each in rated for code in each.codes):
        if code not in aims:
            codes = ", ".join(aims) or "none"
            raise FactError.about(
                "aim_level", "no_such_thing", where=visit.place, value=code, codes=codes
            )
        since = aims[code].get("aim_set_on")
        if since is not None and visit.day is not None and visit.day < since:
            raise FactError.about(
                "aim_level", "rated_before_set", where=visit.place, day=visit.day, other=since
            )
