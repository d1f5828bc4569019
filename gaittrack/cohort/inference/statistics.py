"""What a cohort shows: one row per measure, side and pair of conditions.

In comes the change table of an export, out come mean differences with their interval over people,
how many changed beyond measurement error and which way, a mixed model with the person as random
effect, and how many values are missing or not defined. The person is the unit: two affected sides
of one person are averaged.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import pandas as pd
from scipy import stats

from gaittrack.cohort.inference.coverage import why_not_shown
from gaittrack.cohort.inference.mixed_model import LEVEL, MixedEffect, mixed_effect, no_model
from gaittrack.cohort.people.tracking import Track, untracked
from gaittrack.cohort.tables.reason_cells import packed
from gaittrack.compare.intervals.verdict import (
    AWAY,
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NO_CHANGE,
    NO_ERROR_FIGURE,
    NOT_COMPARABLE,
    NOT_DEFINED,
    NOT_SHOWN,
    NOT_TRUSTED,
    TOWARD,
)
from gaittrack.compare.measurement_error.marker_errors import SPEED_MEASURE
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

KEYS: Final = ["measure_id", "unit", "side_role", "condition_code", "reference_code"]
_PAIR: Final = ["export_id", "visit_no", "condition_code", "reference_code"]
USED_OF_SPEED: Final = (*_PAIR, "measure_id", "value", "reference_value")
USED_OF_CHANGES: Final = (
    *(*KEYS, "export_id", "visit_no", "difference", "value", "reference_value"),
    *("verdict", "typical"),
)
"""Columns of the table ``changes`` that are looked at: of the speed, and of each measure."""
NEITHER: Final = "larger_without_direction"
COUNT_OF: Final = {
    TOWARD: "n_toward",
    AWAY: "n_away",
    NEITHER: "n_larger_without_direction",
    CHANGE_IN_THESE_WALKS: "n_change_in_these_walks",
    NO_CHANGE: "n_no_change_larger",
    NOT_SHOWN: "n_not_shown",
    NO_ERROR_FIGURE: "n_no_error_figure",
    NOT_COMPARABLE: "n_not_comparable",
    NOT_TRUSTED: "n_not_trusted",
    NOT_DEFINED: "n_not_defined",
}
_JUDGED: Final = (TOWARD, AWAY, NEITHER, CHANGE_IN_THESE_WALKS, NO_CHANGE, NOT_SHOWN)
NO_PAIR: Final = (NOT_DEFINED, NOT_TRUSTED, NOT_COMPARABLE)
"""Verdicts of what was not compared."""


def mean_difference(differences: FloatArray) -> tuple[float, float, float]:
    """Return the mean of one difference per person and its 95 % t interval.

    Parameters
    ----------
    differences : ndarray, shape (n_people,)

    Returns
    -------
    mean, low, high : float
        No interval below two people, or where all have the same difference: equal numbers do not
        make a mean certain.
    """
    n = len(differences)
    mean = float(differences.mean()) if n else math.nan
    if n < 2 or np.ptp(differences) == 0:
        return mean, math.nan, math.nan
    half = stats.t.ppf(0.5 + LEVEL / 2, n - 1) * differences.std(ddof=1) / math.sqrt(n)
    return mean, mean - float(half), mean + float(half)


def statistics_table(
    changes: pd.DataFrame,
    *,
    n_people: int,
    measures: Sequence[str] = (),
    speeds: pd.DataFrame | None = None,
    track: Track = untracked,
) -> pd.DataFrame:
    """Summarise a cohort.

    Parameters
    ----------
    changes : DataFrame
        From ``changes.change_table``.
    n_people : int
        In the export; those without a pair count as missing.
    measures : sequence of str
        Summarise these only; by default all.
    speeds : DataFrame, optional
        From :func:`speeds_of`; by default those among the changes.

    Returns
    -------
    DataFrame
        One row per measure, side and pair of conditions, the affected side before the other,
        whoever comes first; small groups are shown, see ``suppression.py``.
    """
    if changes.empty:
        return pd.DataFrame()
    speeds = speeds_of(changes) if speeds is None else speeds
    wanted = changes[changes["measure_id"].isin(measures)] if measures else changes
    order = {measure: place for place, measure in enumerate(wanted["measure_id"].unique())}
    groups = list(wanted.groupby(KEYS, sort=False))
    groups.sort(key=lambda each: (order[each[0][0]], *each[0][1:]))
    rows = []
    for key, group in track("Fitting models", groups, len(groups)):
        named = dict(zip(KEYS, key, strict=True))
        rows.append(named | _over_people(first_visits(group), n_people) | _modelled(group, speeds))
    return pd.DataFrame(rows)


def _over_people(first: pd.DataFrame, n_people: int) -> dict[str, Any]:
    differences = differences_of_people(first).to_numpy(dtype=float)
    mean, low, high = mean_difference(differences)
    said = words_of_people(first, first["typical"].where(first["typical"] != "", NEITHER))
    words = Counter(said.values())
    n_judged = sum(words[word] for word in _JUDGED)
    share = {
        f"share_{name}_percent": 100 * words[word] / n_judged if n_judged else math.nan
        for name, word in (("toward", TOWARD), ("away", AWAY), ("no_change_larger", NO_CHANGE))
    }
    return {
        "n_people": len(differences),
        "mean_difference": mean,
        "low": low,
        "high": high,
        "sd_between_people": float(differences.std(ddof=1)) if len(differences) > 1 else math.nan,
        **{column: words[word] for word, column in COUNT_OF.items()},
        "n_missing": n_people - len(said),
        **share,
    }


def first_visits(changes: pd.DataFrame) -> pd.DataFrame:
    """Return of each person the changes at the first visit that has any."""
    first = changes.groupby("export_id")["visit_no"].transform("min")
    return changes[changes["visit_no"] == first]


def differences_of_people(first: pd.DataFrame) -> pd.Series:
    """Return one difference per person who can be compared: of two affected sides the mean."""
    found: pd.Series = _comparable(first).groupby("export_id")["difference"].mean()
    return found


def words_of_people(first: pd.DataFrame, ways: pd.Series) -> dict[str, str]:
    """Return what is said of each person: a verdict, or which way a larger change goes.

    Parameters
    ----------
    ways : Series
        Of each row the word in the place of ``LARGER``.
    """
    said: dict[str, set[str]] = {}
    names = (first[name].tolist() for name in ("export_id", "verdict"))
    for person, verdict, way in zip(*names, ways.tolist(), strict=True):
        said.setdefault(person, set()).add(way if verdict == LARGER else verdict)
    return {person: _said_of(words) for person, words in said.items()}


def _said_of(said: set[str]) -> str:
    """Return what is said of a person: of two affected sides what is said of both that compare."""
    told = said - set(NO_PAIR) or said
    if len(told) == 1:
        return next(iter(told))
    if not told & set(COUNT_OF) - {TOWARD, AWAY, NEITHER}:
        return NEITHER
    return next((word for word in (*NO_PAIR, NO_ERROR_FIGURE) if word in told), NOT_SHOWN)


def _comparable(changes: pd.DataFrame) -> pd.DataFrame:
    return changes[~changes["verdict"].isin(NO_PAIR)]


def speeds_of(changes: pd.DataFrame) -> pd.DataFrame:
    """Return the walking speed of both conditions of every pair."""
    own = changes[changes["measure_id"] == SPEED_MEASURE]
    found = own.groupby(_PAIR)[["value", "reference_value"]].mean()
    return found.rename(columns={"value": "speed", "reference_value": "reference_speed"})


def _modelled(changes: pd.DataFrame, speeds: pd.DataFrame) -> dict[str, Any]:
    """Fit the model to every comparable pair of all visits; then at equal speed."""
    columns = ["difference", "value", "reference_value"]
    means = _comparable(changes).groupby(_PAIR)[columns].mean().join(speeds)
    plain = _fitted("mixed", means)
    if changes["measure_id"].iloc[0] == SPEED_MEASURE:
        return plain | _said("speed_adjusted", no_model(0, 0, Reason("speed_is_the_measure")))
    return plain | _fitted("speed_adjusted", means.dropna(), with_speed=True)


def _fitted(name: str, means: pd.DataFrame, *, with_speed: bool = False) -> dict[str, Any]:
    faster = means["speed"] - means["reference_speed"]
    people = means.index.get_level_values("export_id").to_numpy(dtype=str)
    found = mixed_effect(
        means["difference"].to_numpy(dtype=float),
        people,
        terms={"difference_in_speed": faster.to_numpy(dtype=float)} if with_speed else None,
    )
    why = why_not_shown("by_visit" if with_speed else "model", people)
    if found.reason is None and why is not None:
        found = no_model(found.n_differences, found.n_people, why)
    return _said(name, found)


def _said(name: str, found: MixedEffect) -> dict[str, Any]:
    return {
        f"{name}_difference": found.difference,
        f"{name}_low": found.low,
        f"{name}_high": found.high,
        f"{name}_n_differences": found.n_differences,
        f"{name}_n_people": found.n_people,
        f"{name}_reason": packed(found.reason),
        f"{name}_note": packed(found.note),
    }
