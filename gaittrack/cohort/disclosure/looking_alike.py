"""Find what has to be withheld so that nobody stands out by what can be known.

In come words by fact and who has them, out comes who is left out, who loses a word, and which bands
are joined. Three rules hold of what is left, with ``least`` people. All of ``CORE`` and ``ANCHORS``
together are shared by so many. Any three words of ``CORE``, ``ANCHORS`` and ``SEEN`` that are shown
of anybody are shown of so many; and whoever knows three true ones finds so many whom they could be.
A value of ``EXAMINED`` is shown of so many. A larger ``least`` begins where a smaller one ended, so
that a release for more readers never shows what one for fewer withholds.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from heapq import heapify, heappop, heappush
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gaittrack.cohort.disclosure.counted_facts import Everybody
from gaittrack.cohort.disclosure.known_facts import (
    ANCHORS,
    CORE,
    EXAMINED,
    SEEN,
    coarser,
    n_steps,
)
from gaittrack.cohort.disclosure.people_bits import Bits, Mask, unpacked
from gaittrack.cohort.disclosure.shared_words import SharedWords, WordMasks
from gaittrack.cohort.disclosure.shown_people import (
    KnownFacts,
    Meant,
    known_facts,
    shown_at,
    with_worn_settings,
)
from gaittrack.cohort.people.leaving import WITHHELD
from gaittrack.record.wording import NOT_RECORDED

MOST_LOST: Final = 0.25
"""Share of people who may lose a word before bands are joined instead; own choice."""


@dataclass(frozen=True, eq=False, slots=True)
class Withheld:
    """What is withheld, of people by their places among everybody.

    Attributes
    ----------
    dropped : Mask, shape (n_people,)
        People left out.
    n_visits : ndarray of int, shape (n_people,)
        Visits that are shown, of those who lose some; else 0.
    step : mapping of fact to int
        How many times bands were joined, two by two.
    hidden : mapping of fact to Mask, shape (n_people,)
        Whose words are withheld.
    """

    dropped: Mask
    n_visits: NDArray[np.int64]
    step: Mapping[str, int] = field(default_factory=dict)
    hidden: Mapping[str, Mask] = field(default_factory=dict)

    def hides(self, name: str) -> Mask:
        """Return whose words of a fact are withheld."""
        return self.hidden.get(name, np.zeros(len(self.dropped), dtype=bool))

    def rows_of(self, everybody: Everybody, meant: Meant) -> Meant:
        """Return the people and visits that are shown of those who are meant."""
        if not self.dropped.any() and not self.n_visits.any():
            return meant
        own = everybody.visits
        most = self.n_visits[own.person]
        is_early = (most == 0) | (own.number <= most)
        kept = shown_at(everybody, meant, meant.visits & is_early & ~self.dropped[own.person])
        return with_worn_settings(everybody, kept, self.n_visits > 0)


def nothing(everybody: Everybody) -> Withheld:
    """Return that nothing is withheld."""
    n = len(everybody.names)
    return Withheld(np.zeros(n, dtype=bool), np.zeros(n, dtype=np.int64))


def withheld_for(
    everybody: Everybody, meant: Meant, steps: Sequence[int], start: Withheld
) -> Withheld:
    """Return what is withheld for the last of some numbers of people, found one after the other.

    Parameters
    ----------
    steps : sequence of int
        Fewest people who must look alike, rising.
    """
    found = start
    for least in steps:
        found = _with_enough_visits(everybody, meant, found, least)
        known = known_facts(everybody, found.rows_of(everybody, meant))
        if known.there.any():
            found = _with_the_seen(known, _with_core(known, found, least), least)
    return found


def _with_enough_visits(
    everybody: Everybody, meant: Meant, start: Withheld, least: int
) -> Withheld:
    """Leave out the last visits, then the people, that too few have beside the same side."""
    found, sides = start, everybody.people[ANCHORS[0]]
    n_sides = len(everybody.words[ANCHORS[0]])
    while True:
        shown = found.rows_of(everybody, meant)
        groups = shown.n_visits(everybody) * n_sides + sides
        sizes = np.bincount(groups[shown.people])
        small = np.flatnonzero((sizes > 0) & (sizes < least))
        if not len(small):
            return found
        most = int(small.max()) // n_sides
        few = shown.people & np.isin(groups, small[small // n_sides == most])
        found = (
            replace(found, n_visits=np.where(few, most - 1, found.n_visits))
            if most > 1
            else replace(found, dropped=found.dropped | few)
        )


def _with_core(known: KnownFacts, start: Withheld, least: int) -> Withheld:
    """Join age bands and withhold words until all of them together are shared by enough."""
    tried = []
    for step in range(start.step.get("age_band", 0), n_steps("age_band")):
        begun = _with(start, "age_band", step=step)
        found = _clustered(known, begun, least)
        lost = np.logical_or.reduce([found[name] & ~begun.hides(name) for name in CORE])
        hidden = {**begun.hidden, **found}
        tried.append((int(lost.sum()), replace(begun, hidden=hidden)))
        if lost.sum() <= MOST_LOST * known.there.sum():
            return tried[-1][1]
    return min(tried, key=lambda each: each[0])[1]


def _clustered(known: KnownFacts, shown: Withheld, least: int) -> dict[str, Mask]:
    """Return whose words are withheld when the smallest groups join those most like them."""
    groups = _Groups(_alike(known, shown), least)
    groups.join_small()
    found = {name: np.zeros(known.n, dtype=bool) for name in CORE}
    for row, people in groups.rows():
        for name, word in zip(CORE, row[len(ANCHORS) :], strict=True):
            if word == WITHHELD:
                found[name][people] = True
    return found


def _alike(known: KnownFacts, shown: Withheld) -> dict[tuple[str, ...], list[int]]:
    """Return the people by what is shown of ``ANCHORS`` and ``CORE``, as texts."""
    told = [_texts(known, shown, name) for name in (*ANCHORS, *CORE)]
    people = np.flatnonzero(known.there)
    codes = np.stack([own[people] for own, _ in told], axis=1)
    rows, inverse = np.unique(codes, axis=0, return_inverse=True)
    ends = np.cumsum(np.bincount(inverse.ravel(), minlength=len(rows)))[:-1]
    parts = np.split(people[np.argsort(inverse.ravel(), kind="stable")], ends)
    return {
        tuple(texts[code] for code, (_, texts) in zip(row, told, strict=True)): own.tolist()
        for row, own in zip(rows.tolist(), parts, strict=True)
    }


def _texts(known: KnownFacts, shown: Withheld, name: str) -> tuple[NDArray[np.int64], list[str]]:
    """Return all words of a fact of each person as one text: its place among the texts."""
    codes, said = np.zeros(known.n, dtype=np.int64), [()]
    for word, mask in _joined(known, name, shown.step.get(name, 0)).items():
        for code in np.unique(codes[mask]).tolist():
            codes[mask & (codes == code)] = len(said)
            said.append((*said[code], word))
    codes[shown.hides(name)] = len(said)
    return codes, [*("; ".join(words) for words in said), WITHHELD]


def _joined(known: KnownFacts, name: str, step: int) -> dict[str, Mask]:
    """Return who has each word, joined as they are shown, in the order of the alphabet."""
    wide = coarser(name, step)
    found: dict[str, Bits] = {}
    for word, bits in known.of[name].items():
        own = wide.get(word, word)
        found[own] = found[own] | bits if own in found else bits
    return {word: unpacked(found[word], known.n) for word in sorted(found)}


class _Groups:
    """People in groups of those who look alike; the small ones are joined with others."""

    def __init__(self, groups: dict[tuple[str, ...], list[int]], least: int) -> None:
        self.least = least
        self.by_anchor: dict[tuple[str, ...], dict[tuple[str, ...], list[int]]] = defaultdict(dict)
        for row, people in groups.items():
            self.by_anchor[row[: len(ANCHORS)]][row] = people
        self.waiting = [(len(people), row) for row, people in groups.items()]
        heapify(self.waiting)

    def rows(self) -> list[tuple[tuple[str, ...], list[int]]]:
        """Return the groups as they are now."""
        return [pair for groups in self.by_anchor.values() for pair in groups.items()]

    def join_small(self) -> None:
        """Join the smallest group until none is too small."""
        while self.waiting and self.waiting[0][0] < self.least:
            size, row = heappop(self.waiting)
            groups = self.by_anchor[row[: len(ANCHORS)]]
            if len(groups.get(row, ())) == size:  # else it has grown, or is gone
                self._join(row, groups)

    def _join(self, key: tuple[str, ...], groups: dict[tuple[str, ...], list[int]]) -> None:
        """Put a small group together with as many as will do of those most like it."""
        own = groups.pop(key)
        alike = min(groups, key=lambda one: (_n_apart(one, key), len(groups[one]), one))
        needed, giving = self.least - len(own), groups.pop(alike)
        if len(giving) - needed >= self.least:
            self._put(groups, alike, giving[needed:])
            giving = giving[:needed]
        same = tuple(a if a == b else WITHHELD for a, b in zip(key, alike, strict=True))
        self._put(groups, same, sorted([*groups.get(same, ()), *own, *giving]))

    def _put(
        self,
        groups: dict[tuple[str, ...], list[int]],
        row: tuple[str, ...],
        people: list[int],
    ) -> None:
        groups[row] = people
        heappush(self.waiting, (len(people), row))


def _n_apart(one: tuple[str, ...], other: tuple[str, ...]) -> int:
    return sum(a != b for a, b in zip(one, other, strict=True))


def _with(start: Withheld, name: str, *, step: int, hidden: Mask | None = None) -> Withheld:
    more = start.hides(name) if hidden is None else start.hides(name) | hidden
    return replace(start, step={**start.step, name: step}, hidden={**start.hidden, name: more})


def _with_the_seen(known: KnownFacts, start: Withheld, least: int) -> Withheld:
    """Let in one fact after the other, each as fine as the ones before it allow."""
    sets, alone, found = SharedWords(known.there), SharedWords(known.there), start
    for name in (*ANCHORS, *CORE):
        sets.let_in(_true_words(known, found, name), found.hides(name))
    for name in SEEN:
        found = _let_in(known, found, name, least, sets)
        sets.let_in(_true_words(known, found, name), found.hides(name))
    for name in EXAMINED:
        found = _let_in(known, found, name, least, alone)
    return found


def _let_in(
    known: KnownFacts, start: Withheld, name: str, least: int, sets: SharedWords
) -> Withheld:
    tried = []
    for step in range(start.step.get(name, 0), n_steps(name)):
        words, hidden = _true_words(known, start, name, step), start.hides(name) & known.there
        wider = sets.hidden(words, hidden, least)
        told = np.logical_or.reduce([~known.there & False, *words.values()])
        lost = int((wider & ~hidden & told).sum())
        tried.append((lost, _with(start, name, step=step, hidden=wider)))
        if lost <= MOST_LOST * max(1, int(told.sum())):
            break
    return min(tried, key=lambda each: each[0])[1]


def _true_words(
    known: KnownFacts, shown: Withheld, name: str, step: int | None = None
) -> WordMasks:
    """Return who has each true word of a fact, joined as they are shown."""
    joined = _joined(known, name, shown.step.get(name, 0) if step is None else step)
    return {word: mask for word, mask in joined.items() if word != NOT_RECORDED}
