"""Short gaps are filled and remembered, long ones stay, nothing is extrapolated."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from gaittrack.kinematics.gaps import fill_short_gaps, runs


def swing(rate_hz, seconds=2.0):
    """Return a smooth path in three coordinates."""
    time_s = np.arange(round(seconds * rate_hz)) / rate_hz
    return np.stack([np.sin(3 * time_s), np.cos(3 * time_s), time_s**2], axis=1)


@pytest.mark.parametrize("rate_hz", [60.0, 100.0, 200.0])
def test_gap_of_a_tenth_of_a_second_is_filled_on_the_path(rate_hz):
    """To a tenth of a millimetre on a smooth path; the mask holds just the filled frames."""
    path = swing(rate_hz)
    hole = slice(50, 50 + round(0.1 * rate_hz))
    seen = path.copy()
    seen[hole] = np.nan
    filled, mask = fill_short_gaps(seen, rate_hz=rate_hz)
    assert np.abs(filled - path).max() < 1e-4
    assert runs(mask) == [(hole.start, hole.stop)]
    assert np.isnan(seen[hole]).all()


def test_a_fill_is_the_cubic_spline_through_six_samples_on_each_side():
    """Drawn places, with gaps near each other and near the ends, where there are fewer."""
    rng = np.random.default_rng(8)
    for _ in range(100):
        places = rng.normal(size=(40, 3))
        missing = np.zeros(40, dtype=bool)
        for start in rng.integers(2, 36, size=3):
            missing[start : start + rng.integers(1, 4)] = True
        missing[-2:] = False
        seen = np.where(missing[:, None], np.nan, places)
        filled, mask = fill_short_gaps(seen, rate_hz=100.0)
        assert mask.any()
        for start, stop in runs(mask):
            near = np.arange(max(0, start - 6), min(40, stop + 6))
            near = near[~missing[near]]
            spline = CubicSpline(near, places[near])(np.arange(start, stop))
            assert np.abs(filled[start:stop] - spline).max() <= 1e-12 * np.abs(spline).max()


@pytest.mark.parametrize("rate_hz", [60.0, 100.0, 200.0])
def test_longer_gap_stays_as_it_is(rate_hz):
    """One frame more than 0.1 s is not filled."""
    seen = swing(rate_hz)
    seen[50 : 51 + round(0.1 * rate_hz)] = np.nan
    filled, mask = fill_short_gaps(seen, rate_hz=rate_hz)
    assert np.array_equal(filled, seen, equal_nan=True) and not mask.any()


def test_nothing_is_added_at_the_ends():
    """Missing first and last frames stay missing."""
    seen = swing(100.0)
    seen[:3], seen[-2:] = np.nan, np.nan
    filled, mask = fill_short_gaps(seen, rate_hz=100.0)
    assert np.isnan(filled[:3]).all() and np.isnan(filled[-2:]).all() and not mask.any()


def test_frame_with_one_missing_coordinate_counts_as_missing():
    """All three coordinates of such a frame are filled."""
    path = swing(100.0)
    seen = path.copy()
    seen[40, 1] = np.nan
    seen[40, 0] = 99.0
    filled, mask = fill_short_gaps(seen, rate_hz=100.0)
    assert np.abs(filled - path).max() < 1e-4 and np.flatnonzero(mask).tolist() == [40]


def test_lone_frame_between_gaps_is_no_support_for_a_fill():
    """A spline through a single frame would invent a path."""
    seen = swing(100.0)
    seen[20:28], seen[29:40] = np.nan, np.nan
    filled, _ = fill_short_gaps(seen, rate_hz=100.0)
    assert np.isnan(filled[20:28]).all()
