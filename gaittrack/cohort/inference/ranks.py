"""The change of a cohort by ranks: what is left when a few people changed far more than others.

In comes one difference per person, out come the Wilcoxon signed-rank p and the Hodges-Lehmann
estimate with its interval. It stands beside the mean, whose interval a single person can move.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import stats

from gaittrack.cohort.inference.coverage import why_not_shown
from gaittrack.cohort.inference.mixed_model import LEVEL
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

LEAST_PEOPLE_BY_RANKS: Final = 6
"""With fewer no interval of 95 % is there: not even all of one sign has a p below 0.05."""
MOST_PEOPLE_BY_RANKS: Final = 3000
"""Means of every two people are held in memory; of so many the mean is as good."""
_MOST_EXACT: Final = 50
"""People up to whom every sum of ranks is counted; beyond, the normal distribution. Own choice."""


@dataclass(frozen=True, slots=True)
class RankEffect:
    """A change by ranks.

    Attributes
    ----------
    estimate : float
        Median of the means of every two people (Hodges-Lehmann); NaN with a ``reason``, as the
        others are.
    p : float
        That it is 0 (Wilcoxon signed ranks, two-sided; those without a change are left out).
    """

    estimate: float
    low: float
    high: float
    p: float
    n_people: int
    reason: Reason | None = None


def rank_effect(differences: FloatArray) -> RankEffect:
    """Return the change by ranks, with the 95 % interval that fits the test.

    Parameters
    ----------
    differences : ndarray, shape (n_people,)

    Source
    ------
    Hodges & Lehmann 1963, Ann Math Stat 34:598; interval: Hollander & Wolfe 1999, Nonparametric
    Statistical Methods, ch. 3. How often it covers is simulated in ``tests/calibration``.
    """
    n = len(differences)
    reason = _why_no_ranks(differences)
    if reason is not None:
        nothing = math.nan
        return RankEffect(
            estimate=nothing, low=nothing, high=nothing, p=nothing, n_people=n, reason=reason
        )
    means = np.sort((differences[:, np.newaxis] + differences)[np.triu_indices(n)] / 2)
    outside = _n_outside(n)
    return RankEffect(
        estimate=float(np.median(means)),
        low=float(means[outside - 1]),
        high=float(means[-outside]),
        p=float(stats.wilcoxon(differences).pvalue),
        n_people=n,
    )


def _why_no_ranks(differences: FloatArray) -> Reason | None:
    n = len(differences)
    if n < LEAST_PEOPLE_BY_RANKS:
        return Reason("fewer_people", least=LEAST_PEOPLE_BY_RANKS)
    if n > MOST_PEOPLE_BY_RANKS:
        return Reason("more_people", most=MOST_PEOPLE_BY_RANKS)
    if np.ptp(differences) == 0:
        return Reason("values_do_not_differ")
    return why_not_shown("ranks", np.arange(n))


def _n_outside(n: int) -> int:
    """Return how many sums of ranks, from 0 on, have together at most 2.5 %."""
    if n > _MOST_EXACT:
        sd = math.sqrt(n * (n + 1) * (2 * n + 1) / 24)
        return math.floor(n * (n + 1) / 4 - stats.norm.ppf(0.5 + LEVEL / 2) * sd + 0.5)
    ways = np.ones(1)
    for rank in range(1, n + 1):
        nothing = np.zeros(rank)
        ways = np.append(ways, nothing) + np.append(nothing, ways)
    return int((np.cumsum(ways) <= (1 - LEVEL) / 2 * 2.0**n).sum())
