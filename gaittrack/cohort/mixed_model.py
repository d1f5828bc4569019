"""A linear mixed model with a random intercept per person, by restricted maximum likelihood.

In come values, what they may depend on, and whose they are; out comes the effect of the condition,
or the reason why there is none. With one random intercept the likelihood has one unknown left, the
ratio of the variance between people to that within: it is searched over its whole range, so that
there is no starting value and nothing to converge from, and a ratio of 0 is an answer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy import optimize, stats

from gaittrack.trial import FloatArray

LEVEL: Final = 0.95
LEAST_PEOPLE: Final = 3
"""Fewest people for a mixed model; own choice, below it a variance between people means nothing."""
NO_SCATTER_BETWEEN: Final = "no scatter between people was found: as an ordinary regression"
_GRID: Final = np.concatenate([np.linspace(0.0, 0.99, 34), 1 - np.logspace(-2.25, -9, 28)])
"""Shares of the variance that lies between people, at which the search begins; at the last one the
values of a person do not scatter at all, and there is no model."""
_TINY: Final = 1e-12


@dataclass(frozen=True, slots=True)
class MixedDifference:
    """A difference from a linear mixed model with a random intercept per person.

    Attributes
    ----------
    difference, standard_error, low, high : float
        In the unit of the values; NaN with a ``reason``.
    n_values, n_people : int
    reason : str
        Why there is no model.
    note : str
        What a reader of the model must know.
    """

    difference: float
    standard_error: float
    low: float
    high: float
    n_values: int
    n_people: int
    reason: str = ""
    note: str = ""


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
    Patterson & Thompson 1971, Biometrika 58:545 (the restricted likelihood); the profile over the
    ratio of variances is common practice. The tests compare with another library and with R.
    """
    n_people = len(set(people))
    columns = [np.ones(len(values)), is_condition]
    columns += [] if covariate is None else [covariate]
    design = np.column_stack(columns) if len(values) else np.empty((0, len(columns)))
    if reason := _why_no_model(values, design, n_people):
        return no_model(len(values), n_people, reason)
    sums = _Sums.of(values, design, people)
    share, is_found = _best_share(sums)
    fit = sums.at(share)
    if not is_found or not math.isfinite(fit.criterion) or fit.scatter <= _TINY * sums.total:
        return no_model(len(values), n_people, "not defined: the model did not converge")
    effect, error = float(fit.effects[1]), math.sqrt(fit.variance * fit.inverse[1, 1])
    half = float(stats.norm.ppf(0.5 + LEVEL / 2)) * error
    note = NO_SCATTER_BETWEEN if share == 0 else ""
    size = (len(values), n_people)
    return MixedDifference(effect, error, effect - half, effect + half, *size, note=note)


def _why_no_model(values: FloatArray, design: FloatArray, n_people: int) -> str:
    if n_people < LEAST_PEOPLE:
        return f"fewer than {LEAST_PEOPLE} people"
    if np.ptp(values) == 0:
        return "the values do not differ"
    if len(values) <= design.shape[1] + n_people - 1:
        return "not defined: too few values for a model"
    centred = design[:, 1:] - design[:, 1:].mean(axis=0)
    scale = np.where(np.ptp(centred, axis=0) > 0, centred.std(axis=0), 1.0)
    if np.linalg.matrix_rank(centred / scale, tol=1e-6) < centred.shape[1]:
        return "not defined: condition and covariate cannot be told apart"
    return ""


@dataclass(frozen=True, eq=False, slots=True)
class _Fit:
    """The model at one share of the variance between people."""

    criterion: float
    effects: FloatArray
    inverse: FloatArray
    scatter: float
    variance: float


@dataclass(frozen=True, eq=False, slots=True)
class _Sums:
    """All that the likelihood needs of the values: sums over all and over each person."""

    cross: FloatArray
    products: FloatArray
    total: float
    person_design: FloatArray
    person_values: FloatArray
    counts: FloatArray
    n_free: int

    @classmethod
    def of(cls, values: FloatArray, design: FloatArray, people: np.ndarray[Any, Any]) -> _Sums:
        """Return the sums, of values less their mean, which the intercept takes up."""
        centred = values - values.mean()
        numbers = np.unique(people, return_inverse=True)[1]
        columns = (*design.T, centred, np.ones(len(values)))
        own = [np.bincount(numbers, column).astype(np.float64) for column in columns]
        return cls(
            design.T @ design,
            design.T @ centred,
            float(centred @ centred),
            np.column_stack(own[:-2]),
            own[-2],
            own[-1],
            len(values) - design.shape[1],
        )

    def at(self, share: float) -> _Fit:
        """Return generalised least squares, and minus twice the restricted log-likelihood."""
        ratio = share / (1 - share)
        weights = ratio / (1 + ratio * self.counts)
        weighted = self.person_design.T * weights
        normal = self.cross - weighted @ self.person_design
        right = self.products - weighted @ self.person_values
        effects = np.asarray(np.linalg.solve(normal, right), dtype=np.float64)
        scatter = self.total - float(weights @ self.person_values**2) - float(right @ effects)
        safe = max(scatter, _TINY * self.total)
        criterion = self.n_free * math.log(safe) + float(np.log1p(ratio * self.counts).sum())
        criterion += float(np.linalg.slogdet(normal)[1])
        inverse = np.asarray(np.linalg.inv(normal), dtype=np.float64)
        return _Fit(criterion, effects, inverse, scatter, scatter / self.n_free)


def _best_share(sums: _Sums) -> tuple[float, bool]:
    """Return the share of variance between people with the largest likelihood."""
    coarse = [sums.at(float(share)).criterion for share in _GRID]
    place = int(np.argmin(coarse))
    low, high = _GRID[max(place - 1, 0)], _GRID[min(place + 1, len(_GRID) - 1)]
    found = optimize.minimize_scalar(
        lambda share: sums.at(float(share)).criterion,
        bounds=(float(low), float(high)),
        method="bounded",
        options={"xatol": 1e-10},
    )
    if coarse[0] <= found.fun:
        return 0.0, True
    return float(found.x), bool(found.success) and place < len(_GRID) - 1


def no_model(n_values: int, n_people: int, reason: str) -> MixedDifference:
    """Return that there is no model, and why."""
    nan = math.nan
    return MixedDifference(nan, nan, nan, nan, n_values, n_people, reason)
