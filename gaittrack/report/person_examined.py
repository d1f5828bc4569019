"""What an examination found, in plain words for the page for the person.

In comes what is recorded of a visit, out come sentences: skin that is broken apart from the rest,
the affected leg first. What was found to be fine is not told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from gaittrack.record.registry import leg_name
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.record.wording import value_words
from gaittrack.report.person_words import Words, capital
from gaittrack.vocabulary import SIDES, Side

BROKEN: Final = ("blister", "broken")
FINE: Final = ("0", 0, True, "comfortable", "clear")
"""Values that nothing is said of."""
_BEFORE: Final = "_before"
"""How facts end that are of before walking: said as those after it."""
_SKIN: Final = ("skin_state_before", "skin_state")
_FACTS: Final = (*(*_SKIN, "pain", "mediolateral_stability", "tone", "correctable_to_neutral"),)


def broken_skin(visit: VisitFacts, words: Words) -> list[str]:
    """Return what stands first on every page."""
    return list(dict.fromkeys(_told(visit, words, _SKIN, is_broken=True)))


def examined(visit: VisitFacts, words: Words) -> list[str]:
    """Return what else was found, and what was noted of comfort and skin."""
    found = list(dict.fromkeys(_told(visit, words, _FACTS, is_broken=False)))
    own = visit.facts
    has_skin = any(own[leg_name(side, name)] is not None for side in SIDES for name in _SKIN)
    notes = [own["comfort"], None if has_skin else own["skin"]]
    return found + [words.say("examined.note.any", value=n) for n in notes if n and n not in FINE]


def _told(
    visit: VisitFacts, words: Words, names: tuple[str, ...], *, is_broken: bool
) -> Iterator[str]:
    """Yield a sentence for each fact; one for both legs where they are alike."""
    sides = sorted(SIDES, key=lambda side: side != visit.affected_side)
    for name in names:
        said: dict[str, list[Side]] = {}
        for side in sides:
            text = _sentence(visit.facts, side, name, words)
            if text and (visit.facts[leg_name(side, name)] in BROKEN) == is_broken:
                said.setdefault(text, []).append(side)
        for text, legs in said.items():
            yield f"{capital(words.leg(legs))}: {text}"


def _sentence(facts: Mapping[str, Any], side: Side, name: str, words: Words) -> str:
    value = facts[leg_name(side, name)]
    if value is None or value in FINE:
        return ""
    own = "no" if value is False else value
    texts, plain = words.language.texts, name.removesuffix(_BEFORE)
    key = next((key for end in (own, "any") if (key := f"examined.{plain}.{end}") in texts), "")
    where = name.replace("state", "place")
    place = facts[leg_name(side, where)] if name in _SKIN else ""
    said = {"place": value_words(place, words.language.code), "value": value}
    return words.say(key, **said) if key else ""
