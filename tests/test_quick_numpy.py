"""What is taken without numpy's ceremony is what numpy gives, bit for bit."""

import math

import numpy as np

from gaittrack import quick_numpy


def test_medians_quantiles_means_and_lengths_are_those_of_numpy():
    """Few and many values, odd and even, in any layout."""
    rng = np.random.default_rng(2)
    for n in (1, 2, 3, 8, 51, 1000, 2000, 4001):
        values, rows = rng.normal(size=n), rng.normal(size=(n, 3))
        assert quick_numpy.median_of(values) == np.median(values)
        assert quick_numpy.mean_of(values) == values.mean()
        shares = (0.0, 0.05, 0.1, 1 / 3, 0.5, 0.95, 1.0)
        assert quick_numpy.quantiles_of(values, *shares) == tuple(np.quantile(values, shares))
        for share in shares:
            assert quick_numpy.quantiles_of(values, share) == (np.quantile(values, share),)
        for table in (rows, np.asfortranarray(rows), rng.normal(size=(n, 6))[:, ::2]):
            assert np.array_equal(quick_numpy.lengths_of(table), np.linalg.norm(table, axis=1))
            for axis in (0, 1):
                found = quick_numpy.medians_of(table, axis=axis)
                assert np.array_equal(found, np.median(table, axis=axis))


def test_what_is_unknown_stays_unknown():
    """A gap among the values, or no value at all, has no median."""
    for n in (3, 2500):
        for place in (0, n // 2, n - 1):
            values = np.arange(float(n))
            assert quick_numpy.known_of(values) is values
            values[place] = np.nan
            assert math.isnan(quick_numpy.median_of(values))
            assert np.array_equal(quick_numpy.known_of(values), np.delete(np.arange(n), place))
    assert math.isnan(quick_numpy.median_of(np.array([])))
    holes = np.where(np.eye(4, 3, dtype=bool), np.nan, np.ones((4, 3)))
    assert quick_numpy.gaps_of(holes).tolist() == [True, True, True, False]
    holed = np.array([[1.0, np.nan], [2.0, 3.0], [4.0, 5.0]])
    assert np.array_equal(
        quick_numpy.medians_of(holed, axis=0), np.array([2.0, np.nan]), equal_nan=True
    )


def test_medians_of_runs_are_those_of_each_run():
    """Runs of unlike lengths, to the last row, with a gap in one; none at all give none."""
    values = np.random.default_rng(3).normal(size=(60, 2, 3))
    values[31, 1, 0] = np.nan
    spans = [(0, 1), (3, 7), (10, 25), (30, 34), (40, 60)]
    wanted = np.array([np.median(values[start:stop], axis=0) for start, stop in spans])
    assert np.isnan(wanted).sum() == 1
    assert np.array_equal(quick_numpy.medians_of_runs(values, spans), wanted, equal_nan=True)
    assert quick_numpy.medians_of_runs(values, []).shape == (0, 2, 3)
