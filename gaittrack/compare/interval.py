"""How sure a difference is: 95 % intervals with the walk as the unit of inference.

In come the values of the walks of two conditions, out comes an :class:`Interval`, or none with the
reason. Which kind is used for which counts was chosen by calibration (``calibration.py``; the table
of its large run is kept with the tests):

- two against two or three walks: Welch's standard error, degrees of freedom drawn from Welch's
  towards n1 + n2 - 2 (half of the way, or 15 %; Welch alone covers up to 98 %);
- two against four or more: none shown, no kind covers 93-97 % there;
- three or more each: Welch when the counts are equal; when they are not, its quantile is drawn
  towards Cochran's by half of 1 - n_smaller / n_larger (three quarters with several comparisons).

Several conditions against one reference share the error by Sidak's level; the family then covers
at least 93 %, up to 98.7 % (conservative). One long walk per condition is cut into blocks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

LEVEL: Final = 0.95
"""Confidence of every interval; common practice."""
N_BLOCKS: Final = 5
"""Blocks a single long walk is cut into; from calibration: with more, stride-to-stride correlation
of 0.5 drags coverage below 93 %."""
LEAST_STRIDES_PER_BLOCK: Final = 10
"""From calibration with first-order correlation up to 0.5."""
_BLOCKS: Final = "blocks_of_strides"
_POOLED_SHARE: Final[dict[int, float]] = {2: 0.5, 3: 0.15}
"""With two walks in one condition: walks of the other, and how far the degrees of freedom are drawn
to the pooled ones; from calibration."""
_PAIR_BLEND: Final = 0.5
_FAMILY_BLEND: Final = 0.75
"""Share of Cochran's quantile per unit of imbalance; from calibration."""


@dataclass(frozen=True, slots=True)
class Interval:
    """Where the difference lies, or why no interval is shown.

    Attributes
    ----------
    low, high : float
        Bounds in the unit of the values; NaN when none is shown.
    kind : Reason or None
        Method; None when none is shown.
    reason : Reason or None
        Why none is shown; None for an interval.
    level : float
        Joint confidence over all comparisons with the reference.
    """

    low: float
    high: float
    kind: Reason | None
    reason: Reason | None = None
    level: float = LEVEL

    @property
    def is_shown(self) -> bool:
        """Whether there are bounds."""
        return self.reason is None

    @property
    def is_within_walk(self) -> bool:
        """Whether it says nothing of how another walk would have gone."""
        return self.kind is not None and self.kind.code == _BLOCKS

    @property
    def excludes_zero(self) -> bool:
        """Whether both bounds lie on one side of 0; False without bounds."""
        return self.is_shown and (self.low > 0 or self.high < 0)


def no_interval(reason: Reason) -> Interval:
    """Return "no interval" with its reason."""
    return Interval(float("nan"), float("nan"), None, reason)


def reason_for_none(n_walks: int, n_reference: int) -> Reason | None:
    """Return why two counts of walks get no interval; None when they get one."""
    fewer, more = sorted((n_walks, n_reference))
    if fewer == 0:
        return Reason("no_walk_with_value")
    if fewer == 1:
        return Reason("only_one_walk")
    if fewer == 2 and more > 3:
        return Reason("two_walks_against_many", n_more=more)
    return None


def difference_interval(
    walk_values: ArrayLike, reference_values: ArrayLike, *, n_comparisons: int = 1
) -> Interval:
    """Return the interval of mean(walk_values) - mean(reference_values).

    Parameters
    ----------
    walk_values, reference_values : array_like, shape (n_walks,)
        One value per walk, all finite.
    n_comparisons : int
        Number of conditions compared with this reference at once.

    Returns
    -------
    Interval
        Without bounds when a count is too small or no walk differs from another.

    Source
    ------
    Welch 1938, Biometrika 29:350; Cochran 1964, Biometrics 20:191; Sidak 1967, J Am Stat Assoc
    62:626. The choice among them, and the blend, are from this package's own calibration.
    """
    values = np.asarray(walk_values, dtype=float)
    reference = np.asarray(reference_values, dtype=float)
    if reason := reason_for_none(len(values), len(reference)):
        return no_interval(reason)
    difference = mean_of(values) - mean_of(reference)
    half = float(half_width(values, reference, n_comparisons=n_comparisons))
    if half == 0:
        return no_interval(Reason("walks_do_not_differ"))
    return Interval(difference - half, difference + half, _kind(values, reference, n_comparisons))


def mean_interval(walk_values: ArrayLike) -> Interval:
    """Return the interval of the mean of walk values.

    Parameters
    ----------
    walk_values : array_like, shape (n_walks,)
        One value per walk, all finite.

    Returns
    -------
    Interval
        Without bounds for fewer than two walks, or when none differs from another.

    Source
    ------
    Student 1908, Biometrika 6:1.
    """
    values = np.asarray(walk_values, dtype=float)
    if len(values) < 2:
        return no_interval(Reason("mean_needs_two_walks"))
    error = float(np.sqrt(_variance(values))) / len(values) ** 0.5
    if error == 0:
        return no_interval(Reason("walks_of_mean_do_not_differ"))
    half = float(special.stdtrit(len(values) - 1, (1 + LEVEL) / 2)) * error
    middle = mean_of(values)
    return Interval(middle - half, middle + half, Reason("t_of_walks"))


