"""The intervals of a cohort's effect, on made-up cohorts: few people, many visits, terms."""

import numpy as np
import pytest
from scipy import stats

from gaittrack.cohort.inference.mixed_model import mixed_effect
from gaittrack.cohort.inference.ranks import rank_effect
from tests.calibration.effect_coverage import cohorts, coverage, fits, rank_intervals

RUNS = 2000
LEAST_PERCENT = 93.0
SETTINGS = [
    ("mean", 3, "1", 1, "skewed"),
    ("model", 3, "6", 3, "normal"),
    ("model", 20, "3", 3, "normal"),
    ("by_visit", 20, "1 to 6", 3, "normal"),
    ("by_person", 8, "1 or 2", 1, "normal"),
    ("by_group", 12, "3", 1, "normal"),
    ("by_four", 12, "3", 1, "normal"),
]


def test_the_interval_of_an_effect_covers_it():
    """A normal quantile covers 79 % with 3 people; a model without own effects 65 % with 20."""
    found = coverage(RUNS, settings=[*SETTINGS, ("ranks", 20, "1", 1, "skewed")], seed=1)
    assert (found["n_runs"] == RUNS).all()
    least = 100 * stats.binom.ppf(0.0005, RUNS, LEAST_PERCENT / 100) / RUNS
    assert found["covers_percent"].min() >= least, found


@pytest.mark.parametrize("setting", SETTINGS, ids=str)
def test_cohorts_fitted_at_once_are_fitted_as_one_by_one(setting):
    """The intervals whose coverage is counted are those of the package, effect and term."""
    values, made, people = cohorts(np.random.default_rng(3), 5, *setting)
    low, high = fits(values, made, people)
    for row in range(5):
        terms = {str(n): term[row] for n, term in enumerate(made)}
        found = mixed_effect(values[row], people, terms=terms)
        ends = [(found.low, found.high), *((each.low, each.high) for each in found.terms)]
        assert np.column_stack([low[row], high[row]]) == pytest.approx(np.array(ends), abs=2e-3)


@pytest.mark.parametrize("n_people", [6, 20, 40])
def test_ranks_of_cohorts_at_once_are_those_of_one_by_one(n_people):
    """The intervals whose coverage is counted are those of the package."""
    values = cohorts(np.random.default_rng(3), 5, "ranks", n_people, "1", 1, "skewed")[0]
    told = [(each.low, each.high) for each in map(rank_effect, values)]
    assert np.column_stack(rank_intervals(values)) == pytest.approx(np.array(told))
