"""What a value is."""

import math
from dataclasses import replace

from gaittrack.measures import MEASURES
from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.measure import Value, compute_value, not_defined
from gaittrack.measures.recording import PreparedMotion
from gaittrack.reasons import Reason
from tests.motions import Walk, one_cycle


def test_not_defined_is_a_value_without_a_number():
    """It keeps its reason and is told apart from a number."""
    value = not_defined(Reason("no_toe_off"), Reason("carried_over"))
    assert not value.is_defined
    assert (value.reason, value.labels) == (
        Reason("no_toe_off"),
        (Reason("carried_over"),),
    )
    assert Value(0.0).is_defined


def test_number_that_is_none_never_passes_as_a_result():
    """A computation that ends in infinity or NaN is not defined."""
    walk = Walk()
    view = CycleView(PreparedMotion(walk.motion()), one_cycle(walk))
    for number in (math.nan, math.inf):
        broken = replace(MEASURES[0], compute=lambda view, number=number: Value(number))
        found = compute_value(broken, view)
        assert math.isnan(found.value)
        assert found.reason
