"""How often the intervals of a cohort cover the truth: made-up cohorts by the thousand.

``python -m tests.calibration.effect_coverage 2000 gaittrack/cohort/coverage.csv`` makes the table
by which the package decides what it shows (about half an hour).
"""

import itertools
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from gaittrack.cohort.mixed_model import mixed_effect
from gaittrack.cohort.statistics import mean_difference

PEOPLE = (3, 4, 5, 8, 12, 20, 40)
VISITS = ("1", "3", "6", "1 to 6")
SCATTERS = (0, 1, 3)
SHAPES = ("normal", "skewed")
COLUMNS = ("method", "people", "visits", "scatter", "shape")
KEYS = list(COLUMNS[:3])


def drawn(rng, shape, n):
    """Draw numbers of mean 0 and scatter 1; skewed ones by a gamma distribution, skewness 1."""
    return rng.normal(size=n) if shape == "normal" else (rng.gamma(4, size=n) - 4) / 2


def _of_group(rng, shape, people):
    """Put three in ten people, two at least, into one group; on average 0."""
    n_people = people[-1] + 1
    own = np.zeros(n_people)
    own[: max(2, round(0.3 * n_people))] = 1
    term = own[people]
    return term - term.mean()


def _of_person(rng, shape, people):
    term = drawn(rng, shape, people[-1] + 1)[people]
    return term - term.mean()


def _of_visit(rng, shape, people):
    return 0.5 + drawn(rng, shape, len(people))


TERMS = {"model": None, "by_visit": _of_visit, "by_person": _of_person, "by_group": _of_group}
"""What makes the term of a method; the effect of one unit of it is 1, as the effect itself."""


def _cohort(rng, visits, n_people):
    counts = rng.integers(1, 7, size=n_people) if visits == "1 to 6" else [int(visits)] * n_people
    return np.repeat(np.arange(n_people), counts)


def _covers(rng, method, n_people, visits, scatter, shape):
    """Draw one cohort and tell whether the intervals hold; None where there is none."""
    people = _cohort(rng, visits, n_people)
    own = scatter * drawn(rng, shape, n_people)
    values = 1 + own[people] + drawn(rng, shape, len(people))
    if method == "mean":
        _, low, high = mean_difference(values)
        return low <= 1 <= high
    make = TERMS[method]
    terms = {} if make is None else {method: make(rng, shape, people)}
    found = mixed_effect(values + sum(terms.values()), people, terms=terms)
    if found.reason is not None:
        return None
    told = [(found.low, found.high), *((each.low, each.high) for each in found.terms)]
    return [low <= 1 <= high for low, high in told]


def coverage(n_runs, *, settings, seed=0):
    """Return the share of runs, in per cent, whose intervals hold, per setting.

    Of effect and term the one that is held less often.
    """
    rng = np.random.default_rng(seed)
    rows = []
    for setting in settings:
        said = [_covers(rng, *setting) for _ in range(n_runs)]
        told = [each for each in said if each is not None]
        share = 100 * np.min(np.mean(told, axis=0)) if told else np.nan
        named = dict(zip(COLUMNS, setting, strict=True))
        rows.append({**named, "covers_percent": share, "n_runs": len(told)})
    return pd.DataFrame(rows)


def every_setting():
    """Return all settings of the table; at one visit the scatter between people is all there is."""
    for method, n_people, shape in itertools.product(("mean", *TERMS), PEOPLE, SHAPES):
        if method == "by_group" and n_people < 4:
            continue
        yield method, n_people, "1", 1, shape
        for visits, scatter in itertools.product(VISITS[1:], SCATTERS):
            if method != "mean":
                yield method, n_people, visits, scatter, shape


def lowest(table):
    """Return of each method and size of cohort the setting whose interval covers least."""
    told = table.dropna(subset="covers_percent")
    least = told.loc[told.groupby(KEYS, sort=False)["covers_percent"].idxmin()]
    return least.reset_index(drop=True)


if __name__ == "__main__":
    found = lowest(coverage(int(sys.argv[1]), settings=every_setting()))
    text = found.to_csv(index=False, float_format="%.1f")
    print(text) if len(sys.argv) == 2 else Path(sys.argv[2]).write_text(text)
