"""What is taken without numpy's ceremony is what numpy gives, bit for bit."""

import math

import numpy as np

from gaittrack import quick_numpy


def test_medians_quantiles_means_and_lengths_are_those_of_numpy():
    """Few and many values, odd and even, in any layout."""
    rng = np.random.default_rng(2)
    for n in (1, 2, 3, 8, 51, 1000):
        values, rows = rng.normal(size=n), rng.normal(size=(n, 3))
        assert quick_numpy.median_of(values) == np.median(values)
        assert quick_numpy.mean_of(values) == values.mean()
        shares = (0.0, 0.05, 0.1, 1 / 3, 0.5, 0.95, 1.0)
        assert quick_numpy.quantiles_of(values, *shares) == tuple(np.quantile(values, shares))
        for table in (rows, np.asfortranarray(rows), rng.normal(size=(n, 6))[:, ::2]):
            assert np.array_equal(quick_numpy.lengths_of(table), np.linalg.norm(table, axis=1))
            means = [quick_numpy.mean_of(row.copy()) for row in table.T]
            assert quick_numpy.means_of(table.T).tolist() == means
            for axis in (0, 1):
                found = quick_numpy.medians_of(table, axis=axis)
                assert np.array_equal(found, np.median(table, axis=axis))


def test_what_is_unknown_stays_unknown():
    """A gap among the values, or no value at all, has no median."""
    assert math.isnan(quick_numpy.median_of(np.array([1.0, np.nan, 2.0])))
    assert math.isnan(quick_numpy.median_of(np.array([])))
    holed = np.array([[1.0, np.nan], [2.0, 3.0], [4.0, 5.0]])
    assert np.array_equal(
        quick_numpy.medians_of(holed, axis=0), np.array([2.0, np.nan]), equal_nan=True
    )
