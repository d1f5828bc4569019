"""From a body pose to markers in the axes of a made-up recording.

In comes a :class:`BodyPose`, out go labelled points: first along the way, left and up, then bent
round the turn, shifted by the belt, tilted with the floor and written in the file's axes. Labels
are this project's own, in full words.
"""

from __future__ import annotations

import math

import numpy as np

from gaittrack.simulate.leg import BodyPose
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Side

TURN_RADIUS_M = 0.8
"""Radius of the way round in a turn; our choice."""
FOOT_MARKERS: dict[str, tuple[float, float, float]] = {
    "heel": (-0.006, 0.0, 0.040),
    "toe": (0.215, 0.005, 0.045),
    "metatarsal 5": (0.172, 0.045, 0.032),
}
"""Marker on the shoe: ahead of the heel edge, to the outer side, above the sole (adult, m)."""
OUTWARD_M = {"hip": 0.07, "knee": 0.05, "ankle": 0.038}
"""How far a joint's marker lies to the outer side of the joint centre, m."""
PELVIS_MARKERS: dict[str, tuple[float, float, float]] = {
    "left asis": (0.085, 0.12, 0.0),
    "right asis": (0.085, -0.12, 0.0),
    "left psis": (-0.095, 0.04, 0.0),
    "right psis": (-0.095, -0.04, 0.0),
}
"""Marker in the pelvis' own forward, left, up, m; the line back to front is level at tilt 0."""


def place_markers(pose: BodyPose, recipe: WalkRecipe) -> dict[str, FloatArray]:
    """Return every marker along the way, left, up; arrays of shape (n, 3)."""
    scale = recipe.body.foot_scale
    markers: dict[str, FloatArray] = {}
    for label, offset in PELVIS_MARKERS.items():
        markers[label] = pose.pelvis + pose.pelvis_axes @ (scale * np.array(offset))
    for side in SIDES:
        outward = 1.0 if side == "left" else -1.0
        joints = {"hip": pose.hip[side], "knee": pose.knee[side], "ankle": pose.ankle[side]}
        for name, centre in joints.items():
            shift = np.array([0.0, outward * OUTWARD_M[name] * scale, 0.0])
            markers[f"{side} {name}"] = centre + shift
        for name, (ahead, out, up) in FOOT_MARKERS.items():
            markers[f"{side} {name}"] = shoe_point(pose, side, ahead, outward * out, up, scale)
    return {label: xyz for label, xyz in markers.items() if label not in recipe.left_out}


def shoe_point(
    pose: BodyPose, side: Side, ahead_m: float, left_m: float, up_m: float, scale: float
) -> FloatArray:
    """Return a point fixed to the shoe, shape (n, 3)."""
    x, z = pose.feet[side].point(ahead_m, up_m, scale=scale)
    return np.column_stack((x, pose.foot_left_m[side] + left_m * scale, z))


def to_file_axes(points: FloatArray, time_s: FloatArray, recipe: WalkRecipe) -> FloatArray:
    """Turn (along the way, left, up) into the recording's axes.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
    time_s : ndarray, shape (n,)
        Since the first frame, for the belt.

    Returns
    -------
    ndarray, shape (n, 3)
    """
    along, left, up = points.T
    x, y = _bent(along, left, recipe.turn_after_m)
    x = x - recipe.belt_speed_m_s * time_s
    up = up + recipe.floor_tilt * x
    if recipe.direction == "-":
        x, y = -x, -y
    return np.column_stack((x, y, up) if recipe.up_axis == "Z" else (x, up, -y))


def _bent(
    along: FloatArray, left: FloatArray, turn_after_m: float | None
) -> tuple[FloatArray, FloatArray]:
    """Bend the way round a half circle to the left; only its straights keep lengths."""
    if turn_after_m is None:
        return along, left
    angle = np.clip((along - turn_after_m) / TURN_RADIUS_M, 0.0, math.pi)
    back = np.maximum(along - turn_after_m - math.pi * TURN_RADIUS_M, 0.0)
    before = np.minimum(along, turn_after_m)
    radius = TURN_RADIUS_M - left
    x = before + radius * np.sin(angle) - back
    y = TURN_RADIUS_M - radius * np.cos(angle)
    return x, y
