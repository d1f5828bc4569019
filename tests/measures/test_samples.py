"""Reading a quantity over cycles."""

import numpy as np
import pytest

from gaittrack.measures.sampled_cycles import SampledCycles
from gaittrack.measures.samples import (
    Grid,
    Series,
    at_column,
    means_of_rows,
    medians_of_rows,
)
from gaittrack.reasons import Reason

SQUARES = np.arange(11.0) ** 2


def sampled(values, *, from_=(0.0,), n_steps=10.0, zones=(), first=0):
    """Return cycles of ten steps in samples of which each has as many."""
    starts = np.array(from_)
    grid = Grid(
        starts,
        np.full(len(starts), n_steps),
        first + np.zeros(len(starts), dtype=np.intp),
        len(values),
    )
    around = np.array(zones or [(np.nan, np.nan)])[:, :, None] + np.zeros(len(starts))
    return SampledCycles(grid, (around[:, 0], around[:, 1]), lambda reads: next(iter(reads)))


def track(values, filled=None):
    mask = None if filled is None else np.isin(np.arange(len(values)), filled)
    n_filled = None if mask is None else np.concatenate(([0], np.cumsum(mask)))
    return Series(np.asarray(values, dtype=float), "ankle", n_filled)


def values_in(values, start, end, *, filled=None, refuse_filled=False, **given):
    """Return the samples of a window of one cycle, or the code of its reason."""
    cycles = sampled(values, **given)
    window = cycles.window(start, end)
    found = cycles.values_in(track(values, filled), window, refuse_filled=refuse_filled)
    (reason,) = cycles.reasons()
    return found.values[0, : window.n[0]].tolist() if reason is None else reason.code


def value_at(values, fraction, *, filled=None, **given):
    cycles = sampled(values, **given)
    (found,) = cycles.value_at(track(values, filled), np.array([fraction]))
    (reason,) = cycles.reasons()
    return found if reason is None else reason.code


def test_value_between_two_samples_is_linear():
    """A quarter of the way from 2 to 6 is 3."""
    assert value_at([0, 2, 6, 0], 0.125) == pytest.approx(3.0)


def test_window_ends_lie_between_samples():
    """The ends of a window are interpolated, the samples between are as recorded."""
    assert values_in(SQUARES, 0.15, 0.42) == pytest.approx([2.5, 4, 9, 16, 17.8])
    window = sampled(SQUARES).window(0.15, 0.42)
    fractions = [window.fraction_of(np.array([place]))[0] for place in range(5)]
    assert fractions == pytest.approx([0.15, 0.2, 0.3, 0.4, 0.42])


def test_windows_of_several_cycles_are_read_each_by_itself():
    """A longer one, a shorter one whose end is repeated, and one that is not reached."""
    cycles = sampled(SQUARES, from_=(0.0, 0.5, 9.0))
    window = cycles.window(np.array([0.1, 0.1, 0.1]), np.array([0.4, 0.2, 0.3]))
    found = cycles.values_in(track(SQUARES), window)
    assert found.values[:2].tolist() == [[1, 4, 9, 16], [2.5, 4, 6.5, 6.5]]
    assert (window.n[:2].tolist(), found.highest()[:2].tolist()) == ([4, 3], [16, 6.5])
    assert cycles.reasons() == [None, None, Reason("not_reached", of="ankle")]


def test_a_cycle_is_read_in_its_own_curve_of_several():
    """Nothing is read past the end of one into the next."""
    two = np.concatenate((SQUARES, -SQUARES))
    cycles = sampled(SQUARES, from_=(0.0, 0.0), first=np.array([0, 11]))
    assert cycles.value_at(track(two), 0.25).tolist() == [6.5, -6.5]
    found = cycles.values_in(track(two), cycles.window(0.85, 1.0)).values
    assert found.tolist() == [[72.5, 81, 100], [-72.5, -81, -100]]
    cycles.value_at(track(two), 1.1)
    assert not cycles.is_open.any()


def test_window_inside_one_sample_step_has_its_two_ends():
    """A window shorter than a frame still has values."""
    assert values_in([0, 10, 20], 0.12, 0.18) == pytest.approx([12, 18])


def test_cycle_that_ends_on_the_last_sample_is_read():
    """Rounding of event times does not push the end of a cycle out of the recording."""
    values, late = np.arange(31.0), (20.000000000001,)
    assert value_at(values, 1.0, from_=late) == pytest.approx(30.0)
    assert values_in(values, 0.0, 1.0, from_=late)[-1] == pytest.approx(30.0)


@pytest.mark.parametrize("fraction", [-0.3, 1.3, float("nan")])
def test_instant_outside_the_recording_is_not_defined(fraction):
    """Nothing is extrapolated."""
    assert value_at(np.arange(11.0), fraction) == "not_reached"


def test_gap_in_the_window_is_named():
    """The reason says which quantity has the gap."""
    values = np.arange(11.0)
    values[4] = np.nan
    assert values_in(values, 0.2, 0.6) == "gap"
    assert "gap in the ankle angle" in str(Reason("gap", of="ankle"))
    assert len(values_in(values, 0.5, 0.9)) == 5


def test_empty_window_is_not_defined():
    """A window that ends before it begins has no samples."""
    assert values_in(np.arange(11.0), 0.6, 0.4) == "no_samples"


def test_filled_sample_is_refused_near_an_event_only():
    """Filled samples inside an event's zone refuse the window, others do not."""
    values, near = np.arange(11.0), {"filled": [5], "zones": [(0.45, 0.55)]}
    assert values_in(values, 0.2, 0.9, **near) == "filled_gap"
    assert len(values_in(values, 0.2, 0.9, filled=[5], zones=[(0.75, 0.85)])) == 8
    assert len(values_in(values, 0.6, 0.9, **near)) == 4


def test_any_filled_sample_is_refused_on_demand():
    """Where filling may shape the result, no filled sample is accepted."""
    assert values_in(np.arange(11.0), 0.2, 0.9, filled=[5], refuse_filled=True) == "filled_gap"


def test_value_at_an_event_refuses_filled_neighbours():
    """The value at contact needs real samples all through the 50 ms around it."""
    values, near = np.arange(11.0), {"filled": [7], "zones": [(0.4, 0.75)]}
    assert value_at(values, 0.5, **near) == "filled_gap"
    assert value_at(values, 0.8, **near) == pytest.approx(8.0)


def test_a_filled_sample_at_the_very_edge_of_a_window_counts():
    """At its beginning and at its end; one beside it does not."""
    for at, wanted in ((3, "filled_gap"), (7, "filled_gap"), (2, [3, 4, 5, 6, 7])):
        found = values_in(np.arange(11.0), 0.3, 0.7, filled=[at], refuse_filled=True)
        assert found == wanted
    assert values_in(np.arange(11.0), 0.3, 0.7, filled=[8], refuse_filled=True) != "filled_gap"


def test_means_and_medians_of_rows_are_numpys_own():
    """To the last digit, of rows of which any part counts; NaN of none."""
    rng = np.random.default_rng(5)
    values, are = rng.normal(size=(40, 150)), rng.random((40, 150)) < rng.random((40, 1))
    are[0], are[1] = False, np.arange(150) == 3
    means, medians = means_of_rows(values, are), medians_of_rows(values, are)
    assert np.isnan([means[0], medians[0]]).all()
    for row in range(1, 40):
        own = values[row, are[row]]
        assert (means[row], medians[row]) == (own.mean(), np.median(own))


def test_one_of_each_row():
    """By its column."""
    assert at_column(np.arange(6.0).reshape(2, 3), np.array([2, 0])).tolist() == [2, 3]
