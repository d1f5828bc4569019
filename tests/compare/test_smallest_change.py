"""What walks can show, said beforehand, is what the rule of every comparison would call larger."""

import math

import numpy as np
import pytest

from gaittrack.compare.intervals.certainty import ALPHA, p_value
from gaittrack.compare.intervals.holm import AIMS_SHARE
from gaittrack.compare.intervals.smallest_change import (
    LEAST_DEGREES,
    LEFT_ON,
    PUT_ON_AGAIN,
    WALKS,
    FromWalkToWalk,
    shown_changes,
    smallest_change,
)
from gaittrack.compare.measurement_error.marker_errors import MeasurementError
from gaittrack.compare.measurement_error.placement import UNTOUCHED, Placement
from gaittrack.compare.walked.questions import QUESTIONS
from gaittrack.reasons import Reason

PITCH, SPEED, TOE = "foot_pitch_at_contact_deg", "walking_speed_m_s", "toe_height_under_hip_mm"
MARKERS = Placement(1.0, 1.0)


def error(placement=UNTOUCHED, size=0.0):
    """Give an error: of placement, inside the interval, or of a size beside it."""
    is_inside = placement is not UNTOUCHED
    return MeasurementError(placement, size, Reason("error_speed"), is_inside, False)


def test_it_is_the_half_width_of_the_interval_by_hand():
    """Three and three walks of SD 1, an only aim: t of 4 degrees at 4 %, a little of that of 2."""
    one = FromWalkToWalk(1.0, 100)
    t4, t2, z = 2.99853, 4.84873, 2.05375  # at 0.98
    drawn = 0.1 * math.log(0.05 / 0.04) / math.log(8)
    walks = (t4 + drawn * (t2 - t4)) * math.sqrt(2 / 3)
    found = smallest_change(one, 3, error(), share=AIMS_SHARE)
    assert found == pytest.approx(walks, rel=1e-4)
    markers = z * math.sqrt(2)
    found = smallest_change(one, 3, error(MARKERS), share=AIMS_SHARE)
    assert found == pytest.approx(math.hypot(walks, markers), rel=1e-4)
    assert smallest_change(one, 3, error(size=7.0), share=AIMS_SHARE) == 7.0


@pytest.mark.parametrize("n", WALKS)
@pytest.mark.parametrize("placement", [UNTOUCHED, MARKERS])
def test_a_true_change_of_that_size_is_called_in_half_of_trials(n, placement):
    """By simulation, as the guide says: 43-55 %, and one and a half times as large in 82 % on."""
    rng = np.random.default_rng(n)
    for share in (AIMS_SHARE, 1 / 15):
        least = smallest_change(FromWalkToWalk(1.0, 100), n, error(placement), share=share)
        for size, low, high in ((least, 0.43, 0.55), (1.5 * least, 0.82, 1.0)):
            own, reference = (
                rng.normal(size=(3000, n)) + placement.own * rng.normal(size=(3000, 1))
                for _ in range(2)
            )
            called = p_value(own + size, reference, placement) <= ALPHA * share
            assert low <= called.mean() <= high


def test_every_mark_of_every_question_is_told_or_not_known_yet():
    """Own scatter first, on any step of the ladder; a published one of angles; else nothing."""
    own = {
        TOE: FromWalkToWalk(2.0, LEAST_DEGREES, 20.0),
        PITCH: FromWalkToWalk(9.0, LEAST_DEGREES - 1, 5.0),
        SPEED: FromWalkToWalk(0.01, 50, 0.3),
    }
    left_on, again = (shown_changes(own, each) for each in (LEFT_ON, PUT_ON_AGAIN))
    assert len(left_on) == sum(len(each.marks) for each in QUESTIONS)
    found = {each.measure: each for each in left_on}
    assert found[TOE].scatter == own[TOE]
    assert not found[PITCH].scatter.is_own and found[PITCH].scatter.sd == 2.5
    assert found["foot_to_floor_rate_deg_s"].as_aim == ()
    assert found[SPEED].as_aim == (0.10, 0.10, 0.10)  # of the band below 0.4 m/s
    for one, other in zip(left_on, again, strict=True):
        assert list(one.as_aim) == sorted(one.as_aim, reverse=True)
        assert all(aim <= none for aim, none in zip(one.as_aim, one.without_aims, strict=True))
        assert one.measure == other.measure
    of_fifteen = smallest_change(own[TOE], 8, error(MARKERS), share=1 / 15)
    by_measure = {each.measure: each for each in again}
    assert by_measure[TOE].without_aims[2] == pytest.approx(of_fifteen)
