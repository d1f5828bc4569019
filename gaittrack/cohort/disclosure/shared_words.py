"""Who shares up to three words with whom, fact after fact, however many people there are.

In come masks of who has each word of a fact and whose words are withheld, out comes whose have to
be. Held are the people of each word alone, as bits; those of two are put together when they are
asked for, some at a time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gaittrack.cohort.disclosure.people_bits import (
    Bits,
    Mask,
    counted_bits,
    mask_of,
    packed,
    unpacked,
)

TOGETHER: Final = 3
"""Words an outsider is taken to know."""
_AT_ONCE: Final = 1 << 19
"""Numbers that are looked at at once, 4 MB; own choice."""

WordMasks = Mapping[str, Mask]
"""Who has each word of a fact, in the order of the alphabet."""


class _Item(NamedTuple):
    """A word, or two or three of one fact that somebody has at several visits.

    Attributes
    ----------
    size : int
        How many words.
    own : Mask
        Who has them.
    """

    size: int
    own: Mask


class _Three(NamedTuple):
    """Who shows some words, who could have them, and who has them."""

    shown: Bits
    possible: Bits
    true: Bits


class SharedWords:
    """Who shares up to two words of those let in so far: as shown, as it could be, as it is."""

    def __init__(self, there: Mask) -> None:
        """Begin with no word, which all who are there share."""
        self.there = there
        every = packed(there[np.newaxis])
        self._items = _Three(every, every, every)
        self._sets = np.zeros((1, 2), dtype=np.int64)  # items that make each; 0 where there is none
        self._sizes = np.zeros(1, dtype=np.int64)

    def let_in(self, words: WordMasks, hidden: Mask) -> None:
        """Add the words of a fact, and what they make with each word before them."""
        for size, own in _items(words, self.there):
            three = _three(own, words, hidden, self.there)
            kept = np.flatnonzero(self._sizes + size < TOGETHER)
            real = self._counts(kept, three, "true") > 0
            new = len(self._items.true)
            self._items = _Three(
                *(np.vstack([held, one]) for held, one in zip(self._items, three, strict=True))
            )
            sets = self._sets[kept[real]]
            sets[np.arange(len(sets)), self._sizes[kept[real]]] = new
            self._sets = np.concatenate([self._sets, sets])
            self._sizes = np.concatenate([self._sizes, self._sizes[kept[real]] + size])

    def hidden(self, words: WordMasks, hidden: Mask, least: int) -> Mask:
        """Return whose words of a further fact must be withheld."""
        found, items = hidden.copy(), _items(words, self.there)
        order = _rarest_first(words, self.there)
        while True:
            more = np.zeros(len(found), dtype=bool)
            for item in items:
                more |= self._too_few_shown(item, words, found, least)
            if not more.any():
                for item in items:
                    more |= self._too_few_possible(item, words, found | more, least, order)
            if not (more & ~found).any():
                return found
            found |= more

    def _kept(self, size: int) -> NDArray[np.int64]:
        return np.flatnonzero(self._sizes + size <= TOGETHER)

    def _shared(
        self, places: NDArray[np.int64], three: _Three, way: str
    ) -> Iterator[tuple[NDArray[np.int64], Bits]]:
        """Yield who shares the words of some sets and further ones, some sets at a time."""
        held, own = getattr(self._items, way), getattr(three, way)
        step = max(1, _AT_ONCE // len(own))
        for start in range(0, len(places), step):
            some = places[start : start + step]
            first, second = self._sets[some].T
            yield some, held[first] & held[second] & own

    def _counts(self, places: NDArray[np.int64], three: _Three, way: str) -> NDArray[np.int64]:
        found = [counted_bits(bits) for _, bits in self._shared(places, three, way)]
        return np.concatenate([np.zeros(0, dtype=np.int64), *found])

    def _too_few_shown(self, item: _Item, words: WordMasks, hidden: Mask, least: int) -> Mask:
        three = _three(item.own, words, hidden, self.there)
        found = np.zeros_like(three.shown)
        for _, bits in self._shared(self._kept(item.size), three, "shown"):
            counts = counted_bits(bits)
            few = bits[(counts > 0) & (counts < least)]
            found |= np.bitwise_or.reduce(few, axis=0) if len(few) else np.uint64(0)
        return unpacked(found, len(hidden))

    def _too_few_possible(
        self,
        item: _Item,
        words: WordMasks,
        hidden: Mask,
        least: int,
        order: NDArray[np.int64],
    ) -> Mask:
        kept, n = self._kept(item.size), len(hidden)
        three = _three(item.own, words, hidden, self.there)
        short = self._counts(kept, three, "possible") < least
        places = kept[short][self._counts(kept[short], three, "true") > 0]
        covered, more = three.possible.copy(), np.zeros(n, dtype=bool)
        every = three._replace(possible=np.full_like(three.possible, ~np.uint64(0)))
        # Those who share most first: whoever stands in for them there does so in wider sets too.
        sizes = self._counts(places, every, "possible")
        for _, rows in self._shared(places[np.argsort(sizes, kind="stable")], every, "possible"):
            while (row := _first_short(rows, covered, least)) is not None:
                needed = least - int(counted_bits(rows[row] & covered))
                spare = order[unpacked(rows[row] & ~covered, n)[order]][:needed]
                more[spare] = True
                covered |= packed(mask_of(spare, n))
                rows = rows[row + 1 :]
        return more


def _first_short(rows: Bits, covered: Bits, least: int) -> int | None:
    """Return the first row with too few people who are covered, where there are others to add."""
    is_short = counted_bits(rows & covered) < least
    found = np.flatnonzero(is_short & (rows & ~covered).any(axis=-1))
    return int(found[0]) if len(found) else None


def _items(words: WordMasks, there: Mask) -> list[_Item]:
    """Return who has each word, and each two or three that somebody has at several visits."""
    found = [_Item(1, own) for own in words.values()]
    masks = list(words.values())
    n_words = np.sum(masks, axis=0, dtype=np.int64) if masks else np.zeros(len(there), np.int64)
    several = np.flatnonzero(n_words > 1)
    own: dict[int, list[int]] = {place: [] for place in several.tolist()}
    for number, mask in enumerate(masks):
        for place in several[mask[several]].tolist():
            own[place].append(number)
    alike = {tuple(numbers) for numbers in own.values()}
    for size in range(2, TOGETHER + 1):
        keys = {key for numbers in alike for key in combinations(numbers, size)}
        for key in sorted(keys):
            found.append(_Item(size, np.logical_and.reduce([masks[number] for number in key])))
    return found


def _three(own: Mask, words: WordMasks, hidden: Mask, there: Mask) -> _Three:
    """Return who shows some words, who could have them, and who has them."""
    unknown = there & ~np.logical_or.reduce([~there & False, *words.values()])
    could = own | (hidden & there) | unknown
    return _Three(packed(own & ~hidden), packed(could), packed(own))


def _rarest_first(words: WordMasks, there: Mask) -> NDArray[np.int64]:
    """Return those who are there, whoever has the rarest word first."""
    rank = np.full(len(there), int(there.sum()), dtype=np.int64)
    for own in words.values():
        rank[own] = np.minimum(rank[own], int(own.sum()))
    order = np.argsort(rank, kind="stable")
    return order[there[order]]
