"""What a cohort shows: one row per measure, side and pair of conditions.

In comes the change table of an export, out come mean differences with their
interval over people, how many changed beyond the floor and which way, a mixed model with the person
as random effect, and how many values are missing or not defined. The person is the unit: two
affected sides of one person are averaged.
"""

from __future__ import annotations

import math
import warnings
from collections import Counter
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from scipy import stats
from statsmodels.regression.mixed_linear_model import MixedLM
from statsmodels.tools.sm_exceptions import ConvergenceWarning

from gaittrack.compare.measurement_error import NO_FLOOR
from gaittrack.compare.verdict import (
    AWAY,
    LARGER,
    NOT_COMPARABLE,
    NOT_DEFINED,
    NOT_SHOWN,
    TOWARD,
    WITHIN,
)
from gaittrack.trial import FloatArray

LEVEL: Final = 0.95
LEAST_PEOPLE: Final = 3
"""Fewest people for a mixed model; own choice, below it a variance between people means nothing."""
_KEYS: Final = ["measure_id", "unit", "side_role", "condition_code", "reference_code"]
_NEITHER: Final = "larger, no direction"
_COLUMN_OF: Final = {
    TOWARD: "n_toward",
    AWAY: "n_away",
    _NEITHER: "n_larger_without_direction",
    WITHIN: "n_within",
    NOT_SHOWN: "n_not_shown",
    NO_FLOOR: "n_no_floor",
    NOT_COMPARABLE: "n_not_comparable",
    NOT_DEFINED: "n_not_defined",
}
_JUDGED: Final = (TOWARD, AWAY, _NEITHER, WITHIN, NOT_SHOWN)


@dataclass(frozen=True, slots=True)
class MixedDifference:
    """A difference from a linear mixed model with a random intercept per person.

    Attributes
    ----------
    difference, standard_error, low, high : float
        In the unit of the values; NaN with a ``reason``.
    n_values, n_people : int
    reason : str
    """

    difference: float
    standard_error: float
    low: float
    high: float
    n_values: int
    n_people: int
    reason: str = ""


def mean_difference(differences: FloatArray) -> tuple[float, float, float]:
    """Return the mean of one difference per person and its 95 % t interval.

    Parameters
    ----------
    differences : ndarray, shape (n_people,)

    Returns
    -------
    mean, low, high : float
        No interval below two people.
    """
    n = len(differences)
    if n < 2:
        return (float(differences[0]) if n else math.nan), math.nan, math.nan
    mean = float(differences.mean())
    half = stats.t.ppf(0.5 + LEVEL / 2, n - 1) * differences.std(ddof=1) / math.sqrt(n)
    return mean, mean - float(half), mean + float(half)


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
    """
    n_people = len(set(people))
    if n_people < LEAST_PEOPLE:
        return _no_model(values, n_people, f"fewer than {LEAST_PEOPLE} people")
    if np.ptp(values) == 0 or np.ptp(is_condition) == 0:
        return _no_model(values, n_people, "the values do not differ")
    columns = [np.ones(len(values)), is_condition]
    columns += [] if covariate is None else [covariate]
    with warnings.catch_warnings():
        # A variance between people of 0 is an answer here, not a fault.
        warnings.simplefilter("ignore", ConvergenceWarning)
        warnings.simplefilter("ignore", RuntimeWarning)
        try:
            fit = MixedLM(values, np.column_stack(columns), groups=people).fit(reml=True)
        except np.linalg.LinAlgError:
            return _no_model(values, n_people, "the model is singular")
    slope, error = float(fit.fe_params[1]), float(fit.bse_fe[1])
    if not fit.converged or not math.isfinite(error):
        return _no_model(values, n_people, "the model did not converge")
    half = float(stats.norm.ppf(0.5 + LEVEL / 2)) * error
    return MixedDifference(slope, error, slope - half, slope + half, len(values), n_people)


def _no_model(values: FloatArray, n_people: int, reason: str) -> MixedDifference:
    nan = math.nan
    return MixedDifference(nan, nan, nan, nan, len(values), n_people, reason)


def statistics_table(changes: pd.DataFrame, *, n_people: int) -> pd.DataFrame:
    """Summarise a cohort.

    Parameters
    ----------
    changes : DataFrame
        From ``changes.change_table``.
    n_people : int
        In the export; those without a pair count as missing.

    Returns
    -------
    DataFrame
    """
    if changes.empty:
        return pd.DataFrame()
    rows = []
    for key, group in changes.groupby(_KEYS, sort=False):
        named = dict(zip(_KEYS, key, strict=True))
        first = group[group["visit_no"] == group.groupby("export_id")["visit_no"].transform("min")]
        rows.append(named | _over_people(first, n_people) | _modelled(group))
    return pd.DataFrame(rows)


def _over_people(first: pd.DataFrame, n_people: int) -> dict[str, Any]:
    comparable = _comparable(first)
    differences = comparable.groupby("export_id")["difference"].mean().to_numpy(dtype=float)
    mean, low, high = mean_difference(differences)
    words = Counter(_said_of(rows) for _, rows in first.groupby("export_id"))
    n_judged = sum(words[word] for word in _JUDGED)
    share = {
        f"share_{name}_percent": 100 * words[word] / n_judged if n_judged else math.nan
        for name, word in (("toward", TOWARD), ("away", AWAY), ("within", WITHIN))
    }
    return {
        "n_people": len(differences),
        "mean_difference": mean,
        "low": low,
        "high": high,
        "sd_between_people": float(differences.std(ddof=1)) if len(differences) > 1 else math.nan,
        **{column: words[word] for word, column in _COLUMN_OF.items()},
        "n_missing": n_people - first["export_id"].nunique(),
        **share,
    }


def _said_of(rows: pd.DataFrame) -> str:
    """Return what is said of a person; of two affected sides, what is said of both."""
    said = {
        (row["typical"] or _NEITHER) if row["verdict"] == LARGER else row["verdict"]
        for row in rows.to_dict("records")
    }
    if len(said) == 1:
        return str(said.pop())
    if said <= {TOWARD, AWAY, _NEITHER}:
        return _NEITHER
    open_ones = (NOT_DEFINED, NOT_COMPARABLE, NO_FLOOR)
    return next((word for word in open_ones if word in said), NOT_SHOWN)


def _comparable(changes: pd.DataFrame) -> pd.DataFrame:
    return changes[~changes["verdict"].isin([NOT_DEFINED, NOT_COMPARABLE])]


def _modelled(changes: pd.DataFrame) -> dict[str, Any]:
    """Fit the model to both values of every comparable pair, all visits."""
    pairs = _comparable(changes).groupby(["export_id", "visit_no"])[["value", "reference_value"]]
    means = pairs.mean().reset_index()
    n_pairs = len(means)
    found = mixed_difference(
        np.concatenate([means["value"], means["reference_value"]]).astype(float),
        np.repeat([1.0, 0.0], n_pairs),
        np.tile(means["export_id"].to_numpy(dtype=str), 2),
    )
    return {
        "mixed_difference": found.difference,
        "mixed_low": found.low,
        "mixed_high": found.high,
        "mixed_n_values": found.n_values,
        "mixed_n_people": found.n_people,
        "mixed_reason": found.reason,
    }
