"""The interval of a cohort's effect, on made-up cohorts: few people, many visits, speed."""

import pytest
from scipy import stats

from tests.calibration.effect_coverage import coverage

RUNS = 150
LEAST_PERCENT = 93.0


@pytest.mark.parametrize(
    "setting",
    [
        ("normal", 3, 1, 0, False),
        ("normal", 3, 6, 3, False),
        ("normal", 5, 3, 1, True),
        ("normal", 20, 3, 3, False),
        ("normal", 20, "1 to 6", 3, True),
        ("skewed", 8, "1 to 6", 1, False),
    ],
    ids=str,
)
def test_the_interval_of_an_effect_covers_it(setting):
    """A normal quantile covers 79 % with 3 people; a model without own effects 65 % with 20."""
    (row,) = coverage(RUNS, settings=[setting], seed=1).to_dict("records")
    assert row["n"] >= RUNS * 0.95
    assert row["covers"] >= 100 * stats.binom.ppf(0.0005, RUNS, LEAST_PERCENT / 100) / RUNS