def half_width(values: FloatArray, reference: FloatArray, *, n_comparisons: int = 1) -> FloatArray:
    """Return the half-width of an interval, or of many at once.

    Parameters
    ----------
    values : ndarray, shape (n_walks,) or (n_cases, n_walks)
    reference : ndarray, shape (n_reference_walks,) or (n_cases, n_reference_walks)

    Returns
    -------
    float or ndarray, shape (n_cases,)
        0 where no walk differs from another.
    """
    n_values, n_reference = values.shape[-1], reference.shape[-1]
    own = _variance(values) / n_values
    other = _variance(reference) / n_reference
    total = own + other
    is_none = total == 0  # counts as 1 below, so that nothing is divided by 0
    own_share, other_share = own / (total + is_none), other / (total + is_none)
    parts = own_share * own_share / (n_values - 1) + other_share * other_share / (n_reference - 1)
    welch_df = 1 / (parts + is_none)
    tail = 1 - (1 - LEVEL ** (1 / n_comparisons)) / 2
    if min(n_values, n_reference) == 2:
        share = _POOLED_SHARE.get(max(n_values, n_reference), 0.0)
        degrees = (1 - share) * welch_df + share * (n_values + n_reference - 2)
        quantile = special.stdtrit(degrees, tail)
    else:
        share = _cochran_share(n_values, n_reference, n_comparisons)
        cochran = own * special.stdtrit(n_values - 1, tail)
        cochran = (cochran + other * special.stdtrit(n_reference - 1, tail)) / (total + is_none)
        quantile = (1 - share) * special.stdtrit(welch_df, tail) + share * cochran
    half: FloatArray = quantile * np.sqrt(total)
    return half


def mean_of(values: FloatArray) -> float:
    """Return ``values.mean()``, to the last digit, in a third of the time for few values."""
    return float(np.add.reduce(values) / len(values))


def _variance(values: FloatArray) -> Any:
    """Return ``values.var(axis=-1, ddof=1)``, to the last digit, in half the time."""
    n_values = values.shape[-1]
    off = values - np.add.reduce(values, axis=-1, keepdims=True) / n_values
    return np.add.reduce(off * off, axis=-1) / (n_values - 1)


def _cochran_share(n_values: int, n_reference: int, n_comparisons: int) -> float:
    fewer, more = sorted((n_values, n_reference))
    return (_PAIR_BLEND if n_comparisons == 1 else _FAMILY_BLEND) * (1 - fewer / more)


def _kind(values: FloatArray, reference: FloatArray, n_comparisons: int) -> Reason:
    counts = (len(values), len(reference))
    if min(counts) == 2:
        kind = Reason("welch_two_walks")
    else:
        kind = Reason("welch" if counts[0] == counts[1] else "welch_cochran")
    if n_comparisons == 1:
        return kind
    return Reason("simultaneous", kind=kind, n_comparisons=n_comparisons)


def within_walk_interval(
    strides: ArrayLike,
    reference_strides: ArrayLike,
    *,
    n_comparisons: int = 1,
    summary: Literal["mean", "median"] = "mean",
) -> Interval:
    """Return the interval of the difference of two single long walks, from blocks of strides.

    Parameters
    ----------
    strides, reference_strides : array_like, shape (n_strides,)
        In the order walked. Each is cut into ``N_BLOCKS`` consecutive blocks of at least
        ``LEAST_STRIDES_PER_BLOCK``, whose means stand in for walks.
    summary : {"mean", "median"}
        How a walk, and so a block, is summarised.

    Returns
    -------
    Interval
        ``is_within_walk``: it says nothing of how another walk would have gone.

    Source
    ------
    Batch means: Schmeiser 1982, Oper Res 30:556; number of blocks from this package's calibration.
    """
    least = N_BLOCKS * LEAST_STRIDES_PER_BLOCK
    both = [np.asarray(each, dtype=float) for each in (strides, reference_strides)]
    if min(len(each) for each in both) < least:
        return no_interval(Reason("too_few_strides_for_blocks", least=least))
    blocks, reference_blocks = (block_values(each[None, :], summary=summary) for each in both)
    half = half_width(blocks, reference_blocks, n_comparisons=n_comparisons).item()
    if half == 0:
        return no_interval(Reason("strides_do_not_differ"))
    average = np.median if summary == "median" else np.mean
    middle = float(average(both[0]) - average(both[1]))
    kind = Reason(_BLOCKS, n_blocks=N_BLOCKS)
    return Interval(middle - half, middle + half, kind)


def block_values(strides: FloatArray, *, summary: Literal["mean", "median"] = "mean") -> FloatArray:
    """Return the mean or median of each of ``N_BLOCKS`` consecutive blocks.

    Parameters
    ----------
    strides : ndarray, shape (n_cases, n_strides)

    Returns
    -------
    ndarray, shape (n_cases, N_BLOCKS)
    """
    average = np.median if summary == "median" else np.mean
    edges = np.linspace(0, strides.shape[1], N_BLOCKS + 1).round().astype(int)
    values = [average(strides[:, a:b], axis=1) for a, b in zip(edges[:-1], edges[1:], strict=True)]
    return np.stack(values, axis=1)
