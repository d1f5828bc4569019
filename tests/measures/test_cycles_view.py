"""What one cycle gives to a measure."""

import math
from dataclasses import replace

import numpy as np
import pytest

from gaittrack.cycles import Cycle
from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.recording import PreparedMotion
from gaittrack.measures.samples import NotDefined, value_at
from gaittrack.reasons import Reason
from gaittrack.trial import AngleCurve, Provenance, Trial
from tests.motions import Walk, angles_only, one_cycle


def curve_view(*, cycle_s=math.nan, toe_off_percent=62.0, toe_off_s=math.nan):
    values = np.linspace(0, 50, 51)
    curve = AngleCurve("right", "ankle", "step 1", values, cycle_s, toe_off_percent)
    trial = Trial(math.nan, 0, Provenance("made_up.csv", "", "joint-angle sheet"), curves=(curve,))
    motion = replace(angles_only(Walk().motion()), trial=trial, angles={}, angle_origin={})
    cycle = Cycle(
        "right-01",
        "right",
        0.0,
        toe_off_s,
        cycle_s,
        percent_curves={"ankle": np.linspace(0, 50, 101)},
        from_curve=True,
        label="step 1",
    )
    return CycleView(PreparedMotion(motion), cycle)


def test_frames_of_a_window_lie_inside_it():
    """At 100 Hz, a cycle of 1 s from 0.304 s on: its first tenth has frames 31 to 40."""
    walk = Walk()
    motion = walk.motion()
    assert motion.rate_hz == 100.0
    later = CycleView(PreparedMotion(motion), one_cycle(walk, start_s=0.304, end_s=1.304))
    assert later.frames(0.0, 0.1) == slice(31, 41)
    longer = CycleView(PreparedMotion(motion), one_cycle(walk, start_s=0.304, end_s=2.304))
    assert longer.frames(0.1, 0.2) == slice(51, 71)
    first = CycleView(PreparedMotion(motion), one_cycle(walk, start_s=0.0, end_s=1.0))
    assert first.frames(0.0, 0.1) == slice(0, 11)
    before = CycleView(PreparedMotion(motion), one_cycle(walk, start_s=-0.05, end_s=0.95))
    assert before.frames(0.0, 0.1) == slice(0, 6)


def test_windows_are_fractions_of_the_cycle():
    """Swing runs from toe-off to 1, its middle lies half-way."""
    walk = Walk()
    view = CycleView(PreparedMotion(walk.motion()), one_cycle(walk))
    assert view.swing() == pytest.approx((0.6, 1.0))
    assert view.swing_part(0.25, 0.85) == pytest.approx((0.7, 0.94))
    assert (view.opposite_toe_off, view.opposite_contact) == pytest.approx((0.12, 0.5))


def test_zones_of_events_last_as_long_in_a_long_cycle():
    """50 ms to each side of contact, of a cycle of 2 s."""
    walk = Walk()
    cycle = one_cycle(walk)
    view = CycleView(PreparedMotion(walk.motion()), replace(cycle, end_s=cycle.start_s + 2))
    assert view.angle("ankle").zones[0] == pytest.approx((-0.025, 0.025))


def test_cycle_without_toe_off_has_no_swing():
    """A missing toe-off is never replaced by a default per cent."""
    walk = Walk()
    view = CycleView(PreparedMotion(walk.motion()), one_cycle(walk, toe_off_s=math.nan))
    with pytest.raises(NotDefined, match="no toe-off"):
        view.swing()


@pytest.mark.parametrize(("toe_off_s", "has_swing"), [(0.0, False), (0.01, True), (0.99, True)])
def test_a_toe_off_lies_within_its_cycle(toe_off_s, has_swing):
    """Of one second from half a second on; at its ends there is none."""
    cycle = one_cycle(Walk(), toe_off_s=0.5 + toe_off_s)
    view = CycleView(PreparedMotion(Walk().motion()), cycle)
    if has_swing:
        assert view.swing() == pytest.approx((toe_off_s, 1.0))
        return
    with pytest.raises(NotDefined):
        view.swing()


def test_foot_flat_frames_are_those_of_the_own_foot_in_the_window():
    """The made-up foot is flat from 9 to 40 % of a cycle that begins at frame 50."""
    walk = Walk()
    view = CycleView(PreparedMotion(walk.motion()), one_cycle(walk))
    frames = view.foot_flat_frames(0.0, 0.6)
    assert (frames[0], frames[-1]) == (59, 90)
    assert view.fraction_of_frame(59) == pytest.approx(0.09)


def test_curve_without_cycle_time_keeps_its_fractions():
    """The sheet's toe-off counts also when the cycle time is not known."""
    view = curve_view()
    assert view.toe_off == pytest.approx(0.62)
    assert value_at(view.angle("ankle"), 0.5) == pytest.approx(25.0)


def test_curve_without_cycle_time_has_no_rate():
    """Degrees per second need seconds."""
    with pytest.raises(NotDefined, match="no cycle time"):
        curve_view().fast_rate("ankle")


def test_curve_with_cycle_time_has_its_rate_and_the_sheets_point_count():
    """50 deg over 1.25 s are 40 deg/s; the label tells the 51 points of the sheet."""
    view = curve_view(cycle_s=1.25, toe_off_s=0.775)
    assert value_at(view.fast_rate("ankle"), 0.5) == pytest.approx(40.0)
    assert view.rate_labels("ankle")[0] == Reason("lower_bound_of_curve", n_points=51)


def test_curve_has_no_other_side_and_no_markers():
    """What a sheet does not hold is named."""
    with pytest.raises(NotDefined, match="other side"):
        curve_view().angle("ankle", side="left")
    with pytest.raises(NotDefined, match="no markers"):
        curve_view().point("heel", 0)
