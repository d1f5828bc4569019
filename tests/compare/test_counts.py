"""Promises of counted steps."""

import math

import numpy as np
import pytest
from scipy import stats

from gaittrack.compare.intervals import counts
from gaittrack.compare.intervals.counts import (
    all_deals,
    compare_counts,
    deal_gaps,
    permutation_p,
    share_bounds,
    share_of,
)

NONE, ALL = (0, 4), (4, 4)


@pytest.mark.parametrize(
    ("n", "m", "p"),
    [(3, 3, 2 / 20), (4, 4, 2 / 70), (5, 5, 2 / 252), (3, 5, 1 / 56), (2, 2, 2 / 6), (1, 5, 1 / 6)],
)
def test_none_to_all_has_the_smallest_p_that_its_walks_allow(n, m, p):
    """3 + 3 walks cannot tell by themselves, 4 + 4 can: p 0.029."""
    found = compare_counts([ALL] * n, [NONE] * m)
    assert found.p == found.least_p == pytest.approx(p)
    assert found.can_tell == found.is_changed == (p <= 0.05)


def test_counts_agree_with_another_library():
    """Scipy's exact permutation of walks."""
    rng = np.random.default_rng(0)
    for n, m in ((3, 4), (5, 5), (2, 7)):
        a, b = rng.binomial(6, 0.3, n) / 6, rng.binomial(6, 0.7, m) / 6
        theirs = stats.permutation_test(
            (a, b), lambda x, y: abs(x.mean() - y.mean()), alternative="greater", n_resamples=np.inf
        )
        assert permutation_p(a, b) == pytest.approx(theirs.pvalue)


def test_walks_that_all_agree_count_as_one_step_each():
    """Clopper and Pearson's interval of none of three, from scipy."""
    theirs = stats.binomtest(0, 3).proportion_ci()
    found = share_of([NONE] * 3)
    assert (found.low, found.high) == pytest.approx((100 * theirs.low, 100 * theirs.high))
    mirrored = share_of([ALL] * 3)
    assert (mirrored.low, mirrored.high) == pytest.approx((100 - found.high, 100 - found.low))


def test_walks_that_differ_much_count_for_less_than_their_steps():
    """Half of 24 steps, all in two of the four walks, against half in each walk nearly."""
    unlike = share_of([(6, 6), (6, 6), (0, 6), (0, 6)])
    alike = share_of([(3, 6), (4, 6), (2, 6), (3, 6)])
    assert (unlike.percent, alike.percent) == pytest.approx((50, 50))
    assert alike.high - alike.low < 0.8 * (unlike.high - unlike.low)
    theirs = stats.binomtest(2, 4).proportion_ci()
    assert (unlike.low, unlike.high) == pytest.approx((100 * theirs.low, 100 * theirs.high))


def test_walks_that_scatter_count_as_so_many_steps_as_korn_and_graubard_say():
    """Their formula, with scipy's quantiles: p (1 - p) / SE^2, times (z / t)^2."""
    shares, n_steps = np.array([0.5, 0.6, 0.8, 0.9]), 40
    p, squared_error = shares.mean(), shares.var(ddof=1) / 4
    z_to_t = stats.norm.ppf(0.975) / stats.t.ppf(0.975, 3)
    n = p * (1 - p) / squared_error * z_to_t**2
    assert 4 < n < n_steps
    low = stats.beta.ppf(0.025, n * p, n * (1 - p) + 1)
    high = stats.beta.ppf(0.975, n * p + 1, n * (1 - p))
    assert share_bounds(shares, np.array(n_steps)) == pytest.approx((low, high))


def test_swapping_conditions_mirrors_the_difference():
    """Same p, other sign."""
    a, b = [(1, 4), (2, 5), (0, 3)], [(4, 4), (3, 5)]
    one, two = compare_counts(a, b), compare_counts(b, a)
    assert (one.low, one.high, one.p) == pytest.approx((-two.high, -two.low, two.p))
    assert one.low < one.difference < one.high


def test_walks_without_a_seen_step_are_left_out():
    """None of none is no share."""
    found = compare_counts([ALL, (0, 0)], [])
    assert (found.own.n_walks, found.reference.n_walks) == (1, 0)
    assert math.isnan(found.p) and math.isnan(found.least_p) and not found.can_tell
    assert math.isnan(found.own.low) and found.own.percent == 100 and math.isnan(found.low)


def test_more_walks_than_can_all_be_dealt_are_drawn_always_alike():
    """11 + 11 walks: the same p twice, near the one of all 705,432 deals."""
    rng = np.random.default_rng(0)
    a, b = rng.random(11), rng.random(11) + 0.2
    theirs = stats.ttest_ind(a, b).pvalue
    assert permutation_p(a, b) == permutation_p(a, b) == pytest.approx(theirs, abs=0.03)


def test_deals_that_were_drawn_never_give_a_p_of_0(monkeypatch):
    """The walks as they were are one deal more than those drawn."""
    monkeypatch.setattr(counts, "MOST_DEALS", 500)
    assert permutation_p(np.ones(15), np.zeros(15)) == pytest.approx(1 / 501)


def test_every_deal_is_there_once():
    """Ten ways to deal two of five; the hands' means differ as by hand."""
    deals = all_deals(2, 5)
    assert len({tuple(each) for each in deals}) == 10 and (deals.sum(axis=1) == 2).all()
    found = deal_gaps(np.arange(5.0), deals)
    assert found[0] == pytest.approx(abs(0.5 - 3.0))
