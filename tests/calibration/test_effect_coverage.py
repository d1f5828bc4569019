"""The intervals of a cohort's effect, on made-up cohorts: few people, many visits, terms."""

import pytest
from scipy import stats

from tests.calibration.effect_coverage import coverage

RUNS = 300
LEAST_PERCENT = 93.0


@pytest.mark.parametrize(
    "setting",
    [
        ("mean", 3, "1", 1, "skewed"),
        ("model", 3, "6", 3, "normal"),
        ("model", 20, "3", 3, "normal"),
        ("by_visit", 20, "1 to 6", 3, "normal"),
        ("by_person", 8, "1 to 6", 1, "normal"),
        ("by_group", 12, "3", 1, "normal"),
    ],
    ids=str,
)
def test_the_interval_of_an_effect_covers_it(setting):
    """A normal quantile covers 79 % with 3 people; a model without own effects 65 % with 20."""
    (row,) = coverage(RUNS, settings=[setting], seed=1).to_dict("records")
    assert row["n_runs"] >= RUNS * 0.95
    assert row["covers_percent"] >= 100 * stats.binom.ppf(0.0005, RUNS, LEAST_PERCENT / 100) / RUNS
