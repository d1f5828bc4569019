"""Promises of what re-placed markers add to an interval."""

import math

import pytest
from scipy import stats

from gaittrack.compare.measurement_error.placement import UNTOUCHED, Placement, placement_of_visits


def test_error_is_2_77_times_a_known_scatter():
    """1.96 * sqrt(2) * tau, and nothing where nothing was touched."""
    assert Placement(1.8, 1.8).error == pytest.approx(1.8 * 2.7718, rel=1e-4)
    assert UNTOUCHED.error == 0


def test_visits_leave_the_scatter_of_walks_out():
    """3-4-5: SEM 5, walks 4, so markers 3."""
    found = placement_of_visits(5.0, 1e9, 4.0)
    assert (found.own, found.reference) == (3.0, 3.0)
    assert found.error == pytest.approx(1.959964 * math.sqrt(2) * 3)


def test_few_persons_widen_the_whole_scatter_of_visits_not_the_walks():
    """The t of 4 degrees on SEM², z on the walks in it."""
    t, z = stats.t.ppf(0.975, 4), stats.norm.ppf(0.975)
    found = placement_of_visits(5.0, 4, 4.0)
    assert found.error == pytest.approx(math.sqrt(2 * (25 * t**2 - 16 * z**2)))
    assert placement_of_visits(5.0, 4).error == pytest.approx(math.sqrt(2) * 5 * t)


def test_visits_that_walks_explain_leave_no_scatter_of_markers():
    """Never the root of a negative number."""
    found = placement_of_visits(1.0, 1e9, 2.0)
    assert (found.own, found.error) == (0.0, pytest.approx(0.0, abs=1e-3))
    t, z = stats.t.ppf(0.975, 4), stats.norm.ppf(0.975)
    few = placement_of_visits(1.0, 4, 2.0)
    assert few.error == pytest.approx(math.sqrt(2 * (t**2 - z**2)))


@pytest.mark.parametrize("given", [(-1, 5, 0), (1, 0, 0), (1, 5, -1), (math.nan, 5, 0)])
def test_impossible_figures_are_refused(given):
    """With what was given."""
    with pytest.raises(ValueError, match="0 or more, got"):
        placement_of_visits(*given)
