"""What of each person stands in an export and can be known from elsewhere.

In comes a closed :class:`CohortSource`, out come words by fact and person: every value that any
visit, brace or condition gives. Measured results, as walks, tests and scales, are not among them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any, Final

from gaittrack.cohort.people.leaving import (
    AGE_STARTS,
    BANDED_IN_EXPORTS,
    BANDS,
    OF_CONDITION,
    OF_LEG,
    OF_VISIT,
    band_of,
)
from gaittrack.cohort.people.source import CohortSource
from gaittrack.cohort.tables.table import people_table
from gaittrack.record.published_errors import OUTCOMES
from gaittrack.record.registry import band_words, ladder_of, leg_name
from gaittrack.record.wording import NOT_RECORDED
from gaittrack.vocabulary import SIDES

CORE: Final = ("sex", "cause", "age_band", "brace_classes")
"""Known to whoever met a person: told apart by all of them together."""
ANCHORS: Final = ("affected_side", "n_visits")
"""Likewise, but no table can do without: rows are left out in their place."""
_COUNTED: Final = {
    name: fact
    for facts in (OF_CONDITION, OF_VISIT)
    for name, fact in facts.items()
    if fact.counts and name not in ("orthosis_class", "age_band")
}
SEEN: Final = tuple(_COUNTED)
"""What others can see or ask: told apart by any three of all that is known."""
EXAMINED: Final = tuple(
    name
    for facts in (OF_VISIT, OF_LEG, OF_CONDITION)
    for name, fact in facts.items()
    if not fact.counts
    and (fact.step or fact.kind not in ("number", "repeats", "ratings"))
    and name not in (*OUTCOMES, "orthosis", "order", "kind")
)
"""What is found by examining and asking: rare values are counted one by one."""
_STARTS: Final[Mapping[str, tuple[float, ...]]] = {
    "age_band": AGE_STARTS,
    **{name: fact.bands for facts in (BANDS, BANDED_IN_EXPORTS) for name, fact in facts.items()},
}

_NO_WORD: Final[frozenset[str]] = frozenset()


class WordsByPerson(dict[str, frozenset[str]]):
    """By person; of what is not recorded there is no word, and nothing is held."""

    def __missing__(self, person: str) -> frozenset[str]:
        """Return no word."""
        return _NO_WORD


@dataclass(frozen=True, slots=True)
class KnownFacts:
    """Words of every fact.

    Attributes
    ----------
    people : tuple of str
        In the order of their names, so that a study gives the same answer whatever the ids.
    """

    people: tuple[str, ...]
    of: Mapping[str, WordsByPerson]


def known_facts(source: CohortSource) -> KnownFacts:
    """Return what can be known of the people of a closed source."""
    people = people_table(source).to_dict("records")
    found = {name: WordsByPerson() for name in (*CORE, *ANCHORS, *SEEN, *EXAMINED)}
    same: dict[frozenset[str], frozenset[str]] = {}
    told = (
        (str(row["export_id"]), name, str(row[name]))
        for row in people
        for name in (*CORE, *ANCHORS)
    )
    seen = ((person, name, word_of_value(name, value)) for person, name, value in _values(source))
    for person, name, word in chain(told, seen):
        if word and name in found and word not in found[name][person]:
            words = found[name][person] | {word}
            found[name][person] = same.setdefault(words, words)
    return KnownFacts(tuple(sorted(str(row["export_id"]) for row in people)), found)


def _values(source: CohortSource) -> Iterator[tuple[str, str, Any]]:
    """Yield person, fact and value of all that is recorded."""
    legs = [(leg_name(side, name), name) for side in SIDES for name in OF_LEG]
    names = [*((name, name) for name in OF_VISIT), *legs]
    for row in source.visits.to_dict("records"):
        for stored, name in names:
            yield str(row["person"]), name, row.get(stored)
    for (person, _, _), worn in source.conditions.items():
        for name, value in worn.facts.items():
            yield person, name, value
    for person, braces in source.braces.items():
        for brace in braces.values():
            for facts in (brace.facts, *brace.settings.values()):
                for name, value in facts.items():
                    yield person, name, value


def word_of_value(name: str, value: Any) -> str:
    """Return the word that an export shows of a value; empty where nothing is recorded."""
    if value is None or value != value or value == NOT_RECORDED:
        return ""
    if name in BANDED_IN_EXPORTS and not isinstance(value, str):
        return band_of(value, BANDED_IN_EXPORTS[name].bands)
    return str(value)


def coarser(name: str, step: int) -> dict[str, str]:
    """Return what the bands of a fact are called when every ``2**step`` of them are one.

    Returns
    -------
    dict of word to word
        Empty for the finest bands, and for what has no bands.
    """
    starts = _STARTS.get(name, ())
    ladder = ladder_of(starts) if starts else ()
    if not 0 < step < len(ladder):
        return {}
    wide = band_words(ladder[step])
    return {word: wide[place >> step] for place, word in enumerate(band_words(starts))}


def n_steps(name: str) -> int:
    """Return how many ladders of bands a fact has; 1 for what has none."""
    return len(ladder_of(_STARTS[name])) if name in _STARTS else 1


def columns_that_say(name: str) -> Sequence[str]:
    """Return the columns from which a fact can be read."""
    return ("brace_classes", "orthosis_class") if name == "brace_classes" else (name,)
