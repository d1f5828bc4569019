"""Counted steps of two conditions, such as heel-first steps, with the walk as unit.

In come, walk by walk, how many steps were of the kind and how many were seen; out comes a
:class:`CountComparison`: both shares with intervals, and how often chance alone deals the walks out
as unevenly as this. Steps of one walk are alike, so walks are dealt, never steps.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from math import nan
from typing import Final

import numpy as np

from gaittrack.late import special
from gaittrack.trial import FloatArray

ALPHA: Final = 0.05
MOST_DEALS: Final = 200_000
"""All deals are looked at up to here (10 + 10 walks); beyond, this many are drawn by chance."""
_SEED: Final = 20260105
"""So that the same walks give the same p."""
_EVEN: Final = 1e-9
"""Shares this near are the same: rounding."""

Counts = Sequence[tuple[int, int]]
"""Steps of the kind, and steps seen, of each walk."""


@dataclass(frozen=True, slots=True)
class Share:
    """The share of steps of a kind in one condition.

    Attributes
    ----------
    n_kind, n_steps : int
        Over all walks.
    percent, low, high : float
        Mean of the walks' shares and its 95 % interval, per cent; NaN without a walk, the interval
        also with one.
    """

    n_kind: int
    n_steps: int
    n_walks: int
    percent: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class CountComparison:
    """Two shares against each other.

    Attributes
    ----------
    difference, low, high : float
        Own less reference with its 95 % interval, points.
    p, least_p : float
        Share of deals of the walks that are as uneven as the walks were; and the smallest that so
        many walks could give. NaN without a walk in a condition.
    """

    own: Share
    reference: Share
    difference: float
    low: float
    high: float
    p: float
    least_p: float

    @property
    def can_tell(self) -> bool:
        """Whether so many walks could show a change at all: 4 + 4 can, 3 + 3 cannot."""
        return self.least_p <= ALPHA

    @property
    def is_changed(self) -> bool:
        """Whether the walks by themselves show a change."""
        return self.p <= ALPHA


def compare_counts(own: Counts, reference: Counts) -> CountComparison:
    """Compare the share of steps of a kind in two conditions.

    Parameters
    ----------
    own, reference : sequence of (int, int)
        Steps of the kind and steps seen, walk by walk; walks without a step seen are left out.

    Source
    ------
    Permutation of whole walks: Fisher 1935, The Design of Experiments, section 21. Interval of the
    difference from those of the shares: Newcombe 1998, Stat Med 17:873, method 10.
    """
    first, second = share_of(own), share_of(reference)
    difference = first.percent - second.percent
    fall = math.hypot(first.percent - first.low, second.high - second.percent)
    rise = math.hypot(first.high - first.percent, second.percent - second.low)
    shares = _shares(own), _shares(reference)
    return CountComparison(
        own=first,
        reference=second,
        difference=difference,
        low=difference - fall,
        high=difference + rise,
        p=permutation_p(*shares),
        least_p=_least_p(*map(len, shares)),
    )


def share_of(walks: Counts) -> Share:
    """Return the share of steps of a kind, with an interval over the walks."""
    shares = _shares(walks)
    n_kind, n_steps = (sum(walk[at] for walk in walks) for at in (0, 1))
    if not len(shares):
        return _share(n_kind, n_steps, 0)
    middle = float(shares.mean())
    if len(shares) == 1:
        return _share(n_kind, n_steps, 1, middle)
    low, high = share_bounds(shares, np.asarray(n_steps))
    return _share(n_kind, n_steps, len(shares), middle, float(low), float(high))


def _share(
    n_kind: int,
    n_steps: int,
    n_walks: int,
    middle: float = nan,
    low: float = nan,
    high: float = nan,
) -> Share:
    """Return a share in per cent, from fractions."""
    return Share(
        n_kind=n_kind,
        n_steps=n_steps,
        n_walks=n_walks,
        percent=100 * middle,
        low=100 * low,
        high=100 * high,
    )


def share_bounds(shares: FloatArray, n_steps: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the 95 % interval of a mean share, of one condition or of many at once.

    The walks count as so many independent steps as their scatter allows, but never as fewer than
    one each; where they do not scatter at all, as just one each.

    Parameters
    ----------
    shares : ndarray, shape (n_walks,) or (n_cases, n_walks)
        Of each walk, 0-1.
    n_steps : ndarray, shape () or (n_cases,)
        Steps seen over all walks.

    Source
    ------
    Korn & Graubard 1998, Survey Methodology 24:193, on Clopper & Pearson 1934, Biometrika 26:404.
    """
    n_walks = shares.shape[-1]
    middle = shares.mean(axis=-1)
    error = shares.var(axis=-1, ddof=1) / n_walks
    is_even = error <= _EVEN**2
    adjusted = (special.ndtri(1 - ALPHA / 2) / special.stdtrit(n_walks - 1, 1 - ALPHA / 2)) ** 2
    trials = middle * (1 - middle) / np.where(is_even, 1, error) * adjusted
    trials = np.where(is_even, n_walks, np.clip(trials, n_walks, np.maximum(n_steps, n_walks)))
    kind, other = middle * trials, (1 - middle) * trials
    least = 1e-12  # the beta quantile is not defined at 0
    low = special.betaincinv(np.maximum(kind, least), other + 1, ALPHA / 2)
    high = special.betaincinv(kind + 1, np.maximum(other, least), 1 - ALPHA / 2)
    return np.where(kind <= least, 0.0, low), np.where(other <= least, 1.0, high)


