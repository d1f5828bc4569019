"""Promises of bands and of locating a difference along the cycle."""

import math

import numpy as np
import pytest

from gaittrack.compare.intervals.curve_bands import (
    critical_t,
    locate_difference,
    mean_band,
    roughness,
    splits,
)
from gaittrack.reasons import Reason


@pytest.fixture
def spm1d():
    """Return the other library, test-only."""
    return pytest.importorskip("spm1d")


def _curves(n, seed, shift=0.0):
    rng = np.random.default_rng(seed)
    x = np.linspace(0, 2 * np.pi, 101)
    waves = np.stack([np.sin(k * x + k) for k in range(1, 6)])
    return 10 * np.sin(x) + shift + rng.normal(0, 1, (n, 5)) @ waves


def _two_sample(spm1d, name):
    data = getattr(spm1d.data.uv1d.t2, name)()
    return data.YA, data.YB


@pytest.mark.parametrize("name", ["PlantarArchAngle", "SimulatedTwoLocalMax"])
def test_permutation_threshold_agrees_with_spm1d_on_its_own_data(spm1d, name):
    """spm1d's exact permutation test of its packaged two-sample data sets; a second computation."""
    a, b = _two_sample(spm1d, name)
    a, b = a[:5], b[:5]
    theirs = spm1d.stats.nonparam.ttest2(a, b).inference(0.05, two_tailed=True, iterations=-1)
    ours = locate_difference(a, b)
    assert ours.threshold == pytest.approx(theirs.zstar, rel=0.02)


@pytest.mark.parametrize(
    ("name", "iterations"), [("PlantarArchAngle", 2000), ("SimulatedTwoLocalMax", -1)]
)
def test_located_points_agree_with_spm1d_on_its_own_data(spm1d, name, iterations):
    """The same points of the whole data set lie beyond the threshold, but for its neighbours."""
    a, b = _two_sample(spm1d, name)
    np.random.seed(0)
    test = spm1d.stats.nonparam.ttest2(a, b)
    theirs = test.inference(0.05, two_tailed=True, iterations=iterations)
    ours = locate_difference(a, b)
    beyond = np.abs(theirs.z) > theirs.zstar
    mine = np.zeros(len(beyond), bool)
    for start, end in ours.stretches:
        per_point = 100 / (len(beyond) - 1)
        mine[round(start / per_point) : round(end / per_point) + 1] = True
    assert (beyond != mine).sum() <= 2


@pytest.mark.parametrize("name", ["Random", "SimulatedPataky2015a", "SimulatedPataky2015b"])
def test_band_quantile_agrees_with_spm1d_on_its_own_data(spm1d, name):
    """spm1d's random-field threshold of its packaged one-sample data sets."""
    data = getattr(spm1d.data.uv1d.t1, name)()
    theirs = spm1d.stats.ttest(data.Y).inference(0.05, two_tailed=True)
    residuals = data.Y - data.Y.mean(axis=0)
    ours = critical_t(len(data.Y) - 1, roughness(residuals))
    assert ours == pytest.approx(theirs.zstar, rel=0.01)


def test_band_of_parallel_curves_is_students():
    """Curves that differ by an offset only have one degree of freedom along the cycle."""
    curves = np.sin(np.linspace(0, 6, 101)) + np.array([0.0, 1.0, 3.0, 2.0, 2.5])[:, None]
    band = mean_band(curves)
    half = 2.776445 * np.std([0, 1, 3, 2, 2.5], ddof=1) / math.sqrt(5)
    assert np.allclose(band.high - band.mean, half, rtol=0.01)


def test_three_walks_get_a_mean_but_no_band():
    """The reason says how many are needed."""
    band = mean_band(_curves(3, 0))
    assert band.reason == Reason("no_band", n_walks=3, least=4) and np.isnan(band.low).all()
    assert np.isfinite(band.mean).all()


def test_fewer_than_four_walks_cannot_be_located():
    """It is said so."""
    found = locate_difference(_curves(3, 0), _curves(8, 1))
    assert found.finding == Reason("too_few_walks_to_locate")


def test_smallest_p_of_four_against_four_walks():
    """70 splits, two-sided: 2/70."""
    assert len(splits(4, 4)) == 70
    found = locate_difference(_curves(4, 0, shift=30), _curves(4, 1))
    assert found.p_value == pytest.approx(2 / 70)


def test_a_local_difference_is_found_where_it_is():
    """A bump at 60 % of the cycle, none elsewhere."""
    bump = 12 * np.exp(-(((np.arange(101) - 60) / 6) ** 2))
    found = locate_difference(_curves(7, 3) + bump, _curves(7, 4))
    assert found.stretches and len(found.finding["stretches"]) == len(found.stretches)
    assert all(45 <= start and end <= 75 for start, end in found.stretches)


def test_no_difference_is_located_in_at_most_one_of_twenty():
    """2000 null cases would take long; 200 stay below the 99.9 % binomial bound of 22."""
    hits = sum(
        bool(locate_difference(c[:4], c[4:]).stretches)
        for c in (_curves(8, 100 + k) for k in range(200))
    )
    assert hits <= 22


def test_swapping_conditions_changes_nothing_of_the_location():
    """The test is two-sided."""
    a, b = _curves(5, 5, shift=3), _curves(6, 6)
    one, two = locate_difference(a, b), locate_difference(b, a)
    assert one.stretches == two.stretches and one.p_value == pytest.approx(two.p_value)
