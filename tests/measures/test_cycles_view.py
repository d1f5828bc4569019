"""What one cycle gives to a measure."""

import math
from dataclasses import replace

import numpy as np
import pytest

from gaittrack.cycles import Cycle
from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.reading import NotDefined
from gaittrack.measures.recording import PreparedMotion
from gaittrack.reasons import Reason
from gaittrack.trial import AngleCurve, Provenance, Trial
from tests.motions import Walk, angles_only, one_cycle, with_filled


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
    return CyclesView(PreparedMotion(motion), [cycle])


def frames_of(cycle, start, end):
    at, are = CyclesView(PreparedMotion(Walk().motion()), [cycle]).frames(start, end)
    return at[are].tolist()


def span(window):
    return window.start[0], window.end[0]


def test_frames_of_a_window_lie_inside_it():
    """At 100 Hz, a cycle of 1 s from 0.304 s on: its first tenth has frames 31 to 40."""
    walk = Walk()
    assert walk.rate_hz == 100.0
    later = one_cycle(walk, start_s=0.304, end_s=1.304)
    assert frames_of(later, 0.0, 0.1) == list(range(31, 41))
    longer = one_cycle(walk, start_s=0.304, end_s=2.304)
    assert frames_of(longer, 0.1, 0.2) == list(range(51, 71))
    assert frames_of(one_cycle(walk, start_s=0.0, end_s=1.0), 0.0, 0.1) == list(range(11))
    assert frames_of(one_cycle(walk, start_s=-0.05, end_s=0.95), 0.0, 0.1) == list(range(6))


def test_windows_are_fractions_of_the_cycle():
    """Swing runs from toe-off to 1, its middle lies half-way."""
    walk = Walk()
    view = CyclesView(PreparedMotion(walk.motion()), [one_cycle(walk)])
    assert span(view.swing()) == pytest.approx((0.6, 1.0))
    assert span(view.swing_part(0.25, 0.85)) == pytest.approx((0.7, 0.94))
    assert (view.opposite_toe_off[0], view.opposite_contact[0]) == pytest.approx((0.12, 0.5))


def test_zones_of_events_last_as_long_in_a_long_cycle():
    """50 ms to each side of contact, of cycles of 1 and 2 s: a sample 60 ms away may be filled."""
    walk = Walk()
    cycle = one_cycle(walk)
    for filled_s, is_refused in ((0.05, True), (0.06, False)):
        at_s = cycle.start_s + filled_s
        motion = with_filled(walk.motion(), "right_heel", at_s, at_s)
        for length_s in (1, 2):
            longer = replace(cycle, end_s=cycle.start_s + length_s)
            view = CyclesView(PreparedMotion(motion), [longer])
            view.value_at(view.angle("foot_pitch"), 0.0)
            assert view.is_open.tolist() == [not is_refused]


def test_cycle_without_toe_off_has_no_swing():
    """A missing toe-off is never replaced by a default per cent."""
    walk = Walk()
    view = CyclesView(PreparedMotion(walk.motion()), [one_cycle(walk, toe_off_s=math.nan)])
    view.swing()
    assert view.reasons() == [Reason("no_toe_off")]


@pytest.mark.parametrize(("toe_off_s", "has_swing"), [(0.0, False), (0.01, True), (0.99, True)])
def test_a_toe_off_lies_within_its_cycle(toe_off_s, has_swing):
    """Of one second from half a second on; at its ends there is none."""
    cycle = one_cycle(Walk(), toe_off_s=0.5 + toe_off_s)
    view = CyclesView(PreparedMotion(Walk().motion()), [cycle])
    found = span(view.swing())
    assert view.is_open.tolist() == [has_swing]
    assert found == pytest.approx((toe_off_s, 1.0)) or not has_swing


def test_foot_flat_frames_are_those_of_the_own_foot_in_the_window():
    """The made-up foot is flat from 9 to 40 % of a cycle that begins at frame 50."""
    walk = Walk()
    view = CyclesView(PreparedMotion(walk.motion()), [one_cycle(walk)])
    at, are = view.foot_flat_frames(0.0, 0.6)
    assert at[are].tolist() == list(range(59, 91))
    assert view.fraction_of_frame(np.array([59])) == pytest.approx([0.09])


def test_curve_without_cycle_time_keeps_its_fractions():
    """The sheet's toe-off counts also when the cycle time is not known."""
    view = curve_view()
    assert view.toe_off == pytest.approx([0.62])
    assert view.value_at(view.angle("ankle"), 0.5) == pytest.approx([25.0])


def test_curve_without_cycle_time_has_no_rate():
    """Degrees per second need seconds."""
    view = curve_view()
    view.fast_rate("ankle")
    assert view.reasons() == [Reason("no_cycle_time_for_rate")]


def test_curve_with_cycle_time_has_its_rate_and_the_sheets_point_count():
    """50 deg over 1.25 s are 40 deg/s; the label tells the 51 points of the sheet."""
    view = curve_view(cycle_s=1.25, toe_off_s=0.775)
    assert view.value_at(view.fast_rate("ankle"), 0.5) == pytest.approx([40.0])
    assert view.rate_labels("ankle")[0] == Reason("lower_bound_of_curve", n_points=51)


def test_curve_has_no_other_side_and_no_markers():
    """What a sheet does not hold is named."""
    with pytest.raises(NotDefined, match="other side"):
        curve_view().angle("ankle", foot="other")
    with pytest.raises(NotDefined, match="no markers"):
        curve_view().point("heel", 0)
