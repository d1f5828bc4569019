"""Promises of the drift over the walks."""

import math

import numpy as np
import pytest
from scipy import stats

from gaittrack.compare.intervals.trend import find_trend


def test_one_condition_agrees_with_another_library():
    """With two walks in the other it is scipy's test of a slope."""
    values = [1.0, 1.4, 2.9, 3.1, 5.2]
    theirs = stats.linregress(range(5), values)
    found = find_trend(values, [4.0, 9.0])
    assert found.slope == pytest.approx(theirs.slope) and math.isnan(found.reference_slope)
    assert found.p == pytest.approx(theirs.pvalue)


def test_both_conditions_agree_with_two_least_squares_models():
    """F of the model with slopes against the one without, both fitted by numpy."""
    rng = np.random.default_rng(0)
    walks = rng.normal(size=5), rng.normal(size=7)
    left = [np.polyfit(range(len(each)), each, 1, full=True)[1][0] for each in walks]
    whole = sum(float(((each - each.mean()) ** 2).sum()) for each in walks)
    ratio = (whole - sum(left)) / 2 / (sum(left) / 8)
    assert find_trend(*walks).p == pytest.approx(stats.f.sf(ratio, 2, 8))


def test_a_clear_drift_is_named_and_a_steady_walk_is_not():
    """One degree a walk with a tenth of scatter, in one condition or in both."""
    rng = np.random.default_rng(1)
    steady, drifting = rng.normal(0, 0.1, (2, 5)) + np.array([[0.0], [1.0]]) * np.arange(5)
    assert find_trend(drifting, steady).is_named and find_trend(drifting, drifting + 9).is_named
    assert not find_trend(steady, steady[::-1]).is_named
    assert find_trend([1, 2, 3, 4], [5, 6, 7, 8]).is_named


@pytest.mark.parametrize(
    ("a", "b"), [([1, 2], [3, 4]), ([1, 2, 9], [3, 4]), ([], []), ([1.0] * 4, [2.0] * 4)]
)
def test_too_few_walks_or_equal_ones_are_not_judged(a, b):
    """NaN, and nothing named."""
    found = find_trend(a, b)
    assert math.isnan(found.p) and not found.is_named
