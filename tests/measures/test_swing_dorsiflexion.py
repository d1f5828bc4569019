"""The ankle in swing."""

import math

import numpy as np
import pytest

from gaittrack.measures.swing_dorsiflexion import CARRIED_OVER
from gaittrack.measures.toe_clearance import NO_MINIMUM
from gaittrack.reasons import Reason
from tests.motions import (
    ANGLE_KNOTS,
    Walk,
    angles_only,
    eased,
    one_cycle,
    single_hump,
    with_filled,
    with_gap,
)

PEAK = "peak_swing_dorsiflexion_deg"
MID = "mid_swing_dorsiflexion_deg"
AT_CLEARANCE = "dorsiflexion_at_toe_clearance_deg"
AT_CONTACT = "dorsiflexion_at_contact_deg"


def test_peak_in_swing_is_the_turning_point(measured):
    """The made-up ankle turns at 4 deg in swing; stance reaches 10 and does not count."""
    walk = Walk()
    found = measured(PEAK, walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(4.0, abs=0.01)
    assert found.labels == ()


def test_mid_swing_and_contact_are_read_at_their_instants(measured):
    """Mid-swing is 80 % of this cycle, contact its start."""
    walk = Walk()
    at_80 = eased(ANGLE_KNOTS["ankle"], np.array([0.8]))[0]
    assert measured(MID, walk.motion(), one_cycle(walk)).value == pytest.approx(at_80, abs=1e-6)
    assert measured(AT_CONTACT, walk.motion(), one_cycle(walk)).value == pytest.approx(0, abs=1e-6)


def test_dorsiflexion_at_clearance_is_read_at_the_toes_minimum(measured):
    """The toe of the double hump is lowest at mid-swing."""
    walk = Walk()
    mid = measured(MID, walk.motion(), one_cycle(walk)).value
    found = measured(AT_CLEARANCE, walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(mid, abs=0.05)


def test_without_a_toe_minimum_there_is_no_angle_at_it(measured):
    """The reason is that of the clearance."""
    walk = Walk(toe_height=single_hump)
    found = measured(AT_CLEARANCE, walk.motion(), one_cycle(walk))
    assert found.reason == Reason(NO_MINIMUM)


def test_maximum_left_over_from_stance_is_marked(measured):
    """An ankle that falls all through swing has its maximum at toe-off."""
    knots = ((0, 0), (0.45, 10), (0.85, -12), (1, -10), (1.0001, 0))
    walk = Walk(knots={**ANGLE_KNOTS, "ankle": knots})
    found = measured(PEAK, walk.motion(), one_cycle(walk))
    at_toe_off = eased(knots, np.array([0.6]))[0]
    assert found.value == pytest.approx(at_toe_off, abs=0.01)
    assert Reason(CARRIED_OVER) in found.labels


@pytest.mark.parametrize(("share", "is_marked"), [(0.05, True), (0.15, False), (0.25, False)])
def test_only_a_maximum_in_the_first_tenth_of_swing_is_left_over(measured, share, is_marked):
    """Swing is the last 40 % of this cycle; the ankle turns at 5, 15 and 25 % of it."""
    knots = ((0, 0), (0.45, -5), (0.6 + 0.4 * share, 8), (0.85, -3), (1, 0))
    walk = Walk(rate_hz=200, knots={**ANGLE_KNOTS, "ankle": knots})
    found = measured(PEAK, walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(8.0, abs=0.05)
    assert (Reason(CARRIED_OVER) in found.labels) == is_marked


def test_missing_toe_off_leaves_swing_undefined(measured):
    """Contact needs no toe-off, swing does."""
    walk = Walk()
    cycle = one_cycle(walk, toe_off_s=math.nan)
    assert measured(PEAK, walk.motion(), cycle).reason == Reason("no_toe_off")
    assert measured(MID, walk.motion(), cycle).reason == Reason("no_toe_off")
    assert measured(AT_CONTACT, walk.motion(), cycle).is_defined


def test_filled_samples_near_contact_are_refused(measured):
    """Within 50 ms of the contact nothing filled counts; 100 ms away it does."""
    walk = Walk()
    near = with_filled(walk.motion(), "right_heel", 0.54, 0.55)
    away = with_filled(walk.motion(), "right_heel", 0.60, 0.62)
    assert measured(AT_CONTACT, near, one_cycle(walk)).reason.code == "filled_gap"
    assert measured(AT_CONTACT, away, one_cycle(walk)).is_defined


def test_gap_in_swing_leaves_no_peak(measured):
    """The peak may lie in the gap."""
    walk = Walk()
    gap = with_gap(walk.motion(), "right", "ankle", 1.2, 1.3)
    assert measured(PEAK, gap, one_cycle(walk)).reason == Reason("gap", of="ankle")


def test_file_angles_are_named(measured):
    """The laboratory's own angles are used and said to be."""
    walk = Walk()
    found = measured(PEAK, angles_only(walk.motion()), one_cycle(walk))
    assert found.value == pytest.approx(4.0, abs=0.01)
    assert found.labels == (Reason("from_file"),)