def permutation_p(own: FloatArray, reference: FloatArray) -> float:
    """Return the share of deals whose mean shares differ as much as those of the walks."""
    if not len(own) or not len(reference):
        return math.nan
    pooled = np.concatenate([own, reference])
    deals, is_whole = _deals(len(own), len(pooled))
    gaps = deal_gaps(pooled, deals)
    observed = abs(own.mean() - reference.mean())
    n_as_uneven = int(np.count_nonzero(gaps >= observed - _EVEN))
    if is_whole:
        return n_as_uneven / len(deals)
    return (n_as_uneven + 1) / (len(deals) + 1)


def deal_gaps(pooled: FloatArray, deals: FloatArray) -> FloatArray:
    """Return how far the mean shares of both hands differ, deal by deal.

    Parameters
    ----------
    pooled : ndarray, shape (..., n_walks)
    deals : ndarray, shape (n_deals, n_walks)
        1 for a walk in the first hand, else 0.

    Returns
    -------
    ndarray, shape (..., n_deals)
    """
    n_first = deals[0].sum()
    n_second = deals.shape[1] - n_first
    first = pooled @ deals.T
    second = pooled.sum(axis=-1, keepdims=True) - first
    return np.asarray(np.abs(first / n_first - second / n_second), dtype=np.float64)


def all_deals(n_first: int, n_all: int) -> FloatArray:
    """Return every way to deal walks into two hands, shape (n_deals, n_all)."""
    chosen = np.array(list(itertools.combinations(range(n_all), n_first)))
    deals = np.zeros((len(chosen), n_all))
    np.put_along_axis(deals, chosen, 1.0, axis=1)
    return deals


def _deals(n_first: int, n_all: int) -> tuple[FloatArray, bool]:
    """Return deals of walks, and whether they are all there are."""
    if math.comb(n_all, n_first) <= MOST_DEALS:
        return all_deals(n_first, n_all), True
    places = np.random.default_rng(_SEED).random((MOST_DEALS, n_all)).argsort(axis=1)
    return (places < n_first).astype(float), False


def _shares(walks: Counts) -> FloatArray:
    return np.array([kind / steps for kind, steps in walks if steps], dtype=float)


def _least_p(n_own: int, n_reference: int) -> float:
    if not n_own or not n_reference:
        return math.nan
    return (1 + (n_own == n_reference)) / math.comb(n_own + n_reference, n_own)
