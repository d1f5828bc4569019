"""Cohort statistics against other computations and a published model."""

import numpy as np
import pandas as pd
import pingouin
import pytest
from scipy import stats

from gaittrack.cohort.changes import change_table
from gaittrack.cohort.deidentify import deidentify
from gaittrack.cohort.statistics import mean_difference, mixed_difference, statistics_table
from tests.cohort.made_up_cohort import RATE, SPEED, SWING, cohort

BOYS = """
26 25 29 31  21.5 22.5 23 26.5  23 22.5 24 27.5  25.5 27.5 26.5 27  20 23.5 22.5 26
24.5 25.5 27 28.5  22 22 24.5 26.5  24 21.5 24.5 25.5  23 20.5 31 26  27.5 28 31 31.5
23 23 23.5 25  21.5 23.5 24 28  17 24.5 26 29.5  22.5 25.5 25.5 26  23 24.5 26 30
22 21.5 23.5 25
"""
GIRLS = """
21 20 21.5 23  21 21.5 24 25.5  20.5 24 24.5 26  23.5 24.5 25 26.5  21.5 23 22.5 23.5
20 21 21 22.5  21.5 22.5 23 25  23 23 23.5 24  20 21 22 21.5  16.5 19 19 19.5
24.5 25 28 28
"""
AGES = (8.0, 10.0, 12.0, 14.0)


def test_the_mixed_model_gives_the_published_answer():
    """Potthoff & Roy 1964 (27 children), distance ~ age + sex, random intercept, REML.

    Pinheiro & Bates 2000, Mixed-Effects Models in S and S-PLUS, section 4.2: age 0.660185 (standard
    error 0.0616059), sex -2.321023 (0.7614168).
    """
    distance = np.array((BOYS + GIRLS).split(), dtype=float)
    assert distance.shape == (108,)
    age = np.tile(AGES, 27)
    is_girl = np.repeat([0.0] * 16 + [1.0] * 11, 4)
    child = np.repeat(np.arange(27), 4)
    sex = mixed_difference(distance, is_girl, child, covariate=age)
    assert sex.difference == pytest.approx(-2.321023, abs=2e-5)
    assert sex.standard_error == pytest.approx(0.7614168, abs=2e-4)
    slope = mixed_difference(distance, age, child, covariate=is_girl)
    assert slope.difference == pytest.approx(0.660185, abs=2e-6)
    assert slope.standard_error == pytest.approx(0.0616059, abs=2e-5)


def test_in_the_balanced_case_the_mixed_model_is_the_paired_comparison():
    """One value per person and condition: same difference and standard error as a paired t test."""
    rng = np.random.default_rng(3)
    person = rng.normal(scale=4, size=14)
    before, after = person + rng.normal(size=14), person + 2 + rng.normal(size=14)
    found = mixed_difference(
        np.concatenate([after, before]), np.repeat([1.0, 0.0], 14), np.tile(np.arange(14), 2)
    )
    paired = stats.ttest_rel(after, before)
    error = (after - before).mean() / paired.statistic
    assert found.difference == pytest.approx((after - before).mean(), rel=1e-6)
    assert found.standard_error == pytest.approx(error, rel=1e-3)


def test_the_mean_difference_has_the_interval_of_another_library():
    """Interval over people against pingouin's one-sample t test."""
    differences = np.random.default_rng(5).normal(3, 2, size=9)
    mean, low, high = mean_difference(differences)
    other = pingouin.ttest(differences, 0)["CI95"].iloc[0]
    assert mean == pytest.approx(differences.mean())
    assert [round(low, 2), round(high, 2)] == pytest.approx(list(other), abs=0.0051)


def test_few_people_give_no_interval_and_no_model():
    """One person has a difference and nothing more; two have no model; both say why."""
    mean, low, _ = mean_difference(np.array([2.0]))
    assert mean == 2.0
    assert np.isnan(low)
    two = mixed_difference(np.arange(4.0), np.array([1.0, 1, 0, 0]), np.array([1, 2, 1, 2]))
    assert np.isnan(two.difference)
    assert two.reason == "fewer than 3 people"


@pytest.fixture(scope="module")
def changes():
    """Six rise by 12 degrees, two by nothing, two fall by 12."""
    clean, _ = deidentify(cohort(10, effects=[12.0] * 6 + [0.0] * 2 + [-12.0] * 2))
    return change_table(clean)


def row_of(table, measure):
    return table[table["measure_id"] == measure].iloc[0]


def test_the_counts_are_those_of_the_verdicts(changes):
    """Everybody is counted once, whatever is said of them."""
    table = statistics_table(changes, n_people=11)
    swing = row_of(table, SWING)
    counted = [name for name in table.columns if name.startswith("n_") and name != "n_people"]
    assert swing[counted].sum() == 11
    assert swing["n_missing"] == 1
    larger = swing[["n_toward", "n_away", "n_larger_without_direction"]].sum()
    assert larger == 8
    assert swing["n_within"] + swing["n_not_shown"] == 2


def test_not_defined_is_counted_and_never_averaged(changes):
    """Nobody lands on the heel: no rate, ten people not defined, no difference."""
    rate = row_of(statistics_table(changes, n_people=10), RATE)
    assert (rate["n_people"], rate["n_not_defined"] + rate["n_not_comparable"]) == (0, 10)
    assert np.isnan(rate["mean_difference"])
    assert rate["mixed_reason"] == "fewer than 3 people"


def test_the_mean_over_people_is_that_of_their_rows(changes):
    """Mean and paired t interval by pandas and scipy from the change table itself."""
    swing = row_of(statistics_table(changes, n_people=10), SWING)
    own = changes.loc[changes["measure_id"] == SWING, "difference"].astype(float)
    interval = stats.ttest_1samp(own, 0).confidence_interval()
    assert swing["mean_difference"] == pytest.approx(own.mean())
    assert (swing["low"], swing["high"]) == pytest.approx((interval.low, interval.high))


def test_the_first_visit_counts_and_the_model_takes_all():
    """Ten people with two visits: ten differences, forty values in the model."""
    clean, _ = deidentify(cohort(5, n_visits=2))
    swing = row_of(statistics_table(change_table(clean), n_people=5), SWING)
    assert (swing["n_people"], swing["mixed_n_values"], swing["mixed_n_people"]) == (5, 20, 5)


def test_both_affected_sides_of_a_person_are_one_person():
    """Two rows of one person with two differences count once, with their mean."""
    base = {
        "measure_id": SPEED,
        "unit": "m/s",
        "side_role": "affected",
        "condition_code": "a",
        "reference_code": "b",
        "visit_no": 1,
        "typical": "",
        "reference_value": 1.0,
    }
    rows = [
        base | {"export_id": "p1", "difference": 0.5, "value": 1.5, "verdict": "not shown"},
        base | {"export_id": "p1", "difference": 0.1, "value": 1.1, "verdict": "not shown"},
        base | {"export_id": "p2", "difference": 0.1, "value": 1.1, "verdict": "not shown"},
    ]
    found = statistics_table(pd.DataFrame(rows), n_people=2).iloc[0]
    assert found["n_people"] == 2
    assert found["mean_difference"] == pytest.approx(0.2)
    assert found["n_not_shown"] == 2
