"""A linear mixed model with a random intercept per person, by restricted maximum likelihood.

In come values, what they may depend on, and whose they are; out comes the effect of the condition,
or the reason why there is none. With one random intercept the likelihood has one unknown, the ratio
of the variances between and within people: it is looked at over its whole range, so that no start
can lead astray, and the effect is that of generalised least squares at the best ratio. A thousand
people take milliseconds; a library for any mixed model takes a second and may stop short of the
maximum. The tests compare with two of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy import optimize, stats

from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

LEVEL: Final = 0.95
LEAST_PEOPLE: Final = 3
"""Fewest people for a mixed model; own choice, below it a variance between people means nothing."""
NO_SCATTER_BETWEEN: Final = Reason("no_scatter_between_people")
_LOG_RATIOS: Final = np.linspace(math.log(1e-6), math.log(1e8), 57)
"""Where the likelihood is looked at: variance between people over that within; four a decade."""
_TINY: Final = 1e-10


@dataclass(frozen=True, slots=True)
class MixedDifference:
    """A difference from a linear mixed model with a random intercept per person.

    Attributes
    ----------
    difference, standard_error, low, high : float
        In the unit of the values; NaN with a ``reason``.
    reason : Reason or None
        Why there is no model.
    note : Reason or None
        What a reader of the model must know.
    """

    difference: float
    standard_error: float
    low: float
    high: float
    n_values: int
    n_people: int
    reason: Reason | None = None
    note: Reason | None = None


def mixed_difference(
    values: FloatArray,
    is_condition: FloatArray,
    people: np.ndarray[Any, Any],
    *,
    covariate: FloatArray | None = None,
) -> MixedDifference:
    """Fit ``value = a + b · condition (+ c · covariate) + person + error`` by REML; return ``b``.

    Parameters
    ----------
    values, is_condition : ndarray, shape (n_values,)
        The second is 1 in the condition and 0 in the reference.
    people : ndarray, shape (n_values,)
        Whose value it is.
    covariate : ndarray, shape (n_values,), optional
        Held constant, such as walking speed.

    Returns
    -------
    MixedDifference
        With a normal 95 % interval.

    Source
    ------
    Patterson & Thompson 1971, Biometrika 58:545 (the restricted likelihood). The standard error is
    that of generalised least squares at the variances found, as R's nlme gives it. The tests
    compare with R, with statsmodels and with a search of their own.
    """
    n_people = len(set(people))
    columns = [np.ones(len(values)), is_condition]
    columns += [] if covariate is None else [covariate]
    design = np.column_stack(columns) if len(values) else np.empty((0, len(columns)))
    if reason := _why_no_model(values, design, n_people):
        return no_model(len(values), n_people, reason)
    unit = float(values.std())
    likelihood = _Likelihood((values - values.mean()) / unit, _in_units(design), people)
    ratio = likelihood.best_ratio()
    if math.isinf(ratio):
        return no_model(len(values), n_people, Reason("no_scatter_within_people"))
    effect, error = (unit * each for each in likelihood.effect(ratio))
    half = float(stats.norm.ppf(0.5 + LEVEL / 2)) * error
    return MixedDifference(
        difference=effect,
        standard_error=error,
        low=effect - half,
        high=effect + half,
        n_values=len(values),
        n_people=n_people,
        note=NO_SCATTER_BETWEEN if ratio == 0 else None,
    )


def _why_no_model(values: FloatArray, design: FloatArray, n_people: int) -> Reason | None:
    if n_people < LEAST_PEOPLE:
        return Reason("fewer_people", least=LEAST_PEOPLE)
    if np.ptp(values) == 0:
        return Reason("values_do_not_differ")
    if len(values) <= design.shape[1] + n_people - 1:
        return Reason("too_few_values")
    centred = design[:, 1:] - design[:, 1:].mean(axis=0)
    scale = np.where(np.ptp(centred, axis=0) > 0, centred.std(axis=0), 1.0)
    if np.linalg.matrix_rank(centred / scale, tol=1e-6) < centred.shape[1]:
        return Reason("covariate_as_condition")
    return None


def _in_units(design: FloatArray) -> FloatArray:
    """Give the covariate a mean of 0 and a scatter of 1; the effect of the condition stays."""
    scaled = design.copy()
    scaled[:, 2:] = (design[:, 2:] - design[:, 2:].mean(axis=0)) / design[:, 2:].std(axis=0)
    return scaled


class _Likelihood:
    """The restricted likelihood as a function of the ratio of variances alone.

    Its cross products of design and values come from sums of each person and from the distances to
    the person's mean: no matrix as large as the data, and no difference of large numbers.
    """

    def __init__(self, values: FloatArray, design: FloatArray, people: np.ndarray[Any, Any]):
        both = np.column_stack([design, values])
        _, place, counts = np.unique(people, return_inverse=True, return_counts=True)
        self._counts = counts.astype(float)
        self._means = np.stack([np.bincount(place, each) / counts for each in both.T], axis=1)
        inside = both - self._means[place]
        self._inside = inside.T @ inside
        self._n_free = len(values) - design.shape[1]

    def _fit(self, ratio: float) -> tuple[FloatArray, FloatArray, float]:
        """Return the effects, their normal matrix, and the mean square that they leave."""
        weights = self._counts / (1 + ratio * self._counts)
        crossed = self._inside + (self._means.T * weights) @ self._means
        normal, sides = crossed[:-1, :-1], crossed[:-1, -1]
        effects = np.asarray(np.linalg.solve(normal, sides), dtype=float)
        return effects, normal, float(crossed[-1, -1] - sides @ effects) / self._n_free

    def effect(self, ratio: float) -> tuple[float, float]:
        """Return the second effect, which is that of the condition, and its standard error."""
        effects, normal, variance = self._fit(ratio)
        return float(effects[1]), math.sqrt(variance * np.linalg.inv(normal)[1, 1])

    def at(self, ratio: float) -> float:
        """Return the log-likelihood; infinite where nothing is left within people."""
        _, normal, variance = self._fit(ratio)
        if variance <= _TINY:
            return math.inf
        twice = self._n_free * (math.log(2 * math.pi * variance) + 1)
        twice += np.log1p(ratio * self._counts).sum() + np.linalg.slogdet(normal)[1]
        return -float(twice) / 2

    def best_ratio(self) -> float:
        """Return the best ratio; 0 or infinity without scatter between or within people."""
        found = [self.at(math.exp(each)) for each in _LOG_RATIOS]
        place = int(np.argmax(found))
        if place == len(found) - 1 or math.isinf(found[place]):
            return math.inf
        search = optimize.minimize_scalar(
            lambda each: -self.at(math.exp(each)),
            bounds=(_LOG_RATIOS[max(place - 1, 0)], _LOG_RATIOS[place + 1]),
            method="bounded",
            options={"xatol": 1e-9},
        )
        return math.exp(search.x) if self.at(0.0) < -search.fun - _TINY else 0.0


def no_model(n_values: int, n_people: int, reason: Reason) -> MixedDifference:
    """Return that there is no model, and why."""
    return MixedDifference(
        difference=math.nan,
        standard_error=math.nan,
        low=math.nan,
        high=math.nan,
        n_values=n_values,
        n_people=n_people,
        reason=reason,
    )
