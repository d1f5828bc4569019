"""Whole angle curves: the mean with its band, and where along the cycle two conditions differ.

In come the mean curves of walks (the walk is the unit here too), out come a mean with a
simultaneous 95 % band, and the stretches of the cycle where two conditions differ.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from gaittrack.compare.intervals.root import root_between
from gaittrack.late import special
from gaittrack.notebook_view import Shown
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray, frozen_array

LEVEL: Final = 0.95
LEAST_WALKS_FOR_BAND: Final = 4
"""From calibration: with three walks the band covers up to 99.9 % and is tens of errors wide."""
LEAST_WALKS_TO_LOCATE: Final = 4
"""4 + 4 walks have 70 splits: smallest two-sided p 2/70 = 0.029."""
MOST_SPLITS: Final = 5000
"""Up to this many splits of the walks are all tried; beyond, this many are drawn at random."""
_SEED: Final = 20251
NOT_COMPARABLE: Final = "curves_not_comparable"


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class Band(Shown):
    """A mean curve with its simultaneous band.

    Attributes
    ----------
    mean, low, high : ndarray, shape (n_points,)
        Degrees over 0–100 % of the cycle; ``low`` and ``high`` are NaN when there is no band.
    reason : Reason or None
        Why there is no band.
    """

    mean: FloatArray
    low: FloatArray
    high: FloatArray
    n_walks: int
    reason: Reason | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Location:
    """Where along the cycle two conditions differ.

    Attributes
    ----------
    stretches : tuple of (float, float)
        Starts and ends in per cent of the cycle, ends included.
    p_value : float
        Of the largest difference anywhere along the cycle; NaN with too few walks.
    threshold : float
        Value of |t| that random splits exceed anywhere in at most 5 % of cases.
    finding : Reason
        Where, or why nowhere.
    """

    stretches: tuple[tuple[float, float], ...]
    p_value: float
    threshold: float
    finding: Reason

    @property
    def is_comparable(self) -> bool:
        """Whether the two curves may be held against each other at all."""
        return self.finding.code != NOT_COMPARABLE


def mean_band(walk_curves: FloatArray) -> Band:
    """Return the mean of walk curves with a band that holds along the whole cycle at once.

    Parameters
    ----------
    walk_curves : ndarray, shape (n_walks, n_points)
        Mean curve of each walk, degrees, no NaN.

    Returns
    -------
    Band
        No band below ``LEAST_WALKS_FOR_BAND`` walks.

    Source
    ------
    Idea of a simultaneous band: Lenhoff 1999, doi:10.1016/S0966-6362(98)00043-5. Critical value:
    random-field theory of smooth t curves (Worsley 1994, Adv Appl Probab 26:13; as for gait in
    Pataky 2016, doi:10.7717/peerj.2652).
    """
    n_walks, n_points = walk_curves.shape
    mean = walk_curves.mean(axis=0)
    if n_walks < LEAST_WALKS_FOR_BAND:
        empty = frozen_array(np.full(n_points, math.nan))
        reason = Reason("no_band", n_walks=n_walks, least=LEAST_WALKS_FOR_BAND)
        return Band(frozen_array(mean), empty, empty, n_walks, reason)
    residuals = walk_curves - mean
    critical = critical_t(n_walks - 1, roughness(residuals))
    half = critical * walk_curves.std(axis=0, ddof=1) / math.sqrt(n_walks)
    return Band(frozen_array(mean), frozen_array(mean - half), frozen_array(mean + half), n_walks)


def roughness(residuals: FloatArray) -> float:
    """Return how many independent stretches a curve has (resolution elements).

    Parameters
    ----------
    residuals : ndarray, shape (n_walks, n_points)
        Curves less their mean.

    Returns
    -------
    float
        Curve length over the width of its smoothness; 0 when the residuals move in parallel.
    """
    size = np.sqrt((residuals**2).sum(axis=0))
    moves = size > 1e-9 * max(size.max(), 1e-300)
    unit = residuals[:, moves] / size[moves]
    # Steps of the curves once scatter is made equal everywhere: a change of scatter along the
    # cycle is no roughness.
    steps = np.sqrt((np.diff(unit, axis=1) ** 2).sum(axis=0))
    return float(steps.sum() / math.sqrt(4 * math.log(2)))


def critical_t(degrees: int, n_elements: float, *, level: float = LEVEL) -> float:
    """Return the |t| that a smooth random curve exceeds anywhere with probability 1 - level.

    Parameters
    ----------
    degrees : int
        Degrees of freedom.
    n_elements : float
        Resolution elements, from :func:`roughness`.
    """
    allowed = -math.log(1 - (1 - level) / 2)
    slope = n_elements * math.sqrt(4 * math.log(2)) / (2 * math.pi)

    def excess(u: float) -> float:
        crossing = slope * (1 + u * u / degrees) ** (-(degrees - 1) / 2)
        return float(special.stdtr(degrees, -u) + crossing - allowed)

    return root_between(excess, 1.0, 1e6)


def locate_difference(curves: FloatArray, reference: FloatArray) -> Location:
    """Find where along the cycle two conditions differ, by permuting walks.

    Parameters
    ----------
    curves, reference : ndarray, shape (n_walks, n_points)
        Mean curve of each walk, degrees, no NaN.

    Returns
    -------
    Location
        The error over the whole cycle is kept at 5 % by the largest |t| of each split. The test
        takes walks as exchangeable: with unequal counts and unequal scatter it is approximate.

    Source
    ------
    Nichols & Holmes 2002, Hum Brain Mapp 15:1 (maximum statistic).
    """
    if min(len(curves), len(reference)) < LEAST_WALKS_TO_LOCATE:
        return Location((), math.nan, math.nan, Reason("too_few_walks_to_locate"))
    both = np.vstack([curves, reference])
    as_walked = np.repeat([1.0, 0.0], [len(curves), len(reference)])[None, :]
    observed = np.abs(split_t(both, as_walked)[0])
    largest = np.abs(split_t(both, splits(len(curves), len(reference)))).max(axis=1)
    threshold = float(np.quantile(largest, LEVEL, method="higher"))
    p_value = float(np.mean(largest >= observed.max() * (1 - 1e-9)))
    found = stretches_beyond(observed > threshold)
    return Location(found, p_value, threshold, _finding(found))


def _finding(stretches: tuple[tuple[float, float], ...]) -> Reason:
    if not stretches:
        return Reason("no_difference_located")
    said = (Reason("stretch", start_percent=start, end_percent=end) for start, end in stretches)
    return Reason("differ_at", stretches=tuple(said))


@lru_cache(maxsize=8)
def splits(n_first: int, n_second: int) -> FloatArray:
    """Return ways to split walks in two: all of them if few, else random ones and the real one.

    Parameters
    ----------
    n_first, n_second : int
        Sizes of the two groups.

    Returns
    -------
    ndarray, shape (n_splits, n_first + n_second)
        1 for the first group, 0 for the second; the first row is the real split.
    """
    total = n_first + n_second
    if math.comb(total, n_first) <= MOST_SPLITS:
        chosen = [list(group) for group in itertools.combinations(range(total), n_first)]
    else:
        rng = np.random.default_rng(_SEED)
        drawn = [rng.permutation(total)[:n_first].tolist() for _ in range(MOST_SPLITS - 1)]
        chosen = [list(range(n_first)), *drawn]
    member = np.zeros((len(chosen), total))
    for row, group in enumerate(chosen):
        member[row, group] = 1
    member.setflags(write=False)  # whoever asks next gets the same
    return member


def split_t(both: FloatArray, member: FloatArray) -> FloatArray:
    """Return Student's two-sample t along the curves for each split.

    Parameters
    ----------
    both : ndarray, shape (n_walks, n_points)
    member : ndarray, shape (n_splits, n_walks)
        1 for the first group, 0 for the second.

    Returns
    -------
    ndarray, shape (n_splits, n_points)
        0 where no walk differs from another.
    """
    centred = both - both.mean(axis=0)
    n_first = member.sum(axis=1)[:, None]
    n_second = member.shape[1] - n_first
    first = member @ centred / n_first
    second = (1 - member) @ centred / n_second
    left = (centred**2).sum(axis=0) - n_first * first**2 - n_second * second**2
    variance = np.maximum(left, 0) / (member.shape[1] - 2) * (1 / n_first + 1 / n_second)
    error = np.sqrt(variance)
    values: FloatArray = np.zeros(error.shape)
    np.divide(first - second, error, out=values, where=error > 1e-12)
    return values


def stretches_beyond(is_beyond: BoolArray) -> tuple[tuple[float, float], ...]:
    """Return the stretches where something holds: starts and ends in per cent, ends included."""
    per_point = 100 / (len(is_beyond) - 1)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_beyond.astype(int), [0]])))
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return tuple((float(start * per_point), float((end - 1) * per_point)) for start, end in pairs)
