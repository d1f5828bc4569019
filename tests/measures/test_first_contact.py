"""The leg at contact."""

import pytest

from tests.motions import Walk, one_cycle


@pytest.mark.parametrize(
    ("name", "truth"), [("knee_flexion_at_contact_deg", 2), ("foot_pitch_at_contact_deg", 20)]
)
def test_angle_at_contact_is_read_between_frames(measured, name, truth):
    """A contact between two frames is interpolated."""
    walk = Walk(rate_hz=100, start_s=0.505)
    found = measured(name, walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(truth, abs=0.2)
