"""Joint angles in the sagittal plane, from points in the walker's axes.

In come points (forward, left, up), out come degrees in the signs of ``vocabulary``. The foot's
pitch is its slope against the floor in space; everything else is the angle of a line projected on
the plane of progression.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from gaittrack.quick_numpy import lengths_of
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Joint, Side

FORWARD, LEFT, UP = 0, 1, 2


def raw_foot_pitch(heel: FloatArray, forefoot: FloatArray) -> FloatArray:
    """Return the slope of the heel-to-forefoot line against the floor.

    Parameters
    ----------
    heel, forefoot : ndarray, shape (n_frames, 3)
        Metres.

    Returns
    -------
    ndarray, shape (n_frames,)
        Degrees, forefoot up positive, before any zero is subtracted: the arc sine of the rise
        over the distance in space, so that a foot turned outward is not steeper.
    """
    line = forefoot - heel
    with np.errstate(invalid="ignore", divide="ignore"):
        rise = line[:, UP] / lengths_of(line)
    pitch: FloatArray = np.degrees(np.arcsin(np.clip(rise, -1.0, 1.0)))
    return pitch


def lean(lower: FloatArray, upper: FloatArray) -> FloatArray:
    """Return the angle of the line from ``lower`` up to ``upper`` against the vertical.

    Parameters
    ----------
    lower, upper : ndarray, shape (n_frames, 3)
        Metres.

    Returns
    -------
    ndarray, shape (n_frames,)
        Degrees, positive when the upper end is ahead.
    """
    line = upper - lower
    return np.degrees(np.arctan2(line[:, FORWARD], line[:, UP]))


def angles_from_points(
    points: Mapping[str, FloatArray], pitch_zero_deg: Mapping[Side, float]
) -> dict[tuple[Side, Joint], FloatArray]:
    """Compute every sagittal angle that the points allow.

    Parameters
    ----------
    points : mapping of point key to ndarray, shape (n_frames, 3)
        As in ``Motion.points``.
    pitch_zero_deg : mapping of side to float
        Raw foot pitch that counts as 0; NaN makes ankle and foot pitch undefined, so they are
        left out.

    Returns
    -------
    dict of (side, joint) to ndarray, shape (n_frames,)
        Degrees.
    """
    angles: dict[tuple[Side, Joint], FloatArray] = {}
    for side in SIDES:
        angles |= _leg_angles(points, side, pitch_zero_deg.get(side, np.nan))
        angles |= _pelvis_angles(points, side)
        thigh = angles.get((side, "hip_thigh_vertical"))
        tilt = angles.get((side, "pelvic_tilt"))
        if thigh is not None and tilt is not None:
            angles[side, "hip_pelvis_thigh"] = thigh + tilt
    return angles


def leg_angles(
    points: Mapping[str, FloatArray], pitch_zero_deg: Mapping[Side, float]
) -> dict[tuple[Side, Joint], FloatArray]:
    """Compute those of :func:`angles_from_points` that need no pelvis."""
    return {
        key: degrees
        for side in SIDES
        for key, degrees in _leg_angles(points, side, pitch_zero_deg.get(side, np.nan)).items()
    }


def _leg_angles(
    points: Mapping[str, FloatArray], side: Side, pitch_zero_deg: float
) -> dict[tuple[Side, Joint], FloatArray]:
    hip, knee, ankle, heel, forefoot = (
        points.get(f"{side}_{name}")
        for name in ("hip_centre", "knee_centre", "ankle_centre", "heel", "forefoot")
    )
    angles: dict[tuple[Side, Joint], FloatArray] = {}
    if heel is not None and forefoot is not None and not np.isnan(pitch_zero_deg):
        angles[side, "foot_pitch"] = raw_foot_pitch(heel, forefoot) - pitch_zero_deg
    if knee is not None and ankle is not None:
        angles[side, "shank_lean"] = lean(ankle, knee)
    if hip is not None and knee is not None:
        angles[side, "hip_thigh_vertical"] = -lean(knee, hip)
    sums: dict[Joint, tuple[Joint, Joint]] = {
        "ankle": ("shank_lean", "foot_pitch"),
        "knee": ("hip_thigh_vertical", "shank_lean"),
    }
    for joint, (first, second) in sums.items():
        if (side, first) in angles and (side, second) in angles:
            angles[side, joint] = angles[side, first] + angles[side, second]
    return angles


def _pelvis_angles(
    points: Mapping[str, FloatArray], side: Side
) -> dict[tuple[Side, Joint], FloatArray]:
    front = [points.get(f"{each}_asis") for each in SIDES]
    back = [points.get("sacrum")]
    if back[0] is None:
        back = [points.get(f"{each}_psis") for each in SIDES]
    if front[0] is None or front[1] is None:
        return {}
    across = front[0] - front[1] if side == "left" else front[1] - front[0]
    width = np.hypot(across[:, FORWARD], across[:, LEFT])
    angles: dict[tuple[Side, Joint], FloatArray] = {
        (side, "pelvic_obliquity"): np.degrees(np.arctan2(across[:, UP], width))
    }
    if all(point is not None for point in back):
        line = (front[0] + front[1]) / 2 - sum(point for point in back if point is not None) / len(
            back
        )
        angles[side, "pelvic_tilt"] = np.degrees(np.arctan2(-line[:, UP], line[:, FORWARD]))
    return angles
