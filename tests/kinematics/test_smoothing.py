"""The low-pass filter: 3 dB down at its cut-off, no lag, gaps stay local."""

import math

import numpy as np
import pytest

from gaittrack.kinematics.smoothing import can_filter, low_pass, velocity


def gain_and_lag(frequency_hz, *, cutoff_hz, rate_hz):
    """Return amplitude ratio and phase (radians) of a filtered sine, away from the ends."""
    time_s = np.arange(round(8 * rate_hz)) / rate_hz
    wave = np.exp(2j * np.pi * frequency_hz * time_s)
    filtered = low_pass(wave.real.copy(), cutoff_hz=cutoff_hz, rate_hz=rate_hz)
    inside = slice(round(2 * rate_hz), round(6 * rate_hz))
    both = 2 * np.mean(filtered[inside] * np.conj(wave[inside]))
    return abs(both), math.atan2(both.imag, both.real)


@pytest.mark.parametrize("rate_hz", [60.0, 100.0, 200.0])
@pytest.mark.parametrize("cutoff_hz", [6.0, 15.0])
def test_filter_is_3_db_down_at_its_cutoff_and_has_no_lag(cutoff_hz, rate_hz):
    """A fourth-order zero-lag Butterworth filter: 0.707 at the cut-off (its definition)."""
    gain, lag = gain_and_lag(cutoff_hz, cutoff_hz=cutoff_hz, rate_hz=rate_hz)
    assert gain == pytest.approx(math.sqrt(0.5), abs=0.005)
    assert lag == pytest.approx(0.0, abs=0.005)


def test_filter_falls_off_as_a_fourth_order_one():
    """Far above the cut-off the gain goes with its fourth power (24 dB an octave)."""
    one, two = (gain_and_lag(f, cutoff_hz=6.0, rate_hz=1000.0)[0] for f in (24.0, 48.0))
    assert one / two == pytest.approx(16.0, rel=0.1)


def test_slow_movement_passes_unchanged():
    """A straight line stays a straight line, ends included."""
    line = np.linspace(0.0, 3.0, 200)
    assert np.allclose(low_pass(line, cutoff_hz=6.0, rate_hz=100.0), line, atol=1e-6)


def test_gap_does_not_spread():
    """Frames around a gap keep finite values, other columns are as without it."""
    rng = np.random.default_rng(1)
    values = np.cumsum(rng.standard_normal((300, 2, 3)), axis=0)
    whole = low_pass(values, cutoff_hz=6.0, rate_hz=100.0)
    values[100:120, 0] = np.nan
    holed = low_pass(values, cutoff_hz=6.0, rate_hz=100.0)
    assert np.array_equal(np.isnan(holed), np.isnan(values))
    assert np.allclose(holed[:, 1], whole[:, 1])


def test_stretch_of_three_frames_is_not_filtered_but_left_out():
    """Too short to filter: NaN, never an unfiltered value among filtered ones."""
    values = np.arange(50.0)
    values[10:20], values[23:30] = np.nan, np.nan
    assert np.isnan(low_pass(values, cutoff_hz=6.0, rate_hz=100.0)[20:23]).all()


def test_rate_too_low_for_the_cutoff_leaves_the_values():
    """At 30 Hz a cut-off of 15 Hz cannot be applied."""
    values = np.random.default_rng(1).standard_normal(60)
    assert not can_filter(15.0, 30.0) and can_filter(6.0, 30.0)
    assert np.array_equal(low_pass(values, cutoff_hz=15.0, rate_hz=30.0), values)


def test_velocity_is_per_second():
    """A parabola's slope by central differences is exact inside."""
    time_s = np.arange(100) / 50.0
    assert np.allclose(velocity(time_s**2, 50.0)[1:-1], 2 * time_s[1:-1])
