"""Short gaps are filled and remembered, long ones stay, nothing is extrapolated."""

import numpy as np
import pytest

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
