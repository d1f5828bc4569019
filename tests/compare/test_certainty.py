"""Promises of both intervals of a difference and of their p-value."""

import math

import numpy as np
import pytest
from scipy import stats

from gaittrack.compare.intervals.certainty import certainty, half_width, p_value, walks_half_width
from gaittrack.compare.measurement_error.placement import UNTOUCHED, Placement

SLEEP_DRUG_1 = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
SLEEP_DRUG_2 = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]
ONE_DEGREE = Placement(1.0, 1.0)


def pair(n, m, seed=0, gap=1.0):
    """Make walks of two conditions."""
    rng = np.random.default_rng(seed)
    return rng.normal(gap, 1, n), rng.normal(0, 2, m)


def test_student_sleep_data_give_the_published_welch_interval_and_p():
    """Student 1908, as printed in the manual page of R's ``sleep``: p 0.07939."""
    found = certainty(SLEEP_DRUG_1, SLEEP_DRUG_2, UNTOUCHED)
    assert found.walks == pytest.approx((-3.3654832, 0.2054832), abs=1e-6)
    assert found.whole == found.walks
    assert found.p == pytest.approx(0.07939, abs=5e-6)


@pytest.mark.parametrize("n", [4, 5, 8])
def test_equal_counts_agree_with_another_library(n):
    """Scipy's Welch interval; p too, above 0.05."""
    a, b = pair(n, n, seed=3, gap=0.0)
    theirs = stats.ttest_ind(a, b, equal_var=False)
    assert certainty(a, b, UNTOUCHED).walks == pytest.approx(theirs.confidence_interval(0.95))
    assert theirs.pvalue > 0.05
    assert certainty(a, b, UNTOUCHED).p == pytest.approx(theirs.pvalue)


def test_below_5_percent_p_lies_between_welch_and_the_smaller_counts_t():
    """Families are judged there: a little more careful than Welch, less than the safest t."""
    a, b = pair(5, 8, gap=6.0)
    welch = stats.ttest_ind(a, b, equal_var=False)
    safest = 2 * stats.t.sf(abs(welch.statistic), 4)
    assert welch.pvalue < certainty(a, b, UNTOUCHED).p < safest


def test_two_walks_against_many_get_cochrans_interval():
    """Weights of the quantiles from the variances of both means."""
    a, b = pair(2, 8)
    parts = a.var(ddof=1) / 2, b.var(ddof=1) / 8
    quantile = (parts[0] * stats.t.ppf(0.975, 1) + parts[1] * stats.t.ppf(0.975, 7)) / sum(parts)
    assert walks_half_width(a, b) == pytest.approx(quantile * math.sqrt(sum(parts)))


def test_markers_widen_the_interval_by_their_square():
    """Half² = H² + 1.96² * 2 tau², and each condition may have a tau of its own."""
    a, b = pair(5, 5)
    bare = certainty(a, b, UNTOUCHED)
    for own, reference in ((1.0, 1.0), (1.1, 2.2)):
        found = certainty(a, b, Placement(own, reference))
        added = 1.959964**2 * (own**2 + reference**2)
        assert found.walks_half == bare.walks_half
        assert found.whole_half == pytest.approx(math.sqrt(bare.walks_half**2 + added))
        assert found.p > bare.p


@pytest.mark.parametrize("counts", [(2, 2), (2, 3), (2, 7), (3, 3), (3, 8), (6, 6)])
@pytest.mark.parametrize("placement", [UNTOUCHED, ONE_DEGREE, Placement(1, 1, 9, 0.4)])
def test_p_is_the_level_whose_whole_interval_touches_zero(counts, placement):
    """Just above it the interval leaves out 0, just below it holds it."""
    for gap in (0.5, 3.0, 12.0):
        a, b = pair(*counts, gap=gap)
        p = float(p_value(a, b, placement))
        off = abs(a.mean() - b.mean())
        assert half_width(a, b, placement, min(p * 1.0001, 1.0)) <= off
        assert half_width(a, b, placement, p * 0.9999) >= off


@pytest.mark.parametrize("counts", [(2, 2), (2, 3), (2, 7), (3, 3), (3, 8), (6, 6)])
def test_swapping_conditions_changes_only_the_sign(counts):
    """Same widths, same p."""
    a, b = pair(*counts)
    one, two = certainty(a, b, ONE_DEGREE), certainty(b, a, ONE_DEGREE)
    assert one.difference == -two.difference
    assert (one.walks_half, one.whole_half, one.p) == pytest.approx(
        (two.walks_half, two.whole_half, two.p)
    )


@pytest.mark.parametrize("counts", [(2, 2), (2, 3), (2, 7), (3, 3), (3, 8), (6, 6)])
def test_more_confidence_never_makes_an_interval_narrower(counts):
    """From 0.5 to 1e-9, so that p has one meaning."""
    a, b = pair(*counts)
    widths = [float(half_width(a, b, ONE_DEGREE, alpha)) for alpha in np.geomspace(0.5, 1e-9, 60)]
    assert widths == sorted(widths)


def test_many_cases_at_once_are_the_same_as_one_by_one():
    """The simulation judges as a comparison does."""
    rng = np.random.default_rng(1)
    many, others = rng.normal(size=(7, 3)), rng.normal(size=(7, 5))
    halves, ps = walks_half_width(many, others), p_value(many, others, ONE_DEGREE)
    for place, (a, b) in enumerate(zip(many, others, strict=True)):
        found = certainty(a, b, ONE_DEGREE)
        assert (halves[place], ps[place]) == pytest.approx((found.walks_half, found.p))


@pytest.mark.parametrize(
    ("a", "b"), [([1.0], [2.0, 3.0]), ([], [2.0, 3.0]), ([1.0, 1.0], [2.0, 2.0])]
)
def test_too_few_or_equal_walks_give_no_interval(a, b):
    """NaN, never a width of 0; not even markers make one."""
    found = certainty(a, b, ONE_DEGREE)
    assert math.isnan(found.walks_half) and math.isnan(found.whole_half) and math.isnan(found.p)
