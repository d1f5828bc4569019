"""Both legs in one: a series of each, one after the other, so that all cycles are read at once.

In come the series of a recording that are alike of each leg, out comes one with the labels that
stand beside what is read of it, of all cycles or of those of one leg.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from gaittrack.measures.reading import LabelOfSome, Labels
from gaittrack.measures.recording import Stored
from gaittrack.measures.samples import Series
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import Side, opposite

_Kind = TypeVar("_Kind", bound=np.generic)
Foot = Literal["own", "other"]
"""Of the leg a cycle is of, or of the opposite one."""


class Leg(NamedTuple):
    """A side, and which of the cycles are of it, shape (n_cycles,)."""

    side: Side
    are: BoolArray

    def side_of(self, foot: Foot) -> Side:
        """Return the side of the own or of the other foot."""
        return self.side if foot == "own" else opposite(self.side)


class OfLegs(NamedTuple):
    """One series for all cycles.

    Attributes
    ----------
    stored : tuple of Stored
        Of each leg.
    series : Series
        One after the other; NaN for a leg that has none.
    labels : tuple of Reason or LabelOfSome
        What stands beside its values.
    missing : Reason or None
        Why no leg has one.
    """

    stored: tuple[Stored, ...]
    series: Series
    labels: Labels = ()
    missing: Reason | None = None


def of_legs(legs: Sequence[Leg], stored: tuple[Stored, ...]) -> OfLegs:
    """Return the series of each leg as one."""
    known = [each for each in stored if each.missing is None]
    if not known:
        return OfLegs(stored, Series(np.empty(0), ""), missing=stored[0].missing)
    n_samples = len(known[0].values)
    values = [_whole(each, n_samples) for each in stored]
    n_filled = None
    if any(each.filled is not None for each in known):
        filled = np.concatenate([_filled(each, n_samples) for each in stored])
        n_filled = np.concatenate(([0], np.add.accumulate(filled, dtype=np.intp)))
    series = Series(one_after_the_other(values), known[0].what, n_filled)
    return OfLegs(stored, series, _labels(legs, stored))


def one_after_the_other(values: Sequence[NDArray[_Kind]]) -> NDArray[_Kind]:
    """Return arrays of each leg as one."""
    return values[0] if len(values) == 1 else np.concatenate(values)


def _whole(stored: Stored, n_samples: int) -> FloatArray:
    return stored.values if stored.missing is None else np.full(n_samples, np.nan)


def _filled(stored: Stored, n_samples: int) -> BoolArray:
    return np.zeros(n_samples, dtype=bool) if stored.filled is None else stored.filled


def _labels(legs: Sequence[Leg], stored: Sequence[Stored]) -> Labels:
    told = dict.fromkeys(each.labels for each in stored if each.missing is None)
    if len(told) == 1:
        return next(iter(told))
    pairs = zip(legs, stored, strict=True)
    return tuple(LabelOfSome(label, leg.are) for leg, each in pairs for label in each.labels)
