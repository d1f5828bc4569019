"""What is recorded, as the page for the file has it: whom, aims, brace and setting, examination.

In come facts, out come lines of plain words.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from gaittrack.compare.comparison import Comparison
from gaittrack.compare.row_words import said_once
from gaittrack.record.checking import ratings_of
from gaittrack.record.registry import CONDITION, FACTS, LEG, leg_name
from gaittrack.record.visit_facts import (
    BODY,
    EXAMINATION,
    PersonFacts,
    VisitFacts,
    person_words,
    visit_table,
)
from gaittrack.record.wording import NOT_RECORDED, fact_label, full_label, said_of
from gaittrack.report.comparison_tables import NONE_WORN, what_was_worn
from gaittrack.study.people.things import KeptThing
from gaittrack.vocabulary import SIDES

_FAIRNESS_FIELDS: Final = (
    *("orthosis", "orthosis_side", "days_worn", "footwear", "heel_sole_differential_mm"),
    *("walking_aid", "hand_support", "speed_instruction", "markers_replaced"),
    "markers_put_on_again",
)
_SAID_ABOVE: Final = (*("brace", "setting", "order", "orthosis"), *("markers_replaced",))
EVERYDAY: Final = tuple(
    fact.name for fact in CONDITION.values() if fact.kind == "repeats" or fact.unit == "1"
)
_EXAMINED: Final = [fact_label(LEG.get(n) or FACTS["visit"][n]) for n in EXAMINATION]


def who_words(person: PersonFacts | None) -> str:
    """Return whom the page is of, in one line."""
    if person is None:
        return ""
    body, _ = visit_table(person.visits, BODY)
    told = [f"{name}: {words}" for name, words in person_words(person) if words != NOT_RECORDED]
    told += [f"{row[0]}: {' / '.join(dict.fromkeys(row[1:]))}" for row in body]
    return " · ".join(told)


def aim_lines(
    things: Sequence[KeptThing], visits: Sequence[VisitFacts]
) -> list[tuple[str, str, Any]]:
    """Return the aims: what for, level 0 as it was written before, and the level told last."""
    levels: dict[str, int] = {}
    for visit in visits:
        levels |= ratings_of(visit.facts["aim_level"])
    return [
        (
            str(each.facts.get("aim_words") or each.facts["aim_question"]),
            str(each.facts.get("aim_reached") or NOT_RECORDED),
            levels.get(each.place),
        )
        for each in things
        if each.part == "aim"
    ]


def worn_lines(told: Sequence[tuple[str, Comparison]]) -> list[tuple[str, str]]:
    """Return brace, setting, shoe and how it was walked: once where it is the same.

    Parameters
    ----------
    told : sequence of (str, Comparison)
        Each with the visit it is of; empty where there is one.
    """
    found: dict[str, dict[str, str]] = {}
    for visit, comparison in told:
        names = [f"{visit}, {name}".strip(", ") for name in comparison.settings["conditions"]]
        for label, *words in what_was_worn(comparison)[0]:
            found.setdefault(label, {}).update(zip(names, words, strict=True))
    braces = [line for visit, each in told for line in _braces(visit, each)]
    left_out = {full_label(CONDITION[name]) for name in (*_SAID_ABOVE, *EVERYDAY)}
    return [*braces, *((key, _said(own)) for key, own in found.items() if key not in left_out)]


def _said(told: Mapping[str, str]) -> str:
    worn = {name: text for name, text in told.items() if text != NONE_WORN}
    return "; ".join(said_once(worn.items(), len(worn)))


def _braces(visit: str, comparison: Comparison) -> Iterator[tuple[str, str]]:
    """Yield each condition with its brace and setting, in the order they were walked."""
    conditions: dict[str, dict[str, Any]] = comparison.settings["conditions"]
    for name, worn in sorted(conditions.items(), key=lambda each: each[1].get("order") or 99):
        brace = worn["orthosis"] and said_of(CONDITION["orthosis"], worn["orthosis"])
        if worn["brace"] is not None:
            brace = f"{worn['brace']}, setting {worn['setting']}"
        order = "" if worn.get("order") is None else f", walked as number {worn['order']:g}"
        yield f"{visit}, {name}".strip(", "), f"{brace or NOT_RECORDED}{order}"


def examined(visits: Sequence[VisitFacts]) -> tuple[list[str], list[list[str]]]:
    """Return the examination: heads, and a line for each fact that is recorded.

    A fact of a leg has the affected leg first; of a visit it stands in the first of its columns.
    """
    heads, lines = [""], {}
    for visit in visits:
        sides = sorted(SIDES, key=lambda side: side != visit.affected_side)
        heads += [f"{visit.code}, {side}" if len(visits) > 1 else side for side in sides]
    for name in EXAMINATION:
        fact = LEG.get(name) or FACTS["visit"][name]
        cells: list[str] = []
        for visit in visits:
            sides = sorted(SIDES, key=lambda side: side != visit.affected_side)
            keys = [leg_name(side, name) for side in sides] if name in LEG else [name]
            own = [said_of(fact, visit.facts[key]) for key in keys]
            cells += own if name in LEG else [*own, ""]
        if set(cells) - {NOT_RECORDED, ""}:
            told = ["\N{EN DASH}" if text == NOT_RECORDED else text for text in cells]
            lines[fact_label(fact)] = told
    return heads, [[label, *cells] for label, cells in lines.items()]


def unrecorded(comparisons: Sequence[Comparison], visits: Sequence[VisitFacts]) -> list[str]:
    """Return what nobody recorded of that which a reader needs."""
    untold = [name for each in comparisons for name in what_was_worn(each)[1]]
    found = [full_label(CONDITION[name]) for name in untold if name in _FAIRNESS_FIELDS]
    _, unseen = visit_table(visits, (*EXAMINATION, *BODY))
    return list(dict.fromkeys([*found, *(name for name in unseen if name in _EXAMINED)]))
