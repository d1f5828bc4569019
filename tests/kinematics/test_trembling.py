"""Rates that the noise of markers makes are not trusted; those that stand out of it are."""

import numpy as np
import pytest

from gaittrack.kinematics.smoothing import low_pass
from gaittrack.kinematics.trembling import rate_noise_deg_s, why_noise
from gaittrack.measures.recording import gradient

RATE_HZ = 100.0


def test_the_scatter_that_is_told_is_that_of_a_still_foot_that_trembles():
    """Of a foot and a shank that stand, with white noise on every coordinate."""
    rng = np.random.default_rng(4)
    still = {
        "left_heel": (0.0, 0.0, 0.03),
        "left_forefoot": (0.18, 0.0, 0.03),
        "left_ankle_centre": (0.05, 0.0, 0.1),
        "left_knee_centre": (0.05, 0.0, 0.5),
    }
    noise_m = dict.fromkeys(still, 0.002)
    points = {
        key: np.array(place) + 0.002 * rng.standard_normal((4000, 3))
        for key, place in still.items()
    }
    told = rate_noise_deg_s(points, {}, noise_m, RATE_HZ)["left", "foot_pitch"]
    slow = {key: low_pass(xyz, cutoff_hz=15.0, rate_hz=RATE_HZ) for key, xyz in points.items()}
    along = slow["left_forefoot"] - slow["left_heel"]
    pitch = np.degrees(np.arctan2(along[:, 2], along[:, 0]))
    seen = np.std(gradient(pitch) * RATE_HZ)
    assert told == pytest.approx(seen, rel=0.15)


def test_a_point_of_two_landmarks_trembles_less():
    """The mean of two that tremble alike: by the root of two."""
    apart = {"left_heel": np.zeros((9, 3)), "left_forefoot": np.tile([0.2, 0.0, 0.0], (9, 1))}
    noise_m = {"left_heel": 0.0, "one": 0.001, "two": 0.001}
    alone = rate_noise_deg_s(apart, {"left_forefoot": ("one",)}, noise_m, RATE_HZ)
    both = rate_noise_deg_s(apart, {"left_forefoot": ("one", "two")}, noise_m, RATE_HZ)
    key = "left", "foot_pitch"
    assert both[key] == pytest.approx(alone[key] / np.sqrt(2))


@pytest.mark.parametrize(
    ("noise", "rate", "is_told"),
    [(24.0, 50.0, False), (26.0, 50.0, True), (40.0, 300.0, False), (50.0, 300.0, True)],
)
def test_noise_is_told_past_both_limits(noise, rate, is_told):
    """Past 25 deg/s and past 15 % of the rate; what is not known tells nothing."""
    found = why_noise(noise, rate)
    assert (found is not None) == is_told
    assert why_noise(float("nan"), rate) is None
