"""The second and third rockers."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.reasons import Reason
from tests.motions import ANGLE_KNOTS, TOE_OFF, Walk, eased, one_cycle

AT_TOE_OFF = float(eased(ANGLE_KNOTS["ankle"], np.array([TOE_OFF]))[0])


@pytest.mark.parametrize(
    ("name", "truth"),
    [
        ("peak_stance_dorsiflexion_deg", 10),
        ("push_off_ankle_deg", AT_TOE_OFF),
        ("push_off_range_deg", 10 - AT_TOE_OFF),
        ("stance_ankle_range_deg", 10 - AT_TOE_OFF),
        ("shank_lean_at_mid_stance_deg", 8),
    ],
)
def test_stance_values_are_those_of_the_curve(measured, name, truth):
    """Push-off is dorsiflexion-positive, hence negative."""
    walk = Walk()
    assert measured(name, walk.motion(), one_cycle(walk)).value == pytest.approx(truth, abs=0.01)


def test_early_plantarflexion_is_not_taken_for_push_off(measured):
    """A slap of 20 deg before the stance peak does not count as push-off."""
    knots = ((0, 0), (0.08, -20), (0.45, 10), (0.62, -15), (0.82, 4), (1, 0))
    walk = Walk(knots={**ANGLE_KNOTS, "ankle": knots})
    found = measured("push_off_ankle_deg", walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(AT_TOE_OFF, abs=0.01)
    whole = measured("stance_ankle_range_deg", walk.motion(), one_cycle(walk))
    assert whole.value == pytest.approx(30, abs=0.01)


def test_ankle_that_dorsiflexes_until_toe_off_has_no_push_off(measured):
    """The reason says what is missing."""
    knots = ((0, -10), (0.7, 12), (1, -10))
    walk = Walk(knots={**ANGLE_KNOTS, "ankle": knots})
    for name in ("push_off_ankle_deg", "push_off_range_deg"):
        assert measured(name, walk.motion(), one_cycle(walk)).reason.code == "no_push_off"


@pytest.mark.parametrize(("rate_hz", "off_percent"), [(1000, 0.01), (100, 0.1)])
def test_heel_rise_is_when_the_heel_leaves_its_band(measured, rate_hz, off_percent):
    """Half a cosine from 0 to 200 mm between 30 and 60 %: 12 mm at acos(1 - .12)/pi of it."""
    walk = Walk(rate_hz=rate_hz)
    motion = walk.motion()
    flat = {side: mask & (walk.phase(side)[1] < 0.3) for side, mask in motion.foot_flat.items()}
    motion = replace(motion, foot_flat=flat)
    truth = 100 * (0.3 + 0.3 * np.arccos(1 - 2 * 0.012 / 0.2) / np.pi)
    found = measured("heel_rise_time_percent", motion, one_cycle(walk))
    assert found.value == pytest.approx(truth, abs=off_percent)


def test_heel_that_never_comes_down_has_no_rise(measured):
    """A foot on its forefoot is told by its standing height."""
    walk = Walk()
    motion = walk.motion()
    heel = motion.points["right_heel"] + np.array([0, 0, 0.05])
    motion = replace(motion, points={**motion.points, "right_heel": heel}, foot_flat={})
    found = measured("heel_rise_time_percent", motion, one_cycle(walk))
    assert found.reason == Reason("heel_never_down")
