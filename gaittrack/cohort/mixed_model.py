"""A linear mixed model with a random intercept per person, by restricted maximum likelihood.

In come values, what they may depend on, and whose they are; out comes the effect of the condition,
or the reason why there is none. statsmodels fits. A search may stop early, or call a
likelihood of infinity its best; so it counts only if none of a row of values does better; else it
starts again from the best of those, and then another search has its turn.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from itertools import chain
from typing import Any, Final

import numpy as np
from scipy import stats
from statsmodels.regression.linear_model import OLS
from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams

from gaittrack.trial import FloatArray

LEVEL: Final = 0.95
LEAST_PEOPLE: Final = 3
"""Fewest people for a mixed model; own choice, below it a variance between people means nothing."""
NO_SCATTER_BETWEEN: Final = "no scatter between people was found: as an ordinary regression"
OPTIMISERS: Final = ("lbfgs", "powell")
"""Searches of scipy: first the quick one with the slope of the likelihood, then one without."""
_RATIOS: Final = (1e-10, *np.logspace(-3, 4, 8))
"""Variances between people over those within; at the first people do not differ."""
_TINY: Final = 1e-10
_WORSE: Final = 1e-5
"""Log-likelihood by which a fit may fall behind a value tried beforehand: rounding."""


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
    Patterson & Thompson 1971, Biometrika 58:545 (the restricted likelihood). The standard error is
    that of generalised least squares at the variances found, as R's nlme gives it. The tests
    compare with R and with a search of their own.
    """
    n_people = len(set(people))
    columns = [np.ones(len(values)), is_condition]
    columns += [] if covariate is None else [covariate]
    design = np.column_stack(columns) if len(values) else np.empty((0, len(columns)))
    if reason := _why_no_model(values, design, n_people):
        return no_model(len(values), n_people, reason)
    unit = float(values.std())
    fit = _best_fit((values - values.mean()) / unit, _in_units(design), people)
    if isinstance(fit, str):
        return no_model(len(values), n_people, f"not defined: the model did not converge ({fit})")
    effect, error = fit.effect * unit, fit.standard_error * unit
    half = float(stats.norm.ppf(0.5 + LEVEL / 2)) * error
    size = (len(values), n_people)
    return MixedDifference(effect, error, effect - half, effect + half, *size, note=fit.note)


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


def _in_units(design: FloatArray) -> FloatArray:
    """Give the covariate a mean of 0 and a scatter of 1; the effect of the condition stays."""
    scaled = design.copy()
    scaled[:, 2:] = (design[:, 2:] - design[:, 2:].mean(axis=0)) / design[:, 2:].std(axis=0)
    return scaled


@dataclass(frozen=True, slots=True)
class _Fit:
    """An effect at the likelihood it has."""

    log_likelihood: float
    effect: float
    standard_error: float
    note: str = ""


def _best_fit(values: FloatArray, design: FloatArray, people: np.ndarray[Any, Any]) -> _Fit | str:
    """Return the first fit that no value tried beforehand beats, or why there is none."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        model = MixedLM(values, design, groups=people)
        first = _searched(model, OPTIMISERS[0], 1.0)
        starts = [_log_likelihood(model, ratio) for ratio in _RATIOS]
        start = _RATIOS[max(int(np.argmax(starts)), 1)]
        searches = chain([first], (_searched(model, method, start) for method in OPTIMISERS))
        least = max(starts) - _WORSE
        best = next((fit for fit in searches if fit and fit.log_likelihood >= least), None)
    if best is None:
        said = dict.fromkeys(str(each.message).strip().rstrip(".") for each in caught)
        return "; ".join(said) or "other variances fit better than those found"
    if starts[0] >= best.log_likelihood - _TINY:
        plain = OLS(values, design).fit()
        return _Fit(starts[0], float(plain.params[1]), float(plain.bse[1]), NO_SCATTER_BETWEEN)
    return best


def _log_likelihood(model: MixedLM, ratio: float) -> float:
    """Return the restricted log-likelihood at a ratio of variances; -inf where it has no value."""
    found = float(model.loglike(_parameters(model, ratio), profile_fe=True))
    return found if math.isfinite(found) else -math.inf


def _parameters(model: MixedLM, ratio: float) -> MixedLMParams:
    return MixedLMParams.from_components(
        fe_params=np.zeros(model.k_fe), cov_re=np.array([[float(ratio)]])
    )


def _searched(model: MixedLM, method: str, start: float) -> _Fit | None:
    """Return the fit one search ends with; None unless it converged and has finite numbers."""
    try:
        result = model.fit(reml=True, method=method, start_params=_parameters(model, start))
        hessian, _ = model.hessian(result.params_object)
        variance = np.linalg.inv(-hessian[: model.k_fe, : model.k_fe])[1, 1]
    except np.linalg.LinAlgError as error:
        warnings.warn(f"{method}: {error}", RuntimeWarning, stacklevel=1)
        return None
    numbers = (float(result.llf), float(result.fe_params[1]), float(variance))
    is_fit = result.converged and all(map(math.isfinite, numbers)) and variance > 0
    if not is_fit or result.scale <= _TINY:
        warnings.warn(f"{method} found no maximum", RuntimeWarning, stacklevel=1)
        return None
    return _Fit(numbers[0], numbers[1], math.sqrt(numbers[2]))


def no_model(n_values: int, n_people: int, reason: str) -> MixedDifference:
    """Return that there is no model, and why."""
    nan = math.nan
    return MixedDifference(nan, nan, nan, nan, n_values, n_people, reason)
