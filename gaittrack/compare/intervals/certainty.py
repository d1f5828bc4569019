"""How sure a difference is: what walking and re-placed markers can do, in one interval.

In come the walk values of two conditions and the :class:`Placement` of their markers, out come the
interval of the walks alone, the whole interval and the p-value that belongs to the whole one. Half
of the whole interval is sqrt(H² + P²): H from the walks, P from the markers.

H, chosen by calibration (``tests/calibration``), is Welch's, with

- two or three walks against not many more: degrees of freedom drawn towards n1 + n2 - 2;
- three or more, unequal counts: the quantile drawn towards Cochran's by half of 1 - fewer / more;
- two against four or more: Cochran's;
- beyond 95 %, where families of questions are judged: drawn towards the t of the smaller count.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from gaittrack.compare.measurement_error.placement import Placement, half_widths_of
from gaittrack.late import special
from gaittrack.trial import FloatArray

ALPHA: Final = 0.05
"""One in twenty; common practice."""
_POOLED_SHARE: Final = {(2, 2): 0.5, (2, 3): 0.15, (3, 3): 0.5, (3, 4): 0.25, (3, 5): 0.15}
"""By fewer and more walks: how far the degrees of freedom are drawn to the pooled ones."""
_COCHRAN_SHARE: Final = 0.5
"""Of Cochran's quantile, per unit of imbalance 1 - fewer / more."""
_TAIL_SHARE: Final = (0.1, 0.5)
"""Of the t quantile of the smaller count: at equal counts, and more per unit of imbalance."""
_TAIL_ALPHA: Final = ALPHA / 8
"""That share is reached here and kept beyond; at ``ALPHA`` there is none of it."""
_SMALLEST_P: Final = 1e-12
_HALVINGS: Final = (16, 8, 4, 2, 1)
_ROUNDS: Final = 7
"""Levels are cut into 32 parts, found by halving, and the part again, so many times."""

Case = tuple[FloatArray, FloatArray, Placement]
"""Walk values of a condition and of the reference, and the placement of the markers."""


@dataclass(frozen=True, slots=True)
class Certainty:
    """Both intervals of one difference; all NaN where there are too few walks.

    Attributes
    ----------
    walks_half, whole_half : float
        Half-width of the walks alone, and with the markers.
    p : float
        Smallest level whose whole interval leaves out 0.
    """

    difference: float
    walks_half: float
    whole_half: float
    p: float

    @property
    def walks(self) -> tuple[float, float]:
        """Bounds of the walks alone."""
        return self.difference - self.walks_half, self.difference + self.walks_half

    @property
    def whole(self) -> tuple[float, float]:
        """Bounds with the markers."""
        return self.difference - self.whole_half, self.difference + self.whole_half


def certainty(
    walk_values: ArrayLike, reference_values: ArrayLike, placement: Placement
) -> Certainty:
    """Return how sure mean(walk_values) - mean(reference_values) is.

    Parameters
    ----------
    walk_values, reference_values : array_like, shape (n_walks,)
        One value per walk, all finite.

    Returns
    -------
    Certainty
        Without intervals below two walks in a condition, and where no walk differs from another.

    Source
    ------
    Welch 1938, Biometrika 29:350; Cochran 1964, Biometrics 20:191; the t of the smaller count:
    Mickey & Brown 1966, Ann Math Stat 37:639. The sum of squared half-widths: Howe 1974, J Am Stat
    Assoc 69:789. How they are mixed is from this package's own calibration.
    """
    values = np.asarray(walk_values, dtype=float)
    reference = np.asarray(reference_values, dtype=float)
    return certainties([(values, reference, placement)])[0]


def certainties(cases: Sequence[Case]) -> list[Certainty]:
    """Return :func:`certainty` of each case; those of equal counts of walks are found at once."""
    found: dict[int, Certainty] = {}
    alike: dict[tuple[int, int], list[int]] = {}
    for place, (values, reference, _) in enumerate(cases):
        alike.setdefault((len(values), len(reference)), []).append(place)
    for places in alike.values():
        found |= zip(places, _of_equal_counts([cases[place] for place in places]), strict=True)
    return [found[place] for place in range(len(cases))]


def _of_equal_counts(cases: Sequence[Case]) -> Iterable[Certainty]:
    values = np.stack([values for values, _, _ in cases])
    reference = np.stack([reference for _, reference, _ in cases])
    fewer = min(values.shape[-1], reference.shape[-1])
    if fewer == 0:
        return [_nothing_known(math.nan)] * len(cases)
    differences = (values.mean(axis=-1) - reference.mean(axis=-1)).tolist()
    if fewer == 1:
        return map(_nothing_known, differences)
    apart = half_widths_of([placement for _, _, placement in cases])
    walks = walks_half_width(values, reference)
    whole = np.hypot(walks, apart(ALPHA))
    levels = _smallest_levels(values, reference, apart)
    numbers = zip(differences, walks.tolist(), whole.tolist(), levels.tolist(), strict=True)
    return [
        Certainty(difference=difference, walks_half=half, whole_half=both, p=p)
        if half != 0
        else _nothing_known(difference)
        for difference, half, both, p in numbers
    ]


