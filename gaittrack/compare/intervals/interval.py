"""95 % intervals of means, and of two single long walks, with the reasons where there is none.

In come walk values or strides, out comes an :class:`Interval`. How sure the difference of two
conditions is: ``certainty.py``; this room's blocks of strides stand in for walks where one long
walk is all there is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike

from gaittrack.compare.intervals.certainty import walks_half_width
from gaittrack.late import special
from gaittrack.quick_numpy import mean_of
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
    """

    low: float
    high: float
    kind: Reason | None
    reason: Reason | None = None

    @property
    def is_shown(self) -> bool:
        """Whether there are bounds."""
        return self.reason is None

    @property
    def is_within_walk(self) -> bool:
        """Whether it says nothing of how another walk would have gone."""
        return self.kind is not None and self.kind.code == _BLOCKS


def no_interval(reason: Reason) -> Interval:
    """Return "no interval" with its reason."""
    return Interval(float("nan"), float("nan"), None, reason)


def reason_for_none(n_walks: int, n_reference: int) -> Reason | None:
    """Return why two counts of walks get no interval; None when they get one."""
    fewer = min(n_walks, n_reference)
    if fewer == 0:
        return Reason("no_walk_with_value")
    if fewer == 1:
        return Reason("only_one_walk")
    return None


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


def _variance(values: FloatArray) -> float:
    """Return ``values.var(ddof=1)``, to the last digit, in half the time."""
    off = values - mean_of(values)
    return float(np.add.reduce(off * off) / (len(values) - 1))


def within_walk_interval(
    strides: ArrayLike,
    reference_strides: ArrayLike,
    *,
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
    half = walks_half_width(blocks, reference_blocks).item()
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
