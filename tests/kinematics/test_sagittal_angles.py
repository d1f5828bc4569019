"""Angles of postures whose angles are known by geometry."""

import math

import numpy as np
import pytest

from gaittrack.kinematics.sagittal_angles import angles_from_points, lean, raw_foot_pitch


def leg(side="left", *, thigh_deg=0.0, knee_deg=0.0, pitch_deg=0.0, toe_out_deg=0.0, tilt_deg=0.0):
    """Return one frame of a leg: thigh flexed, knee bent, foot pitched, foot turned outward."""
    thigh, shank = math.radians(thigh_deg), math.radians(thigh_deg - knee_deg)
    pitch, out, tilt = (math.radians(x) for x in (pitch_deg, toe_out_deg, tilt_deg))
    outward = 1.0 if side == "left" else -1.0
    hip = np.array([0.0, 0.1 * outward, 0.9])
    knee = hip + 0.4 * np.array([math.sin(thigh), 0.0, -math.cos(thigh)])
    ankle = knee + 0.4 * np.array([math.sin(shank), 0.0, -math.cos(shank)])
    level = math.cos(pitch) * np.array([math.cos(out), outward * math.sin(out), 0.0])
    forefoot = ankle + 0.15 * (level + np.array([0.0, 0.0, math.sin(pitch)]))
    front = np.array([0.0, 0.0, 1.0])
    back = front + 0.2 * np.array([-math.cos(tilt), 0.0, math.sin(tilt)])
    points = {
        f"{side}_hip_centre": hip,
        f"{side}_knee_centre": knee,
        f"{side}_ankle_centre": ankle,
        f"{side}_heel": ankle,
        f"{side}_forefoot": forefoot,
        "left_asis": front + [0.0, 0.12, 0.0],
        "right_asis": front - [0.0, 0.12, 0.0],
        "sacrum": back,
    }
    return {key: xyz[None] for key, xyz in points.items()}


def angle(points, joint, side="left", zero_deg=0.0):
    (value,) = angles_from_points(points, {side: zero_deg})[side, joint]
    return value


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("thigh_deg", [-20.0, 0.0, 25.0])
@pytest.mark.parametrize("knee_deg", [-5.0, 0.0, 60.0])
@pytest.mark.parametrize("pitch_deg", [-60.0, 0.0, 20.0])
def test_joint_angles_are_those_the_leg_was_built_with(side, thigh_deg, knee_deg, pitch_deg):
    """Thigh, knee, shank, foot and ankle, flexion and dorsiflexion positive."""
    points = leg(side, thigh_deg=thigh_deg, knee_deg=knee_deg, pitch_deg=pitch_deg)
    shank_lean = knee_deg - thigh_deg
    expected = {
        "hip_thigh_vertical": thigh_deg,
        "knee": knee_deg,
        "shank_lean": shank_lean,
        "foot_pitch": pitch_deg,
        "ankle": shank_lean + pitch_deg,
    }
    for joint, value in expected.items():
        assert angle(points, joint, side) == pytest.approx(value, abs=1e-9), joint


def test_zero_of_the_foot_is_taken_off_pitch_and_ankle():
    """Markers at unlike heights on a flat foot: their slope counts as 0."""
    points = leg(pitch_deg=-8.0)
    assert angle(points, "foot_pitch", zero_deg=-8.0) == pytest.approx(0.0, abs=1e-9)
    assert angle(points, "ankle", zero_deg=-8.0) == pytest.approx(0.0, abs=1e-9)


def test_without_a_zero_there_is_no_ankle_angle():
    """Not defined, rather than counted from an unknown zero."""
    angles = angles_from_points(leg(), {"left": math.nan})
    assert ("left", "ankle") not in angles and ("left", "knee") in angles


def test_foot_turned_outward_is_not_steeper():
    """The slope against the floor is the same at 30 degrees of toe-out."""
    points = leg(pitch_deg=20.0, toe_out_deg=30.0)
    assert raw_foot_pitch(points["left_heel"], points["left_forefoot"]) == pytest.approx(20.0)


def test_pelvis_and_thigh_make_the_other_hip_angle():
    """Front of the pelvis down by 10 deg adds 10 deg to the thigh's flexion."""
    points = leg(thigh_deg=25.0, tilt_deg=10.0)
    assert angle(points, "pelvic_tilt") == pytest.approx(10.0)
    assert angle(points, "hip_pelvis_thigh") == pytest.approx(35.0)


def test_own_side_up_is_positive_obliquity_on_either_side():
    """The left side 24 mm higher over 240 mm: +5.7 deg left, -5.7 deg right."""
    left, right = leg("left"), leg("right")
    for points in (left, right):
        points["left_asis"] = points["left_asis"] + [0.0, 0.0, 0.024]
    slope = math.degrees(math.atan2(0.024, 0.24))
    assert angle(left, "pelvic_obliquity", "left") == pytest.approx(slope)
    assert angle(right, "pelvic_obliquity", "right") == pytest.approx(-slope)


def test_lean_is_positive_when_the_upper_end_is_ahead():
    """45 deg either way."""
    below = np.zeros((1, 3))
    assert lean(below, np.array([[1.0, 0.0, 1.0]])) == pytest.approx(45.0)
    assert lean(below, np.array([[-1.0, 0.0, 1.0]])) == pytest.approx(-45.0)
