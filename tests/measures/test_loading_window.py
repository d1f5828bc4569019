"""Where the first rocker ends."""

import math
from dataclasses import replace

import numpy as np
import pytest

from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.loading_window import loading_response, lowering_window
from gaittrack.measures.measure import LabelOfSome
from gaittrack.measures.recording import PreparedMotion
from gaittrack.reasons import Reason
from tests.motions import ANGLE_KNOTS, Walk, one_cycle


def view(*, flat=True, opposite_toe_off=0.12):
    walk = Walk()
    motion = walk.motion()
    if not flat:
        never = np.zeros(motion.n_frames, dtype=bool)
        motion = replace(motion, foot_flat={"left": never, "right": never})
    cycle = one_cycle(walk, opposite_toe_off_s=walk.start_s + opposite_toe_off)
    return CyclesView(PreparedMotion(motion), [cycle])


@pytest.mark.parametrize(
    ("flat", "opposite_toe_off", "end"),
    [(True, 0.12, 0.09), (True, 0.06, 0.06), (False, 0.12, 0.12), (True, math.nan, 0.09)],
)
def test_window_ends_at_the_earlier_of_foot_flat_and_opposite_toe_off(flat, opposite_toe_off, end):
    """Each alone ends it when the other is not seen."""
    found = lowering_window(view(flat=flat, opposite_toe_off=opposite_toe_off))
    assert found.span.end == pytest.approx([end])
    assert not any(told.where for told in found.labels)


def test_window_without_either_ends_at_20_percent_and_says_so():
    """The last resort is named beside the value."""
    found = lowering_window(view(flat=False, opposite_toe_off=math.nan))
    assert found.span.end == [0.20]
    assert found.labels == (LabelOfSome(Reason("window_without_foot_flat"), np.array([True])),)


def test_knee_window_ignores_foot_flat():
    """Loading of the knee lasts to the opposite toe-off."""
    assert loading_response(view()).span.end == pytest.approx([0.12])
    (told,) = loading_response(view(opposite_toe_off=math.nan)).labels
    assert told == LabelOfSome(Reason("window_without_toe_off"), np.array([True]))


def test_slow_foot_is_not_flat_before_it_has_landed():
    """A foot lowered in 300 ms is low and slow from 150 ms on; the window waits for its landing."""
    knots = ((0, 8), (0.3, 0), (0.4, 0), (0.62, -60), (0.9, 10), (1, 8))
    walk = Walk(knots={**ANGLE_KNOTS, "foot_pitch": knots})
    motion = walk.motion()
    flat = {side: walk.phase(side)[1] < 0.4 for side in ("left", "right")}
    flat = {side: mask & (walk.phase(side)[1] > 0.15) for side, mask in flat.items()}
    cycle = one_cycle(walk, opposite_toe_off_s=math.nan)
    motion = replace(motion, foot_flat=flat)
    found = lowering_window(CyclesView(PreparedMotion(motion), [cycle]))
    quarter_speed = 0.3 * (1 - math.asin(0.25) / math.pi)
    assert found.span.end == pytest.approx([quarter_speed], abs=0.011)
