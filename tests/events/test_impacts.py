"""Impacts of heights whose impacts are known."""

import numpy as np
import pytest

from gaittrack.events.impacts import find_impacts

RATE_HZ = 200.0
TIMES_S = np.arange(0.0, 1.0, 1 / RATE_HZ)


def heights(fall_m_s, stop_s):
    """Return the height of a point that falls and lies still from an instant on."""
    return np.maximum(stop_s - TIMES_S, 0.0)[:, None] * fall_m_s


@pytest.mark.parametrize("stop_s", [0.5, 0.5022, 0.61])
def test_a_fall_that_ends_is_an_impact_where_it_ends(stop_s):
    """To a fraction of a frame, with the speed that was lost."""
    ((impact,),) = find_impacts(heights(0.2, stop_s), RATE_HZ)
    assert impact.exact_frame / RATE_HZ == pytest.approx(stop_s, abs=0.002)
    assert impact.fall_stopped_m_s == pytest.approx(0.2, rel=0.15)


def test_slow_falls_and_rises_are_no_impacts():
    """Nothing is stopped that hardly falls, or that is on its way up."""
    assert find_impacts(heights(0.02, 0.5), RATE_HZ) == [[]]
    rising = np.maximum(TIMES_S - 0.5, 0.0)[:, None] * 0.2
    assert find_impacts(rising, RATE_HZ) == [[]]


def test_each_column_has_its_own():
    """Two points that land one after the other."""
    both = np.hstack([heights(0.2, 0.3), heights(0.3, 0.7)])
    (first,), (second,) = find_impacts(both, RATE_HZ)
    assert first.frame == pytest.approx(60, abs=1) and second.frame == pytest.approx(140, abs=1)


def test_an_impact_lies_at_the_vertex_of_the_parabola_through_its_peak():
    """Read from the peak and its neighbours, by numpy's own fit."""
    smooth = 0.02 * np.cos(2 * np.pi * 2.0 * (TIMES_S - 0.2513))[:, None]
    (impact, *_) = find_impacts(-smooth * 10, RATE_HZ)[0]
    assert impact.exact_frame != impact.frame
    assert (impact.exact_frame / RATE_HZ) % 0.5 == pytest.approx(0.2513, abs=5e-4)
