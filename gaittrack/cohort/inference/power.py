"""How many people a study needs to show a mean change, and what so many can show.

In come a difference and the scatter of changes between people, out come numbers of people and power
of the two-sided t test of one difference per person.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from scipy import stats

from gaittrack.cohort.inference.mixed_model import LEVEL
from gaittrack.trial import FloatArray

MOST_PEOPLE: Final = 100_000


def power(difference: float, sd: float, n_people: int) -> float:
    """Return how often a change of that size is shown, between 0 and 1.

    Source
    ------
    Noncentral t; Cohen 1988, Statistical power analysis, ch. 2 (one difference per person). Its
    square is a noncentral F, which scipy gives for every shift; of t it gives no number for some.
    """
    freedom = n_people - 1
    shift = n_people * (difference / sd) ** 2
    limit = stats.f.ppf(LEVEL, 1, freedom)
    return float(stats.ncf.sf(limit, 1, freedom, shift)) if shift else 1 - LEVEL


def people_needed(difference: float, sd: float, *, wanted: float = 0.8) -> int | None:
    """Return the fewest people with at least the power that is wanted.

    Returns
    -------
    int or None
        None where 100,000 are too few, or the difference is none.
    """
    if not (difference and sd > 0 and math.isfinite(difference / sd)):
        return None
    low, high = 1, 2
    while power(abs(difference), sd, high) < wanted:
        low, high = high, 2 * high
        if high > MOST_PEOPLE:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (
            (low, middle) if power(abs(difference), sd, middle) >= wanted else (middle, high)
        )
    return high


def scatter(differences: FloatArray) -> tuple[float, float, float]:
    """Return the standard deviation of changes between people and its 95 % interval.

    Source
    ------
    Chi-square, for normal changes.
    """
    n = len(differences)
    if n < 2:
        return math.nan, math.nan, math.nan
    sd = float(np.std(differences, ddof=1))
    ends = stats.chi2.ppf([0.5 + LEVEL / 2, 0.5 - LEVEL / 2], n - 1)
    low, high = sd * np.sqrt((n - 1) / ends)
    return sd, float(low), float(high)
