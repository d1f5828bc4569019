"""The effect of a condition over all visits, where people differ in that effect.

In come differences between condition and reference, one per person and visit, whose they are, and
what else differs between them, as speed or the visit; out comes the mean effect with what goes with
each of these, or the reason why there is none. Within a visit the difference takes away what the
person and the day bring to both conditions; what is left is the effect, how far people differ in it
(a random effect of the condition per person), and the rest. With that one random effect the
likelihood has one unknown, the ratio of the variances between and within people: it is looked at
over its whole range, so that no start can lead astray, and the effect is that of generalised least
squares at the best ratio. A thousand people take milliseconds; a library for any mixed model takes
a second and may stop short of the maximum. The tests compare with two of them, and hold how often
the interval covers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy import stats

from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

LEVEL: Final = 0.95
LEAST_PEOPLE: Final = 3
"""Fewest people for a mixed model; own choice, below it a variance between people means nothing."""
NO_SCATTER_BETWEEN: Final = Reason("no_scatter_between_people")
_LOG_RATIOS: Final = np.linspace(math.log(1e-6), math.log(1e8), 57)
"""Where the likelihood is looked at: variance between people over that within; four a decade."""
_POINTS, _ROUNDS = 49, 5
"""The best place is looked at closer so often, each time at so many points between neighbours: to a
ten-millionth of the ratio."""
_TINY: Final = 1e-10


@dataclass(frozen=True, slots=True)
class TermEffect:
    """How much the effect of a condition changes with one unit of a term.

    Attributes
    ----------
    name : str
        A code with a sentence.
    """

    name: str
    effect: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class MixedEffect:
    """The effect of a condition from a linear mixed model.

    Attributes
    ----------
    difference, standard_error, low, high : float
        In the unit of the values; NaN with a ``reason``.
    n_differences : int
        One per person and visit.
    reason : Reason or None
        Why there is no model.
    note : Reason or None
        What a reader of the model must know.
    """

    difference: float
    standard_error: float
    low: float
    high: float
    n_differences: int
    n_people: int
    reason: Reason | None = None
    note: Reason | None = None
    terms: tuple[TermEffect, ...] = ()


@dataclass(frozen=True, slots=True)
class InterceptFit:
    """What a model with a random intercept per person finds.

    Attributes
    ----------
    effects, standard_errors : ndarray, shape (n_columns,)
        Of each column of the design.
    ratio : float
        Variance between people over that within; infinite where nothing is left within people.
    """

    effects: FloatArray
    standard_errors: FloatArray
    ratio: float


def mixed_effect(
    differences: FloatArray,
    people: np.ndarray[Any, Any],
    *,
    terms: Mapping[str, FloatArray] | None = None,
) -> MixedEffect:
    """Fit ``difference = effect (+ Σ c · term) + person + error`` by REML; return the effect.

    Parameters
    ----------
    differences : ndarray, shape (n_differences,)
        Condition minus reference, each of one person and visit.
    people : ndarray, shape (n_differences,)
        Whose difference it is.
    terms : mapping of code to ndarray, shape (n_differences,), optional
        What also differs, such as walking speed: the effect is that where all of them are 0.

    Returns
    -------
    MixedEffect
        With the interval of Student's t with as many degrees of freedom as there are people less
        the terms: with every person at one visit it is that of their mean. Where people do not
        differ it is wider than it need be.

    Source
    ------
    Patterson & Thompson 1971, Biometrika 58:545 (the restricted likelihood). The degrees of freedom
    are those between people, where the effect is told ("containment", common practice); how often
    the interval covers is simulated in ``tests/calibration``.
    """
    given = dict(terms or {})
    n_people = len(set(people))
    design = np.column_stack([np.ones(len(differences)), *given.values()])
    if reason := _why_no_model(differences, design, tuple(given), n_people):
        return no_model(len(differences), n_people, reason)
    fit = random_intercept(differences, design, people)
    if math.isinf(fit.ratio):
        return no_model(len(differences), n_people, Reason("no_scatter_within_people"))
    half = float(stats.t.ppf(0.5 + LEVEL / 2, n_people - design.shape[1])) * fit.standard_errors
    low, high = fit.effects - half, fit.effects + half
    told = zip(given, fit.effects[1:], low[1:], high[1:], strict=True)
    differ_unseen = fit.ratio == 0 and len(differences) > n_people
    return MixedEffect(
        difference=float(fit.effects[0]),
        standard_error=float(fit.standard_errors[0]),
        low=float(low[0]),
        high=float(high[0]),
        n_differences=len(differences),
        n_people=n_people,
        note=NO_SCATTER_BETWEEN if differ_unseen else None,
        terms=tuple(TermEffect(name, *map(float, each)) for name, *each in told),
    )


def random_intercept(
    values: FloatArray, design: FloatArray, people: np.ndarray[Any, Any]
) -> InterceptFit:
    """Fit ``value = design · effects + person + error`` by restricted maximum likelihood.

    Parameters
    ----------
    values : ndarray, shape (n_values,)
    design : ndarray, shape (n_values, n_columns)
        Of full rank.
    people : ndarray, shape (n_values,)
        Whose value it is; with one value each it is ordinary regression.

    Returns
    -------
    InterceptFit
        Standard errors are those of generalised least squares at the variances found, as R's nlme
        gives them.
    """
    scales = np.where(np.ptp(design, axis=0) > 0, design.std(axis=0), np.abs(design).max(axis=0))
    unit = float(values.std())
    likelihood = _Likelihood(values / unit, design / scales, people)
    ratio = likelihood.best_ratio() if len(set(people)) < len(values) else 0.0
    if math.isinf(ratio):
        nothing = np.full(design.shape[1], math.nan)
        return InterceptFit(nothing, nothing, ratio)
    effects, errors = likelihood.effects(ratio)
    return InterceptFit(unit * effects / scales, unit * errors / scales, ratio)


def _why_no_model(
    differences: FloatArray, design: FloatArray, names: Sequence[str], n_people: int
) -> Reason | None:
    n_values, n_terms = design.shape
    if n_people < LEAST_PEOPLE:
        return Reason("fewer_people", least=LEAST_PEOPLE)
    if np.ptp(differences) == 0:
        return Reason("values_do_not_differ")
    if n_people <= n_terms or n_people < n_values < n_people + n_terms:
        return Reason("too_few_values")
    for name, term in zip(names, design[:, 1:].T, strict=True):
        if np.ptp(term) <= 1e-6 * np.abs(term).max():
            return Reason("term_as_condition", term=Reason(name))
    if np.linalg.matrix_rank(design / np.abs(design).max(axis=0)) < n_terms:
        return Reason("terms_go_together")
    return None


class _Likelihood:
    """The restricted likelihood as a function of the ratio of variances alone.

    Its cross products of design and values come from sums of each person and from the distances to
    the person's mean: no matrix as large as the data, and no difference of large numbers.
    """

    def __init__(self, values: FloatArray, design: FloatArray, people: np.ndarray[Any, Any]):
        both = np.column_stack([design, values])
        _, place, counts = np.unique(people, return_inverse=True, return_counts=True)
        self._counts = counts.astype(float)
        means = np.stack([np.bincount(place, each) / counts for each in both.T], axis=1)
        inside = both - means[place]
        self._inside = inside.T @ inside
        self._between = means[:, :, np.newaxis] * means[:, np.newaxis, :]
        self._n_free = len(values) - design.shape[1]

    def _fit(self, ratios: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return per ratio the effects, their normal matrix, and the mean square they leave."""
        weights = self._counts / (1 + ratios[:, np.newaxis] * self._counts)
        crossed = self._inside + np.tensordot(weights, self._between, axes=1)
        normal, sides = crossed[:, :-1, :-1], crossed[:, :-1, -1:]
        effects = np.asarray(np.linalg.solve(normal, sides), dtype=float)
        left = crossed[:, -1, -1] - (sides * effects).sum(axis=(1, 2))
        return effects[:, :, 0], normal, left / self._n_free

    def effects(self, ratio: float) -> tuple[FloatArray, FloatArray]:
        """Return the effects and their standard errors."""
        (effects,), (normal,), (variance,) = self._fit(np.array([ratio]))
        return effects, np.sqrt(variance * np.diag(np.linalg.inv(normal)))

    def at(self, ratios: FloatArray) -> FloatArray:
        """Return the log-likelihood per ratio; infinite where nothing is left within people."""
        _, normal, variance = self._fit(ratios)
        some = np.maximum(variance, _TINY)
        twice = self._n_free * (np.log(2 * math.pi * some) + 1)
        twice += np.log1p(ratios[:, np.newaxis] * self._counts).sum(axis=1)
        found: FloatArray = np.linalg.slogdet(normal)[1] + twice
        return np.where(variance > _TINY, -found / 2, math.inf)

    def best_ratio(self) -> float:
        """Return the best ratio; 0 or infinity without scatter between or within people."""
        found, grid = self.at(np.exp(_LOG_RATIOS)), _LOG_RATIOS
        place = int(np.argmax(found))
        if place == len(found) - 1 or math.isinf(found[place]):
            return math.inf
        for _ in range(_ROUNDS):
            ends = grid[max(place - 1, 0)], grid[min(place + 1, len(grid) - 1)]
            grid = np.linspace(*ends, _POINTS)
            found = self.at(np.exp(grid))
            place = int(np.argmax(found))
        (none,) = self.at(np.zeros(1))
        return math.exp(grid[place]) if none < found[place] - _TINY else 0.0


def no_model(n_differences: int, n_people: int, reason: Reason) -> MixedEffect:
    """Return that there is no model, and why."""
    return MixedEffect(
        difference=math.nan,
        standard_error=math.nan,
        low=math.nan,
        high=math.nan,
        n_differences=n_differences,
        n_people=n_people,
        reason=reason,
    )
