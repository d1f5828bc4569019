"""How often the interval of a cohort's effect covers the truth: made-up cohorts by the thousand.

``python -m tests.calibration.effect_coverage 2000`` prints the whole table.
"""

import itertools
import sys

import numpy as np
import pandas as pd

from gaittrack.cohort.mixed_model import mixed_effect

PEOPLE = (3, 4, 5, 8, 20, 40)
VISITS = (1, 3, 6, "1 to 6")
SCATTERS = (0, 1, 3)
SHAPES = ("normal", "skewed")
COLUMNS = ("shape", "people", "visits", "scatter", "is_at_speed")


def _drawn(rng, shape, n):
    """Draw numbers of mean 0 and scatter 1; skewed ones by a gamma distribution, skewness 1."""
    return rng.normal(size=n) if shape == "normal" else (rng.gamma(4, size=n) - 4) / 2


def _covers(rng, shape, n_people, visits, scatter, *, is_at_speed):
    """Draw one cohort and tell whether the interval of the effect holds it."""
    counts = rng.integers(1, 7, size=n_people) if visits == "1 to 6" else [visits] * n_people
    people = np.repeat(np.arange(n_people), counts)
    faster = 0.1 + 0.2 * rng.normal(size=len(people))
    own = scatter * _drawn(rng, shape, n_people)
    values = 1 + 2 * faster * is_at_speed + own[people] + _drawn(rng, shape, len(people))
    found = mixed_effect(values, people, covariate=faster if is_at_speed else None)
    return found.low <= 1 <= found.high if found.reason is None else None


def coverage(n_runs, *, settings, seed=0):
    """Return the share of runs, in per cent, whose interval holds the effect, per setting."""
    rng = np.random.default_rng(seed)
    rows = []
    for setting in settings:
        said = [_covers(rng, *setting[:4], is_at_speed=setting[4]) for _ in range(n_runs)]
        told = [each for each in said if each is not None]
        share = 100 * np.mean(told) if told else np.nan
        rows.append({**dict(zip(COLUMNS, setting, strict=True)), "covers": share, "n": len(told)})
    return pd.DataFrame(rows)


def every_setting():
    """Return all settings of the table."""
    return list(itertools.product(SHAPES, PEOPLE, VISITS, SCATTERS, (False, True)))


if __name__ == "__main__":
    print(coverage(int(sys.argv[1]), settings=every_setting()).to_string())
