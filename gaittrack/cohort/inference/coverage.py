"""Whether an interval of a cohort may be shown: only where it was seen to cover often enough.

In come a way of reckoning and whose differences there are, out comes why its interval is not shown,
or nothing. The table ``coverage.csv`` is made by ``tests/calibration/effect_coverage.py``: of each
way and size the setting that covered least, of effect and term the one held less often, with
people who differ in the effect by nothing, once and three times the rest, normal and skewed.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Any, Final, Literal

import numpy as np
import pandas as pd

from gaittrack.reasons import Reason

Method = Literal["mean", "ranks", "model", "by_visit", "by_person", "by_group", "by_two", "by_four"]
"""The mean of people; by ranks; the model alone; with a term of each visit, each person, a group
of them; with one of a group and one of each visit; with these, another and one of each person."""
LEAST_PERCENT: Final = 93.0
LEAST_VISITS: Final = 1.5
"""On average, where people came more than once; as simulated. With fewer, what differs within
people is known from hardly anybody."""
_ONE_VISIT, _ONE_OR_TWO = "1", "1 or 2"
_SEVERAL: Final = 3.0
"""Visits on average from which cohorts of one or two are another matter; below it all count."""


@cache
def coverage_table() -> pd.DataFrame:
    """Return the table: method, people, visits, and the per cent of intervals that covered."""
    with (files("gaittrack.cohort.inference") / "coverage.csv").open() as file:
        return pd.read_csv(file, dtype={"visits": str})


def why_not_shown(method: Method, people: np.ndarray[Any, Any]) -> Reason | None:
    """Return why an interval is not shown, None where it covers.

    Parameters
    ----------
    people : ndarray, shape (n_differences,)
        Whose each difference is.

    Returns
    -------
    Reason or None
        A size is shown if it covers, and every larger one that was simulated; of cohorts with
        several visits the numbers of visits that are as many on average, or more.
    """
    counts = np.unique(people, return_counts=True)[1]
    n_people, average = len(counts), len(people) / max(len(counts), 1)
    if 1 < average < LEAST_VISITS:
        return Reason("too_few_repeats", n_values=len(people), n_people=n_people)
    table = coverage_table()
    own = table[
        (table["method"] == method) & table["visits"].map(lambda each: _fits(each, average))
    ]
    smaller = own.loc[own["people"] <= n_people, "people"]
    if smaller.empty:
        return Reason("coverage_not_simulated", n_people=n_people)
    percent = float(own.loc[own["people"] >= smaller.max(), "covers_percent"].min())
    if percent >= LEAST_PERCENT:
        return None
    return Reason("covers_too_little", n_people=n_people, percent=percent, least=LEAST_PERCENT)


def _fits(visits: str, average: float) -> bool:
    """Tell whether simulated visits are like a cohort's: one each, three or more, or between."""
    if average == 1 or visits == _ONE_VISIT:
        return average == 1 and visits == _ONE_VISIT
    return average < _SEVERAL or visits != _ONE_OR_TWO
