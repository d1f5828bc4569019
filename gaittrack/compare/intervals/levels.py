"""Whether a value lies beyond a level in most steps, or was only seen there once.

In come the steps of each walk, out comes a :class:`Beyond`: a sign where most steps of two walks
lie beyond the level, "seen once" where it was one walk only, and whether the
reference shows it too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from gaittrack.trial import FloatArray

LEAST_WALKS: Final = 2
"""Walks whose steps mostly lie beyond, for a sign; own choice."""

LevelFinding = Literal["new", "there_without_too", "seen_once", "some_steps", "none"]


@dataclass(frozen=True, slots=True)
class Beyond:
    """The steps of a condition beyond a level.

    Attributes
    ----------
    n_beyond, n_steps : int
        Over all walks.
    n_walks_seen, n_walks_mostly : int
        Walks with any step beyond, and with more than half of them.
    first : (int, int) or None
        Walk and step, from 0, of the first step beyond.
    """

    n_beyond: int
    n_steps: int
    n_walks_seen: int
    n_walks_mostly: int
    first: tuple[int, int] | None

    @property
    def is_sign(self) -> bool:
        """Whether most steps of two walks or more lie beyond."""
        return self.n_walks_mostly >= LEAST_WALKS


def count_beyond(walks: Sequence[FloatArray], level: float, *, is_above: bool) -> Beyond:
    """Count the steps above, or below, a level.

    Parameters
    ----------
    walks : sequence of ndarray, shape (n_steps,)
        Defined values of each walk, in the order walked.
    """
    seen = [(each > level) if is_above else (each < level) for each in walks]
    n_each = [int(np.count_nonzero(each)) for each in seen]
    places = [(walk, int(np.argmax(each))) for walk, each in enumerate(seen) if each.any()]
    return Beyond(
        n_beyond=sum(n_each),
        n_steps=sum(map(len, seen)),
        n_walks_seen=len(places),
        n_walks_mostly=sum(2 * n > len(each) for n, each in zip(n_each, seen, strict=True)),
        first=places[0] if places else None,
    )


def find_level(own: Beyond, reference: Beyond) -> LevelFinding:
    """Return what the steps beyond a level are worth.

    Returns
    -------
    LevelFinding
        ``new`` only where no step of the reference lies beyond; with any, the level is there
        without the condition too, and both counts are told. ``seen_once``: in one walk only.
    """
    if own.is_sign:
        return "there_without_too" if reference.n_beyond else "new"
    if not own.n_beyond:
        return "none"
    return "seen_once" if own.n_walks_seen == 1 else "some_steps"
