"""What a value is."""

import math
from dataclasses import replace

import numpy as np
import pytest

from gaittrack.measures import MEASURES
from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.measure import LabelOfSome, Value, compute_values
from gaittrack.measures.recording import PreparedMotion
from gaittrack.reasons import Reason
from tests.motions import Walk, one_cycle

LATE, ODD = Reason("carried_over"), Reason("hip_not_seen")


@pytest.fixture
def view():
    walk = Walk()
    cycle = one_cycle(walk)
    return CyclesView(PreparedMotion(walk.motion()), [cycle, replace(cycle, id="right-02")])


def computed(view, compute):
    return compute_values(replace(MEASURES[0], compute=compute), view)


def test_not_defined_has_a_reason_and_no_number_and_no_label(view):
    """Of the one cycle that is refused; the other keeps its number."""

    def compute(view):
        view.refuse(np.array([True, False]), Reason("no_toe_off"))
        return Value(np.array([1.0, 2.0]), (LATE,))

    values, labels = computed(view, compute)
    assert math.isnan(values[0]) and values[1] == 2.0
    assert view.reasons() == [Reason("no_toe_off"), None]
    assert labels == [(), (LATE,)]


def test_a_label_stands_beside_the_cycles_it_is_told_of(view):
    """In the order in which they are told."""
    some = LabelOfSome(ODD, np.array([False, True]))
    _, labels = computed(view, lambda _: Value(np.array([1.0, 2.0]), (some, LATE)))
    assert labels == [(LATE,), (ODD, LATE)]


@pytest.mark.parametrize("number", [math.nan, math.inf])
def test_number_that_is_none_never_passes_as_a_result(view, number):
    """A computation that ends in infinity or NaN is not defined."""
    values, _ = computed(view, lambda _: Value(np.array([number, 1.0])))
    assert math.isnan(values[0]) and values[1] == 1.0
    assert view.reasons()[0] and view.reasons()[1] is None
