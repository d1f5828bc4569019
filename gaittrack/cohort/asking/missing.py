"""Who is missing in a cohort's mean, in which condition, and how far that could move it.

In come an answer and its rows, out come counts of strides without a value in each condition, and
what the mean would be if those left out had changed like the least or the most of the others.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from scipy import stats

from gaittrack.cohort.asking.answering import CohortAnswer

_WITHOUT_AND_WITH: Final = ("n_not_defined", "n_strides")


@dataclass(frozen=True, slots=True)
class Missing:
    """What is missing, and what that could do.

    Attributes
    ----------
    n_left_out : int
        People who are meant and stand in no mean.
    percent, reference_percent : float
        Strides without a value in the condition and in the reference, of all people; NaN without
        strides.
    n_more, n_more_in_reference : int
        People who lack it in more of their strides in the condition, and in the reference.
    p : float
        That so uneven a split is chance (sign test); NaN without anybody.
    mean_low, mean_high : float
        Mean of all if those left out changed like the least, and like the most, of the others.
    median_low, median_high : float
        Median of all if they changed less, and more, than anybody; infinite where half are missing.
    turning : float
        Mean change of those left out that would make the mean of all 0; NaN without any.
    """

    n_left_out: int
    percent: float
    reference_percent: float
    n_more: int
    n_more_in_reference: int
    p: float
    mean_low: float
    mean_high: float
    median_low: float
    median_high: float
    turning: float


def missing_of(answer: CohortAnswer) -> Missing:
    """Return what is missing in an answer; without anybody compared its bounds are NaN."""
    own = answer.differences.to_numpy(dtype=float)
    n = answer.n_left_out + answer.n_missing
    if not len(own):
        own = np.array([math.nan])
    bounds = [float(np.append(own, [end] * n).mean()) for end in (own.min(), own.max())]
    medians = [float(np.median(np.append(own, [end] * n))) for end in (-math.inf, math.inf)]
    turning = -float(own.sum()) / n if n else math.nan
    strides = _strides(answer.first)
    more, more_reference = _uneven(strides)
    split = more + more_reference
    return Missing(
        n_left_out=n,
        percent=_percent(strides, ""),
        reference_percent=_percent(strides, "_reference"),
        n_more=more,
        n_more_in_reference=more_reference,
        p=float(stats.binomtest(more, split).pvalue) if split else math.nan,
        mean_low=bounds[0],
        mean_high=bounds[1],
        median_low=medians[0],
        median_high=medians[1],
        turning=turning,
    )


def _strides(first: pd.DataFrame) -> pd.DataFrame:
    """Return of each person the strides with a value and without, in each condition."""
    names = ["n_strides", "n_not_defined", "n_strides_reference", "n_not_defined_reference"]
    found: pd.DataFrame = first.groupby("person")[names].sum().astype(float)
    return found


def _percent(strides: pd.DataFrame, end: str) -> float:
    without, with_value = (float(strides[f"{name}{end}"].sum()) for name in _WITHOUT_AND_WITH)
    return 100 * without / (without + with_value) if without + with_value else math.nan


def _uneven(strides: pd.DataFrame) -> tuple[int, int]:
    """Return how many people lack it more often in the condition, and in the reference."""
    here, reference = (
        strides[f"n_not_defined{end}"]
        / (strides[f"n_not_defined{end}"] + strides[f"n_strides{end}"])
        for end in ("", "_reference")
    )
    return int((here > reference).sum()), int((here < reference).sum())
