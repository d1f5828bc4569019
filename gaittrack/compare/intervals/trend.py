"""Whether the walks of a comparison drift: a person warms up, tires or learns.

In come walk values in the order walked, out comes a :class:`Trend`. A drift that runs through both
conditions mixes with the order in which they were walked, so it is named; it changes no interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from gaittrack.late import special
from gaittrack.trial import FloatArray

FALSE_ALARM: Final = 0.01
"""Share of walks without a trend that are said to have one, per measure; own choice."""


@dataclass(frozen=True, slots=True)
class Trend:
    """The drift of two conditions.

    Attributes
    ----------
    slope, reference_slope : float
        From one walk to the next; NaN below three walks of the condition.
    p : float
        Of both slopes being 0; NaN where too few walks are left to judge it.
    """

    slope: float
    reference_slope: float
    p: float

    @property
    def is_named(self) -> bool:
        """Whether the drift is told."""
        return self.p <= FALSE_ALARM


def find_trend(walk_values: ArrayLike, reference_values: ArrayLike) -> Trend:
    """Return the drift over the walks: F test that neither condition has a slope.

    Parameters
    ----------
    walk_values, reference_values : array_like, shape (n_walks,)
        In the order walked.

    Returns
    -------
    Trend
        Not judged below two degrees of freedom in all: with three walks in one condition, the other
        needs three as well.
    """
    slopes, explained, left, n_slopes, degrees = [], 0.0, 0.0, 0, 0
    for given in (walk_values, reference_values):
        slope, own_explained, own_left = _line(np.asarray(given, dtype=float))
        slopes.append(slope)
        if not math.isnan(slope):
            explained, left = explained + own_explained, left + own_left
            n_slopes, degrees = n_slopes + 1, degrees + len(np.asarray(given)) - 2
    if degrees < 2 or explained + left == 0:
        return Trend(slopes[0], slopes[1], math.nan)
    ratio = (explained / n_slopes) / (left / degrees) if left else math.inf
    return Trend(slopes[0], slopes[1], float(special.fdtrc(n_slopes, degrees, ratio)))


def _line(values: FloatArray) -> tuple[float, float, float]:
    """Return slope, sum of squares it explains, and sum of squares left."""
    if len(values) < 3:
        return math.nan, 0.0, 0.0
    places, across = _places(len(values))
    off = values - np.add.reduce(values) / len(values)
    slope = float(places @ off) / across
    explained = slope * slope * across
    return slope, explained, max(float(off @ off) - explained, 0.0)


@lru_cache(maxsize=64)
def _places(n_walks: int) -> tuple[FloatArray, float]:
    """Return the places of walks around their middle, and their sum of squares."""
    places = np.arange(n_walks, dtype=np.float64) - (n_walks - 1) / 2
    places.setflags(write=False)
    return places, float(places @ places)
