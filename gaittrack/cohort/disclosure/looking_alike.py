"""Find what has to be withheld so that nobody stands out by what can be known.

In come words by fact and person, out comes who is left out, who loses a word, and which bands are
joined. Three rules hold of what is left, with ``least`` people. All of ``CORE`` and ``ANCHORS``
together are shared by so many. Any three words of ``CORE``, ``ANCHORS`` and ``SEEN`` that are shown
of anybody are shown of so many; and whoever knows three true ones finds so many whom they could be.
A value of ``EXAMINED`` is shown of so many. A larger ``least`` begins where a smaller one ended, so
that a release for more readers never shows what one for fewer withholds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gaittrack.cohort.disclosure.known_facts import (
    ANCHORS,
    CORE,
    EXAMINED,
    SEEN,
    KnownFacts,
    WordsByPerson,
    coarser,
    known_facts,
    n_steps,
)
from gaittrack.cohort.people.leaving import WITHHELD
from gaittrack.cohort.people.source import CohortSource
from gaittrack.cohort.tables.selection import kept_visits
from gaittrack.cohort.tables.table import people_table
from gaittrack.record.braces import Brace, Braces
from gaittrack.record.wording import NOT_RECORDED

MOST_LOST: Final = 0.25
"""Share of people who may lose a word before bands are joined instead; own choice."""
TOGETHER: Final = 3
"""Words an outsider is taken to know."""

Bits = NDArray[np.uint64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Withheld:
    """What is withheld.

    Attributes
    ----------
    dropped : frozenset of str
        People left out.
    n_visits : mapping of person to int
        Visits that are shown, of those who lose some.
    step : mapping of fact to int
        How many times bands were joined, two by two.
    hidden : mapping of fact to people
        Whose words are withheld.
    """

    dropped: frozenset[str] = frozenset()
    n_visits: Mapping[str, int] = field(default_factory=dict)
    step: Mapping[str, int] = field(default_factory=dict)
    hidden: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def words(self, known: KnownFacts, name: str) -> WordsByPerson:
        """Return the words of a fact as they are shown: joined or withheld."""
        wide, hidden = coarser(name, self.step.get(name, 0)), self.hidden.get(name, frozenset())
        shown = frozenset({WITHHELD})
        return WordsByPerson(
            (person, shown if person in hidden else frozenset(wide.get(w, w) for w in words))
            for person, words in known.of[name].items()
        )

    def rows_of(self, source: CohortSource) -> CohortSource:
        """Return the people and visits of a closed source that are shown."""
        if not self.dropped and not self.n_visits:
            return source
        visits = source.visits
        is_shown = [
            person not in self.dropped and int(number) <= self.n_visits.get(person, int(number))
            for person, number in zip(visits["person"], visits["visit"], strict=True)
        ]
        shown = visits[pd.Series(is_shown, visits.index, dtype=bool)]
        kept = kept_visits(source, shown.reset_index(drop=True))
        return replace(kept, braces=braces_worn(kept, set(self.n_visits)))


def braces_worn(source: CohortSource, whose: Set[str]) -> dict[str, Braces]:
    """Return the braces and settings, of some people those only that are worn at their visits."""
    used = {
        (person, worn.brace, worn.setting) for (person, _, _), worn in source.conditions.items()
    }
    return {
        person: own
        if person not in whose
        else {
            code: Brace(brace.facts, settings)
            for code, brace in own.items()
            if (settings := {n: f for n, f in brace.settings.items() if (person, code, n) in used})
        }
        for person, own in source.braces.items()
    }


NOTHING: Final = Withheld()


def withheld_for(source: CohortSource, steps: Sequence[int], start: Withheld = NOTHING) -> Withheld:
    """Return what is withheld for the last of some numbers of people, found one after the other.

    Parameters
    ----------
    source : CohortSource
        Closed; people by names that stay the same from release to release.
    steps : sequence of int
        Fewest people who must look alike, rising.
    """
    found = start
    for least in steps:
        found = _with_enough_visits(source, found, least)
        known = known_facts(found.rows_of(source))
        if known.people:
            found = _with_the_seen(known, _with_core(known, found, least), least)
    return found


def _with_enough_visits(source: CohortSource, start: Withheld, least: int) -> Withheld:
    """Leave out the last visits, then the people, that too few have beside the same side."""
    found = start
    while True:
        shown = people_table(found.rows_of(source))
        sizes: dict[tuple[int, str], list[str]] = {}
        for person, side, number in zip(*(shown[n] for n in ("export_id", *ANCHORS)), strict=True):
            sizes.setdefault((int(number), side), []).append(person)
        small = [key for key, people in sizes.items() if len(people) < least]
        if not small:
            return found
        most, _ = max(small)
        few = [person for key in small if key[0] == most for person in sizes[key]]
        cut = dict.fromkeys(few, most - 1)
        found = (
            replace(found, n_visits={**found.n_visits, **cut})
            if most > 1
            else replace(found, dropped=found.dropped | set(few))
        )


def _with_core(known: KnownFacts, start: Withheld, least: int) -> Withheld:
    """Join age bands and withhold words until all of them together are shared by enough."""
    tried = []
    for step in range(start.step.get("age_band", 0), n_steps("age_band")):
        begun = _with(start, "age_band", step=step)
        found = _clustered(known, begun, least)
        lost = set().union(*(found[name] - begun.hidden.get(name, frozenset()) for name in CORE))
        hidden = {**begun.hidden, **found}
        tried.append((len(lost), replace(begun, hidden=hidden)))
        if len(lost) <= MOST_LOST * len(known.people):
            return tried[-1][1]
    return min(tried, key=lambda each: each[0])[1]


def _clustered(known: KnownFacts, shown: Withheld, least: int) -> dict[str, frozenset[str]]:
    """Return whose words are withheld when the smallest groups join those most like them."""
    words = {name: shown.words(known, name) for name in (*ANCHORS, *CORE)}
    groups: dict[tuple[str, ...], list[str]] = {}
    for person in known.people:
        row = tuple("; ".join(sorted(words[name][person])) for name in (*ANCHORS, *CORE))
        groups.setdefault(row, []).append(person)
    while small := [key for key, people in groups.items() if len(people) < least]:
        _join(min(small, key=lambda one: (len(groups[one]), one)), groups, least)
    return {
        name: frozenset(p for row, own in groups.items() if row[place] == WITHHELD for p in own)
        for place, name in enumerate(CORE, len(ANCHORS))
    }


def _join(key: tuple[str, ...], groups: dict[tuple[str, ...], list[str]], least: int) -> None:
    """Put a small group together with as many as will do of those most like it."""
    n_anchors, own = len(ANCHORS), groups.pop(key)
    others = [one for one in groups if one[:n_anchors] == key[:n_anchors]]
    alike = min(others, key=lambda one: (_n_apart(one, key), len(groups[one]), one))
    needed, giving = least - len(own), groups.pop(alike)
    if len(giving) - needed >= least:
        groups[alike], giving = giving[needed:], giving[:needed]
    same = tuple(a if a == b else WITHHELD for a, b in zip(key, alike, strict=True))
    groups[same] = sorted([*groups.get(same, ()), *own, *giving])


def _n_apart(one: tuple[str, ...], other: tuple[str, ...]) -> int:
    return sum(a != b for a, b in zip(one, other, strict=True))


def _with(start: Withheld, name: str, *, step: int, hidden: Sequence[str] = ()) -> Withheld:
    more = start.hidden.get(name, frozenset()) | frozenset(hidden)
    return replace(start, step={**start.step, name: step}, hidden={**start.hidden, name: more})


def _with_the_seen(known: KnownFacts, start: Withheld, least: int) -> Withheld:
    """Let in one fact after the other, each as fine as the ones before it allow."""
    sets, alone, found = _Sets(len(known.people)), _Sets(len(known.people)), start
    for name in (*ANCHORS, *CORE):
        sets.let_in(*_true_words(known, found, name))
    for name in SEEN:
        found = _let_in(known, found, name, least, sets)
        sets.let_in(*_true_words(known, found, name))
    for name in EXAMINED:
        found = _let_in(known, found, name, least, alone)
    return found


def _let_in(known: KnownFacts, start: Withheld, name: str, least: int, sets: _Sets) -> Withheld:
    tried = []
    for step in range(start.step.get(name, 0), n_steps(name)):
        begun = _with(start, name, step=step)
        words, hidden = _true_words(known, begun, name)
        wider = sets.hidden(words, hidden, least)
        told = np.array([bool(own) for own in words])
        lost = int((wider & ~hidden & told).sum())
        named = [person for person, is_hidden in zip(known.people, wider, strict=True) if is_hidden]
        tried.append((lost, _with(start, name, step=step, hidden=named)))
        if lost <= MOST_LOST * max(1, int(told.sum())):
            break
    return min(tried, key=lambda each: each[0])[1]


def _true_words(known: KnownFacts, shown: Withheld, name: str) -> tuple[list[frozenset[str]], Mask]:
    """Return the true words of each person, joined as they are shown, and whose are withheld."""
    wide, hidden = coarser(name, shown.step.get(name, 0)), shown.hidden.get(name, frozenset())
    own = known.of[name]
    words = [frozenset(wide.get(w, w) for w in own[p]) - {NOT_RECORDED} for p in known.people]
    return words, np.array([person in hidden for person in known.people], dtype=bool)


def _packed(masks: Mask) -> Bits:
    """Return rows of yes and no as bits, 64 people a number."""
    n = masks.shape[-1]
    wide = np.zeros((*masks.shape[:-1], -(-n // 64) * 64), dtype=bool)
    wide[..., :n] = masks
    return np.packbits(wide, axis=-1).view(np.uint64)


def _counted(bits: Bits) -> NDArray[np.int64]:
    counts: NDArray[np.int64] = np.bitwise_count(bits).sum(axis=-1, dtype=np.int64)
    return counts


class _Sets:
    """Who shares up to two words of those let in so far: as shown, as it could be, as it is."""

    def __init__(self, n: int) -> None:
        every = _packed(np.ones((1, n), dtype=bool))
        self.n = n
        self.sizes = [0]
        self.shown, self.possible, self.true = every, every, every

    def let_in(self, words: Sequence[frozenset[str]], hidden: Mask) -> None:
        """Add the words of a fact, and what they make with each word before them."""
        for size, own in _items(words):
            kept = [place for place, other in enumerate(self.sizes) if other + size < TOGETHER]
            shown, possible, true = _three(own, words, hidden)
            new = [self.true[kept] & true, self.shown[kept] & shown, self.possible[kept] & possible]
            real = _counted(new[0]) > 0
            self.sizes += [self.sizes[p] + size for p, r in zip(kept, real, strict=True) if r]
            self.true = np.concatenate([self.true, new[0][real]])
            self.shown = np.concatenate([self.shown, new[1][real]])
            self.possible = np.concatenate([self.possible, new[2][real]])

    def hidden(self, words: Sequence[frozenset[str]], hidden: Mask, least: int) -> Mask:
        """Return whose words of a further fact must be withheld."""
        found, items = hidden.copy(), _items(words)
        order = _rarest_first(words)
        while True:
            more = np.zeros(self.n, dtype=bool)
            for size, own in items:
                more |= self._too_few_shown(size, own, words, found, least)
            if not more.any():
                for size, own in items:
                    more |= self._too_few_possible(size, own, words, found | more, least, order)
            if not (more & ~found).any():
                return found
            found |= more

    def _kept(self, size: int) -> list[int]:
        return [place for place, other in enumerate(self.sizes) if other + size <= TOGETHER]

    def _too_few_shown(
        self, size: int, own: Mask, words: Sequence[frozenset[str]], hidden: Mask, least: int
    ) -> Mask:
        shared = self.shown[self._kept(size)] & _three(own, words, hidden)[0]
        counts = _counted(shared)
        few = shared[(counts > 0) & (counts < least)]
        return self._people(np.bitwise_or.reduce(few, axis=0)) if len(few) else ~hidden & False

    def _too_few_possible(
        self,
        size: int,
        own: Mask,
        words: Sequence[frozenset[str]],
        hidden: Mask,
        least: int,
        order: NDArray[np.int64],
    ) -> Mask:
        kept = self._kept(size)
        _, possible, true = _three(own, words, hidden)
        counts = _counted(self.possible[kept] & possible)
        short = (counts < least) & (_counted(self.true[kept] & true) > 0)
        could, more = self._people(possible), np.zeros(self.n, dtype=bool)
        places = np.array(kept)[short]
        # Those who share most first: whoever stands in for them there does so in wider sets too.
        for place in places[np.argsort(_counted(self.possible[places]), kind="stable")]:
            around = self._people(self.possible[place])
            needed = least - int((around & (could | more)).sum())
            spare = order[(around & ~could & ~more)[order]]
            more[spare[: max(0, needed)]] = True
        return more

    def _people(self, bits: Bits) -> Mask:
        return np.unpackbits(bits.view(np.uint8))[: self.n].astype(bool)


def _items(words: Sequence[frozenset[str]]) -> list[tuple[int, Mask]]:
    """Return who has each word, and each two or three that somebody has at several visits."""
    every = sorted(set().union(*words))
    own: dict[tuple[str, ...], Mask] = {
        (w,): np.array([w in each for each in words], dtype=bool) for w in every
    }
    for _ in range(TOGETHER - 1):
        longer = {
            (*key, w): mask & own[(w,)]
            for key, mask in own.items()
            for w in every
            if w > key[-1] and (mask & own[(w,)]).any()
        }
        own |= longer
    return [(len(key), mask) for key, mask in own.items()]


def _three(own: Mask, words: Sequence[frozenset[str]], hidden: Mask) -> tuple[Bits, Bits, Bits]:
    """Return who shows some words, who could have them, and who has them."""
    unknown = np.array([not each for each in words])
    return _packed(own & ~hidden), _packed(own | hidden | unknown), _packed(own)


def _rarest_first(words: Sequence[frozenset[str]]) -> NDArray[np.int64]:
    counts = Counter(word for own in words for word in own)
    rank = [min((counts[word] for word in own), default=len(words)) for own in words]
    return np.argsort(rank, kind="stable")
