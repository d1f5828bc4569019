"""Reading a quantity over one cycle."""

import numpy as np
import pytest

from gaittrack.measures.samples import (
    CycleSamples,
    NotDefined,
    fraction_of_sample,
    value_at,
    values_in,
)


def track(values, *, start=0.0, n_steps=10.0, filled=None, zones=()):
    mask = None if filled is None else np.isin(np.arange(len(values)), filled)
    return CycleSamples(np.asarray(values, dtype=float), start, n_steps, mask, zones, "ankle")


def test_value_between_two_samples_is_linear():
    """A quarter of the way from 2 to 6 is 3."""
    assert value_at(track([0, 2, 6, 0]), 0.125) == pytest.approx(3.0)


def test_window_ends_lie_between_samples():
    """The ends of a window are interpolated, the samples between are as recorded."""
    squares = track(np.arange(11.0) ** 2)
    values = values_in(squares, 0.15, 0.42)
    fractions = [fraction_of_sample(squares, 0.15, 0.42, place) for place in range(len(values))]
    assert fractions == pytest.approx([0.15, 0.2, 0.3, 0.4, 0.42])
    assert values == pytest.approx([2.5, 4, 9, 16, 17.8])


def test_window_inside_one_sample_step_has_its_two_ends():
    """A window shorter than a frame still has values."""
    values = values_in(track([0, 10, 20]), 0.12, 0.18)
    assert values == pytest.approx([12, 18])


def test_cycle_that_ends_on_the_last_sample_is_read():
    """Rounding of event times does not push the end of a cycle out of the recording."""
    values = np.arange(31.0)
    whole = track(values, start=20.000000000001, n_steps=10.0)
    assert value_at(whole, 1.0) == pytest.approx(30.0)
    assert values_in(whole, 0.0, 1.0)[-1] == pytest.approx(30.0)


@pytest.mark.parametrize("fraction", [-0.3, 1.3, float("nan")])
def test_instant_outside_the_recording_is_not_defined(fraction):
    """Nothing is extrapolated."""
    with pytest.raises(NotDefined, match="does not reach"):
        value_at(track(np.arange(11.0)), fraction)


def test_gap_in_the_window_is_named():
    """The reason says which quantity has the gap."""
    values = np.arange(11.0)
    values[4] = np.nan
    with pytest.raises(NotDefined, match="gap in the ankle angle"):
        values_in(track(values), 0.2, 0.6)
    assert values_in(track(values), 0.5, 0.9).size == 5


def test_empty_window_is_not_defined():
    """A window that ends before it begins has no samples."""
    with pytest.raises(NotDefined, match="no samples"):
        values_in(track(np.arange(11.0)), 0.6, 0.4)


def test_filled_sample_is_refused_near_an_event_only():
    """Filled samples inside an event's zone refuse the window, others do not."""
    near = track(np.arange(11.0), filled=[5], zones=((0.45, 0.55),))
    away = track(np.arange(11.0), filled=[5], zones=((0.75, 0.85),))
    with pytest.raises(NotDefined, match="filled gap in the ankle angle"):
        values_in(near, 0.2, 0.9)
    assert values_in(away, 0.2, 0.9).size == 8
    assert values_in(near, 0.6, 0.9).size == 4


def test_any_filled_sample_is_refused_on_demand():
    """Where filling may shape the result, no filled sample is accepted."""
    with pytest.raises(NotDefined, match="filled"):
        values_in(track(np.arange(11.0), filled=[5]), 0.2, 0.9, refuse_filled=True)


def test_value_at_an_event_refuses_filled_neighbours():
    """The value at contact needs real samples all through the 50 ms around it."""
    near = track(np.arange(11.0), filled=[7], zones=((0.4, 0.75),))
    with pytest.raises(NotDefined, match="filled"):
        value_at(near, 0.5)
    assert value_at(near, 0.8) == pytest.approx(8.0)


def test_a_filled_sample_at_the_very_edge_of_a_window_counts():
    """At its beginning and at its end; one beside it does not."""
    for at, refused in ((3, True), (7, True), (2, False), (8, False)):
        edge = track(np.arange(11.0), filled=[at])
        if refused:
            with pytest.raises(NotDefined):
                values_in(edge, 0.3, 0.7, refuse_filled=True)
        else:
            assert values_in(edge, 0.3, 0.7, refuse_filled=True).tolist() == [3, 4, 5, 6, 7]
