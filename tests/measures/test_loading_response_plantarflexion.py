"""The first rocker, checked against falls whose rates are known in closed form."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import signal

from gaittrack.cycles import Cycle
from gaittrack.reasons import Reason
from gaittrack.trial import Signal
from tests.motions import ANGLE_KNOTS, Walk, angles_only, one_cycle, with_filled, with_gap

PEAK = "loading_response_plantarflexion_rate_deg_s"
MEAN = "loading_response_plantarflexion_mean_rate_deg_s"
FLOOR = "foot_to_floor_rate_deg_s"
TIME = "foot_lowering_time_ms"
ANGLE = "foot_lowering_angle_deg"
SHARE = "heel_contact_share_percent"


def falling(fall_deg, time_s, **changes):
    """Return a walk whose ankle falls by so much in so long after contact."""
    knots = ((0, 0), (time_s, -fall_deg), (0.45, 10), (0.62, -15), (0.82, 4), (1, 0))
    return Walk(knots={**ANGLE_KNOTS, "ankle": knots}, **changes)


# Raised-cosine falls: mean A/T, peak (pi/2)(A/T); printed values of the trade facts' table.
@pytest.mark.parametrize(
    ("fall_deg", "time_s", "mean", "peak"),
    [(6, 0.08, 75.0, 117.8), (12, 0.07, 171.4, 269.3), (15, 0.05, 300.0, 471.2)],
)
def test_rates_of_a_raised_cosine_fall_are_those_of_the_formula(
    measured, fall_deg, time_s, mean, peak
):
    """Peak is pi/2 times fall over time, mean is fall over time."""
    walk = falling(fall_deg, time_s, rate_hz=1000)
    assert measured(PEAK, walk.motion(), one_cycle(walk)).value == pytest.approx(peak, rel=2e-3)
    assert measured(MEAN, walk.motion(), one_cycle(walk)).value == pytest.approx(mean, rel=2e-3)


# Share of the true peak that a zero-lag low-pass leaves at 6, 15, 20 Hz; simulated elsewhere with
# surroundings of the fall that are not given, hence 2 points of tolerance.
@pytest.mark.parametrize(
    ("fall_deg", "time_s", "cutoff_hz", "left"),
    [
        (6, 0.08, 6, 0.69),
        (6, 0.08, 15, 0.98),
        (6, 0.08, 20, 1.00),
        (12, 0.07, 6, 0.63),
        (12, 0.07, 15, 0.96),
        (12, 0.07, 20, 0.99),
        (15, 0.05, 6, 0.48),
        (15, 0.05, 15, 0.87),
        (15, 0.05, 20, 0.95),
        (3, 0.10, 6, 0.80),
        (3, 0.10, 15, 1.00),
        (3, 0.10, 20, 1.00),
    ],
)
def test_filtering_leaves_the_known_share_of_the_peak(measured, fall_deg, time_s, cutoff_hz, left):
    """At 1000 Hz a second-order Butterworth run both ways, designed at cut-off / 0.802."""
    knots = ((0, 0), (time_s, -fall_deg), (1, -fall_deg))
    walk = Walk(rate_hz=1000, knots={**ANGLE_KNOTS, "ankle": knots}, n_cycles=1)
    motion = walk.motion()
    raw = motion.angles["right", "ankle"].values.copy()
    raw[: round(walk.start_s * 1000)] = 0
    raw[round((walk.start_s + 1) * 1000) :] = -fall_deg
    sections = signal.butter(2, cutoff_hz / 0.802, fs=1000, output="sos")
    smooth = Signal(signal.sosfiltfilt(sections, raw), "deg", "ankle")
    falling = {**motion.falling_angles, ("right", "ankle"): smooth}
    motion = replace(motion, falling_angles=falling, foot_flat={})
    peak = measured(PEAK, motion, one_cycle(walk)).value
    assert peak / (math.pi / 2 * fall_deg / time_s) == pytest.approx(left, abs=0.02)


def test_peak_rate_hardly_moves_with_the_contact_instant(measured):
    """A contact 20 ms late moves the mean rate, not the peak."""
    walk = falling(6, 0.08, rate_hz=1000)
    late = one_cycle(walk, start_s=walk.start_s + 0.02)
    assert measured(PEAK, walk.motion(), late).value == pytest.approx(117.8, rel=0.01)
    assert measured(MEAN, walk.motion(), late).value == pytest.approx(85.4, rel=0.01)


def test_foot_to_floor_rate_is_that_of_foot_pitch(measured):
    """20 deg in 80 ms: pi/2 * 250 deg/s."""
    walk = Walk(rate_hz=1000)
    found = measured(FLOOR, walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(392.7, rel=2e-3)


def test_foot_lowering_time_is_when_95_percent_of_the_fall_is_done(measured):
    """A raised cosine of 80 ms has done 95 % after acos(-0.9)/pi of it: 68.5 ms."""
    walk = Walk(rate_hz=1000)
    found = measured(TIME, walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(80 * math.acos(-0.9) / math.pi, abs=0.1)


def test_lowering_from_higher_takes_longer_at_the_same_speed_and_tells_the_angle(measured):
    """20 deg in 80 ms and 30 deg in 120 ms: as fast, half as long again, from 20 and 30 deg."""
    steady, higher = (
        Walk(rate_hz=1000, knots={**ANGLE_KNOTS, "foot_pitch": ((0, top), (time_s, 0), (1, top))})
        for top, time_s in ((20, 0.08), (30, 0.12))
    )
    found = [
        [
            measured(name, replace(walk.motion(), foot_flat={}), one_cycle(walk)).value
            for walk in (steady, higher)
        ]
        for name in (FLOOR, TIME, ANGLE)
    ]
    assert found[0][0] == pytest.approx(found[0][1], rel=0.01)
    assert found[1][1] / found[1][0] == pytest.approx(1.5, rel=0.01)
    assert found[2] == pytest.approx([20, 30], rel=0.01)


def test_foot_still_falling_at_the_windows_end_has_no_lowering_time(measured):
    """When the other foot leaves before the forefoot lands, there is no time to report."""
    walk = Walk()
    cycle = one_cycle(walk, opposite_toe_off_s=walk.start_s + 0.05)
    assert measured(TIME, walk.motion(), cycle).reason.code == "still_coming_down"


@pytest.mark.parametrize("contact", ["flat", "forefoot", "uncertain"])
@pytest.mark.parametrize("name", [PEAK, MEAN, FLOOR, TIME, ANGLE])
def test_without_heel_contact_there_is_no_first_rocker(measured, name, contact):
    """The reason names the contact type."""
    walk = Walk()
    found = measured(name, walk.motion(), one_cycle(walk, contact=contact))
    assert math.isnan(found.value)
    told = Reason("no_first_rocker", contact=contact)
    assert found.reason == (
        Reason("contact_uncertain_for_rocker") if contact == "uncertain" else told
    )


@pytest.mark.parametrize(
    ("contact", "share"), [("heel", 100.0), ("flat", 0.0), ("forefoot", 0.0), ("uncertain", None)]
)
def test_heel_contact_counts_each_stride(measured, contact, share):
    """The mean over strides is the share; an uncertain contact is in neither count."""
    walk = Walk()
    found = measured(SHARE, walk.motion(), one_cycle(walk, contact=contact))
    assert found.value == share if share is not None else found.reason.code == "contact_uncertain"


def test_ankle_that_only_dorsiflexes_after_contact_has_no_rate(measured):
    """No plantarflexion after contact is a result, not a small number."""
    knots = ((0, -8), (0.45, 10), (0.62, -15), (1, -8))
    walk = Walk(knots={**ANGLE_KNOTS, "ankle": knots})
    for name in (PEAK, MEAN):
        found = measured(name, walk.motion(), one_cycle(walk))
        assert found.reason == Reason("no_plantarflexion")


def test_filled_or_missing_samples_in_the_window_give_no_rate(measured):
    """A gap inside the fall cannot be filled without shaping the rate."""
    walk = Walk()
    filled = with_filled(walk.motion(), "right_forefoot", 0.56, 0.58)
    for name in (PEAK, MEAN, FLOOR, TIME):
        assert measured(name, filled, one_cycle(walk)).reason.code == "filled_gap"
    between_events = with_filled(walk.motion(), "right_forefoot", 0.56, 0.56)
    for name in (PEAK, MEAN, FLOOR, TIME, "foot_lowering_angle_deg"):
        assert measured(name, between_events, one_cycle(walk)).reason.code == "filled_gap"
    knee = with_filled(walk.motion(), "right_knee_centre", 0.56, 0.56)  # far from any event
    for name in (PEAK, MEAN):
        assert measured(name, knee, one_cycle(walk)).reason.code == "filled_gap"
    assert measured(FLOOR, knee, one_cycle(walk)).is_defined, "of heel and forefoot alone"
    gap = with_gap(walk.motion(), "right", "ankle", 0.54, 0.56)
    assert measured(PEAK, gap, one_cycle(walk)).reason == Reason("gap", of="ankle")


def test_filled_samples_elsewhere_leave_the_rate_alone(measured):
    """A gap filled in mid-stance is far from the fall."""
    walk = Walk()
    filled = with_filled(walk.motion(), "right_forefoot", 0.8, 0.85)
    assert measured(PEAK, filled, one_cycle(walk)).is_defined


def test_rate_carries_cut_off_frame_rate_and_window(measured):
    """Everything a reader must know stands beside the number."""
    walk = Walk(rate_hz=60)
    motion = replace(walk.motion(), foot_flat={})
    cycle = one_cycle(walk, opposite_toe_off_s=math.nan)
    labels = measured(PEAK, motion, cycle).labels
    assert labels[:2] == (Reason("low_passed", cutoff_hz=20.0), Reason("lower_bound", rate_hz=60))
    assert labels[2] == Reason("window_without_foot_flat")


def test_angles_without_markers_give_a_rate_with_both_reservations(measured):
    """Neither the smoothing nor the contact type is known from a sheet."""
    walk = Walk()
    cycle = one_cycle(walk, contact="unknown")
    found = measured(PEAK, angles_only(walk.motion()), cycle)
    assert found.is_defined
    assert Reason("from_file_rate") in found.labels
    assert Reason("contact_unknown") in found.labels
    assert measured(TIME, angles_only(walk.motion()), cycle).reason == Reason("no_foot_markers")


def curve_cycle(fall_deg, time_s, cycle_s, **changes):
    percent = np.linspace(0, 1, 101)
    share = np.clip(percent * 1.1 / time_s, 0, 1)
    curve = -fall_deg * (1 - np.cos(np.pi * share)) / 2
    cycle = Cycle(
        "right-01",
        "right",
        0.0,
        0.6 * cycle_s,
        cycle_s,
        percent_curves={"ankle": curve},
        from_curve=True,
        label="1",
    )
    return replace(cycle, **changes)


# 101-point sampling alone keeps 95, 95 and 90 % of the peak in a cycle of 1.1 s (simulated
# elsewhere). Central differences of a cosine at step h: sin(pi h/T)/(pi h/T), h = 11 ms.
@pytest.mark.parametrize(("fall_deg", "time_s"), [(6, 0.08), (12, 0.07), (15, 0.05)])
def test_rate_from_a_curve_is_a_lower_bound(measured, fall_deg, time_s):
    """The value stays at or below the truth and says so."""
    walk = Walk()
    found = measured(PEAK, angles_only(walk.motion()), curve_cycle(fall_deg, time_s, 1.1))
    truth = math.pi / 2 * fall_deg / time_s
    assert 0.85 * truth < found.value <= truth
    assert Reason("lower_bound_of_curve", n_points=101) in found.labels


def test_curve_without_cycle_time_has_no_rate(measured):
    """Angles yes, rates no."""
    motion = angles_only(Walk().motion())
    for name in (PEAK, MEAN):
        found = measured(name, motion, curve_cycle(6, 0.08, math.nan))
        assert found.reason.code == "no_cycle_time_for_rate"


def test_mean_curve_is_labelled(measured):
    """A value of an average is not a value of a stride."""
    motion = angles_only(Walk().motion())
    found = measured(PEAK, motion, curve_cycle(6, 0.08, 1.1, is_mean=True))
    assert Reason("of_mean_curve") in found.labels
