"""Contacts of feet that are low before they stop: still sliding is not yet landed."""

import numpy as np
import pytest

from gaittrack.events.from_markers import read_markers
from gaittrack.kinematics import describe_motion
from gaittrack.trial import Provenance, Trial

RATE_HZ, N_FRAMES, CYCLE_S = 100.0, 1200, 2.4
LIFT_S = {"left": 0.3, "right": 1.5}
SWING_S, STOP_S = 0.62, 0.95
"""After its lift a foot is down again, and stops sliding."""
FASTEST_M_S = 0.5
ENDS_M = {"heel": (0.0, 0.04), "metatarsal 5": (0.15, 0.03), "toe": (0.2, 0.03)}


def sliding_walk(share):
    """Return a very slow walk whose feet slide at a share of their fastest before they stop."""
    knots_s = (0, 0.1, 0.6, SWING_S, STOP_S - 0.01, STOP_S + 0.01, CYCLE_S)
    speeds_m_s = FASTEST_M_S * np.array([0, 1, 1, share, share, 0, 0])
    time_s, fine_s = np.arange(N_FRAMES) / RATE_HZ, np.arange(0, N_FRAMES / RATE_HZ + 1, 1e-3)
    stride_m = np.trapezoid(speeds_m_s, knots_s)
    markers = {}
    for side, across_m in (("left", 0.1), ("right", -0.1)):
        speed = np.interp((fine_s - LIFT_S[side]) % CYCLE_S, knots_s, speeds_m_s)
        forward = np.interp(time_s, fine_s, np.cumsum(speed) * 1e-3)
        swing = np.clip(((time_s - LIFT_S[side]) % CYCLE_S) / SWING_S, 0, 1)
        for name, (ahead_m, up_m) in ENDS_M.items():
            height = up_m + 0.02 * np.sin(np.pi * swing) ** 2
            markers[f"{side} {name}"] = xyz(forward + ahead_m, across_m, height)
        markers[f"{side} asis"] = xyz(stride_m / CYCLE_S * time_s, across_m, 0.9)
    return Trial(RATE_HZ, N_FRAMES, Provenance("made_up.c3d", "", "C3D"), markers=markers)


def xyz(*columns):
    return np.stack(np.broadcast_arrays(*columns), axis=1).astype(float)


@pytest.mark.parametrize(("share", "contact_s"), [(0.4, STOP_S), (0.15, SWING_S)])
def test_a_foot_that_slides_on_has_not_landed(share, contact_s):
    """Slow is a quarter of the swing's fastest: at 40 % of it a low foot still swings."""
    motion = describe_motion(sliding_walk(share))
    contacts = [one for one in read_markers(motion).events if one.kind == "initial_contact"]
    assert len(contacts) >= 8
    for one in contacts:
        assert (one.time_s - LIFT_S[one.side]) % CYCLE_S == pytest.approx(contact_s, abs=0.03)
