"""Words that stand before or behind all labels of a file: a study's, a trial's, a person's code.

In come labels, out come ways to leave such words away. What is left over has to be read, and to
say nothing else than a whole label that was read, before anybody believes it.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from typing import Final

MOSTLY: Final = 0.8
"""Share of the labels that must have a word in common; our choice."""
FEWEST_LABELS: Final = 4
MOST_WORDS: Final = 2
"""So many words are left away at each end; our choice."""
_BETWEEN: Final = re.compile(r"[\s_.:\-/|]+")


def without_shared_words(labels: Sequence[str]) -> Iterator[Mapping[str, str]]:
    """Yield label → what is left of it, the fewest words left away first."""
    pieces = {label: [piece for piece in _BETWEEN.split(label) if piece] for label in labels}
    before, behind = _shared(pieces, 0), _shared(pieces, -1)
    ways = product(range(before + 1), range(behind + 1))
    for front, back in sorted(ways, key=sum):
        if front + back:
            yield {label: _cut(words, front, back) or label for label, words in pieces.items()}


def _shared(pieces: Mapping[str, Sequence[str]], end: int) -> int:
    """Return how many words most labels have in common at an end."""
    for n in range(MOST_WORDS):
        place = n if end == 0 else -1 - n
        words = Counter(each[place].lower() for each in pieces.values() if len(each) > n + 1)
        most = max(words.values(), default=0)
        if most < max(FEWEST_LABELS, MOSTLY * len(pieces)):
            return n
    return MOST_WORDS


def _cut(words: Sequence[str], front: int, back: int) -> str:
    return "_".join(words[front : len(words) - back])