def _nothing_known(difference: float) -> Certainty:
    nan = math.nan
    return Certainty(difference=difference, walks_half=nan, whole_half=nan, p=nan)


def walks_half_width(
    values: FloatArray, reference: FloatArray, alpha: float | FloatArray = ALPHA
) -> FloatArray:
    """Return the half-width of the walks alone, of one case or of many at once.

    Parameters
    ----------
    values : ndarray, shape (n_walks,) or (n_cases, n_walks)
    reference : ndarray, shape (n_reference_walks,) or (n_cases, n_reference_walks)
    alpha : float or ndarray, shape (n_cases,)
        1 - confidence.

    Returns
    -------
    float or ndarray, shape (n_cases,)
        0 where no walk differs from another.
    """
    own = values.var(axis=-1, ddof=1) / values.shape[-1]
    other = reference.var(axis=-1, ddof=1) / reference.shape[-1]
    quantile = _quantile_of(own, other, (values.shape[-1], reference.shape[-1]))
    return np.asarray(quantile(alpha) * np.sqrt(own + other), dtype=np.float64)


def half_width(
    values: FloatArray, reference: FloatArray, placement: Placement, alpha: float = ALPHA
) -> FloatArray:
    """Return the half-width of the whole interval; shapes as in :func:`walks_half_width`."""
    walks = walks_half_width(values, reference, alpha)
    return np.asarray(np.hypot(walks, placement.half_width(alpha)), dtype=np.float64)


def p_value(values: FloatArray, reference: FloatArray, placement: Placement) -> FloatArray:
    """Return the smallest level at which the whole interval leaves out 0.

    Parameters
    ----------
    values, reference : ndarray
        Shapes as in :func:`walks_half_width`.

    Returns
    -------
    float or ndarray, shape (n_cases,)
        At least 1e-12.
    """
    return _smallest_levels(values, reference, placement.half_width)


def _smallest_levels(
    values: FloatArray, reference: FloatArray, apart: Callable[[Any], FloatArray]
) -> FloatArray:
    own = values.var(axis=-1, ddof=1) / values.shape[-1]
    other = reference.var(axis=-1, ddof=1) / reference.shape[-1]
    size = np.abs(values.mean(axis=-1) - reference.mean(axis=-1))
    quantile = _quantile_of(own, other, (values.shape[-1], reference.shape[-1]))
    error, step = np.sqrt(own + other), -math.log(_SMALLEST_P)
    low = np.full(np.shape(size), -step)
    for _ in range(_ROUNDS):
        step = step / (2 * _HALVINGS[0])
        place = np.zeros(np.shape(size))
        for half in _HALVINGS:
            alpha = np.exp(low + step * (place + half))
            is_in = size <= np.hypot(quantile(alpha) * error, apart(alpha))
            place = place + half * is_in
        low = low + step * place
    return np.asarray(np.exp(low + step), dtype=np.float64)


def _quantile_of(
    own: FloatArray, other: FloatArray, counts: tuple[int, int]
) -> Callable[[float | FloatArray], Any]:
    """Return what gives the quantile of a difference over its standard error at an alpha."""
    fewer, more = sorted(counts)
    total = own + other
    total = total + (total == 0)  # so that nothing is divided by 0
    shares = own / total, other / total
    parts = sum(share * share / (n - 1) for share, n in zip(shares, counts, strict=True))
    degrees = 1 / np.where(parts == 0, 1, parts)
    pooled = _POOLED_SHARE.get((fewer, more), 0.0)
    of_welch = (1 - pooled) * degrees + pooled * (fewer + more - 2)
    imbalance = 1 - fewer / more
    share = _COCHRAN_SHARE * imbalance if fewer > 2 else float(more > 3)
    of_tail = _TAIL_SHARE[0] + _TAIL_SHARE[1] * imbalance

    def quantile(alpha: float | FloatArray) -> Any:
        tail = 1 - np.asarray(alpha) / 2
        found = special.stdtrit(of_welch, tail)
        smaller = special.stdtrit(fewer - 1, tail)
        if share:
            each = [special.stdtrit(n - 1, tail) for n in counts]
            found = (1 - share) * found + share * (shares[0] * each[0] + shares[1] * each[1])
        how_far = np.log(ALPHA / np.asarray(alpha)) / math.log(ALPHA / _TAIL_ALPHA)
        drawn = np.minimum(np.maximum(how_far, 0), 1) * of_tail
        return found + drawn * (smaller - found)

    return quantile
