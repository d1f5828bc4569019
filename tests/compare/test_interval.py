"""Promises of the intervals."""

import math

import numpy as np
import pytest
from scipy import stats

from gaittrack.compare.interval import (
    block_values,
    difference_interval,
    mean_interval,
    within_walk_interval,
)
from gaittrack.reasons import Reason

SLEEP_DRUG_1 = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
SLEEP_DRUG_2 = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]


def test_student_sleep_data_give_the_published_welch_interval():
    """Student 1908 (Cushny & Peebles), as printed in the manual page of R's ``sleep``."""
    found = difference_interval(SLEEP_DRUG_1, SLEEP_DRUG_2)
    assert found.low == pytest.approx(-3.3654832, abs=1e-6)
    assert found.high == pytest.approx(0.2054832, abs=1e-6)


def test_equal_counts_agree_with_another_library():
    """Scipy's Welch interval is the second computation."""
    rng = np.random.default_rng(0)
    a, b = rng.normal(3, 1, 5), rng.normal(1, 2, 5)
    theirs = stats.ttest_ind(a, b, equal_var=False).confidence_interval(0.95)
    ours = difference_interval(a, b)
    assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high))


def test_unequal_counts_lie_between_welch_and_cochran():
    """Welch from scipy; Cochran's quantile from its formula."""
    rng = np.random.default_rng(1)
    a, b = rng.normal(0, 2, 3), rng.normal(0, 1, 8)
    theirs = stats.ttest_ind(a, b, equal_var=False).confidence_interval(0.95)
    parts = a.var(ddof=1) / 3, b.var(ddof=1) / 8
    cochran = (parts[0] * 4.302653 + parts[1] * 2.364624) / sum(parts) * math.sqrt(sum(parts))
    ours = difference_interval(a, b)
    half = (ours.high - ours.low) / 2
    assert (theirs.high - theirs.low) / 2 < half < cochran


@pytest.mark.parametrize(("n", "m"), [(2, 2), (2, 3), (3, 3), (3, 8), (5, 5)])
@pytest.mark.parametrize("n_comparisons", [1, 3])
def test_swapping_conditions_mirrors_the_interval(n, m, n_comparisons):
    """Same width, other sign."""
    rng = np.random.default_rng(2)
    a, b = rng.normal(1, 1, n), rng.normal(0, 3, m)
    one = difference_interval(a, b, n_comparisons=n_comparisons)
    two = difference_interval(b, a, n_comparisons=n_comparisons)
    assert (one.low, one.high) == pytest.approx((-two.high, -two.low))


@pytest.mark.parametrize(
    ("n", "m", "reason"),
    [
        (1, 5, Reason("only_one_walk")),
        (0, 3, Reason("no_walk_with_value")),
        (2, 4, Reason("two_walks_against_many", n_more=4)),
        (8, 2, Reason("two_walks_against_many", n_more=8)),
    ],
)
def test_too_few_walks_get_a_reason_and_no_bounds(n, m, reason):
    """Nothing is shown where nothing was calibrated."""
    found = difference_interval(np.arange(n), np.arange(m))
    assert found.reason == reason
    assert math.isnan(found.low) and not found.excludes_zero


def test_walks_without_any_scatter_get_no_interval():
    """A zero-width interval would claim certainty."""
    assert difference_interval([1.0] * 4, [2.0] * 4).reason == Reason("walks_do_not_differ")


def test_several_comparisons_widen_the_interval():
    """Sidak's level for two comparisons is 0.97468."""
    rng = np.random.default_rng(3)
    a, b = rng.normal(0, 1, 6), rng.normal(0, 1, 6)
    theirs = stats.ttest_ind(a, b, equal_var=False).confidence_interval(0.95**0.5)
    ours = difference_interval(a, b, n_comparisons=2)
    assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high))


def test_dunnett_1955_blood_counts_give_the_published_conclusion():
    """Individual values of Dunnett 1955, J Am Stat Assoc 50:1096; scipy's Dunnett as second one.

    Drug B raises the count, drug A is not shown to; scatter is not pooled here, so the bounds
    differ a little from his.
    """
    control = [7.40, 8.50, 7.20, 8.24, 9.84, 8.32]
    drugs = [9.76, 8.80, 7.68, 9.36], [12.80, 9.68, 12.16, 9.20, 10.55]
    theirs = stats.dunnett(*drugs, control=control).confidence_interval(0.95)
    ours = [difference_interval(drug, control, n_comparisons=2) for drug in drugs]
    assert [each.excludes_zero for each in ours] == [False, True]
    assert list(theirs.low > 0) == [False, True]
    for found, low, high in zip(ours, theirs.low, theirs.high, strict=True):
        assert found.high - found.low == pytest.approx(high - low, rel=0.35)


def test_one_long_walk_each_is_labelled_within_this_walk_only():
    """Blocks of strides say nothing of another walk."""
    rng = np.random.default_rng(4)
    found = within_walk_interval(rng.normal(1, 1, 80), rng.normal(0, 1, 60))
    assert found.is_within_walk and found.low < found.high
    assert "within this walk only" in str(found.kind)


def test_one_short_walk_each_gets_no_interval():
    """49 strides are too few for five blocks of ten."""
    found = within_walk_interval(np.arange(49.0), np.arange(80.0))
    assert found.reason == Reason("too_few_strides_for_blocks", least=50)


def test_blocks_are_consecutive_and_cover_all_strides():
    """Means of 0..9, 10..19 … of fifty strides."""
    assert block_values(np.arange(50.0)[None, :])[0].tolist() == [4.5, 14.5, 24.5, 34.5, 44.5]


def test_the_interval_of_a_mean_agrees_with_another_library():
    """Scipy's one-sample t interval is the second computation."""
    theirs = stats.ttest_1samp(SLEEP_DRUG_2, 0).confidence_interval(0.95)
    ours = mean_interval(SLEEP_DRUG_2)
    assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high))


def test_a_mean_of_one_walk_or_of_equal_walks_has_no_interval():
    """And says why."""
    too_few, equal = Reason("mean_needs_two_walks"), Reason("walks_of_mean_do_not_differ")
    for values, reason in (([3.0], too_few), ([3.0, 3.0], equal), ([], too_few)):
        found = mean_interval(values)
        assert not found.is_shown and found.reason == reason and math.isnan(found.low)
