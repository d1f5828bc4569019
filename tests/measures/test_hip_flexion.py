"""The high step."""

from dataclasses import replace

import pytest

from gaittrack.reasons import Reason
from tests.motions import Walk, one_cycle


@pytest.mark.parametrize(
    ("name", "peak"),
    [
        ("peak_hip_flexion_pelvis_thigh_deg", 34),
        ("peak_hip_flexion_thigh_vertical_deg", 25),
        ("peak_swing_knee_flexion_deg", 62),
    ],
)
def test_peak_in_swing_is_the_turning_point(measured, name, peak):
    """Each convention has its own value."""
    walk = Walk()
    assert measured(name, walk.motion(), one_cycle(walk)).value == pytest.approx(peak, abs=0.05)


def test_one_convention_never_stands_in_for_the_other(measured):
    """Without pelvis markers the pelvis-thigh angle is not defined."""
    walk = Walk()
    motion = walk.motion()
    angles = {k: v for k, v in motion.angles.items() if k[1] != "hip_pelvis_thigh"}
    motion = replace(motion, angles=angles)
    found = measured("peak_hip_flexion_pelvis_thigh_deg", motion, one_cycle(walk))
    assert found.reason == Reason("no_angle", angle="hip_pelvis_thigh")
    assert measured("peak_hip_flexion_thigh_vertical_deg", motion, one_cycle(walk)).is_defined
