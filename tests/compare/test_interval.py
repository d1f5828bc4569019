"""Promises of the intervals."""

import math

import numpy as np
import pytest
from scipy import stats

from gaittrack.compare.intervals.interval import (
    block_values,
    mean_interval,
    within_walk_interval,
)
from gaittrack.reasons import Reason

SLEEP_DRUG_2 = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]


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
