"""Whether the floor, as the recording sees it, rises along the way.

In come points and the direction of walking, out come the rise of the floor per metre forward, told
from the forefoot, which lies on the floor in every stance, and the points turned until that floor
is level. Whether the volume is tilted or the floor is a ramp cannot be seen: heights over the floor
and angles between two segments are the same for both, angles to the vertical are not.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from gaittrack.errors import Problem
from gaittrack.kinematics.foot_flat import still_frames
from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.motion import LabAxes
from gaittrack.kinematics.sagittal_angles import FORWARD, LEFT, UP
from gaittrack.kinematics.smoothing import velocity
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import SIDES, Side

LEAST_SLOPE, LEAST_RISE_M = 0.003, 0.008
"""Rise per metre and over the whole way below which the floor counts as level; own choice: the
stance beside a swing is then at most 4 mm off, about what tells clearances apart."""
LEAST_SLOPE_OF_BELT = 0.01
"""Rise of a belt below which it counts as level; own choice: markers sink a little into shoes."""
CLEAR_SHARE = 3.0
"""The rise must be this many times the scatter of the stances about it; own choice."""
CLEAR_ERRORS, TOLD_ERRORS = 2.0, 3.0
"""A rise across counts for clearance, and is told, past this many times its standard error."""
STANCE_SCATTER_M, OTHER_MARKER_M = 0.002, 0.003
"""Scatter of a marker from stance to stance, and between the two feet; own choice, as the
recordings at hand show them."""
STEEPEST_SLIP_DEG = 1.0
"""Slope past which angles to the vertical are not trusted: less than what tells them apart."""
SCATTER_M = 0.005
"""Scatter of the stances where too few were seen to tell; own choice."""
_FEWEST_FRAMES = 3
_UPWARD = np.array([0.0, 0.0, 1.0])


class Floor(NamedTuple):
    """The floor as the recording sees it.

    Attributes
    ----------
    rise, across : ndarray, shape (n_frames,)
        Rise per metre forward and per metre to the left; 0 where level or not told.
    is_steep_across : bool
        Whether the slope across is past what markers of two feet differ by.
    """

    rise: FloatArray
    across: FloatArray
    is_steep_across: bool


def find_floor(points: Mapping[str, FloatArray], axes: LabAxes, rate_hz: float) -> Floor:
    """Find how the floor rises, from where the feet stand.

    Parameters
    ----------
    points : mapping of point key to ndarray, shape (n_frames, 3)
        Forward, left, up in metres.

    Returns
    -------
    Floor
        Level along the way where too few stances were seen to tell.
    """
    there = np.sign(axes.forward @ axes.forward[0])
    still = {side: _still(points, side, rate_hz) for side in SIDES if _has_foot(points, side)}
    feet = {side: _stances(points, side, there, frames) for side, frames in still.items()}
    across, error = _rise_across(feet)
    is_told = abs(across) >= CLEAR_ERRORS * error
    if axes.is_treadmill:
        along = _rise_of_belt(points, still, axes.belt_speed_m_s, rate_hz)
    else:
        along = _rise_along(list(feet.values()), across if is_told else 0.0)
    return Floor(
        along * there,
        across * there if is_told else np.zeros(len(there)),
        abs(across) >= max(TOLD_ERRORS * error, np.tan(np.radians(STEEPEST_SLIP_DEG))),
    )


def _rise_along(feet: list[FloatArray], across: float) -> float:
    """Return the rise along the way by which the forefeet lie in the stances; 0 when not clear."""
    feet = [stances[:, 1] - _UPWARD * across * stances[:, 1, LEFT:UP] for stances in feet]
    feet = [stances for stances in feet if len(stances) > 1]
    if not feet:
        return 0.0
    centred = np.concatenate([stances - stances.mean(axis=0) for stances in feet])
    way, height = centred[:, FORWARD], centred[:, UP]
    slope = float(way @ height / (way @ way)) if way.any() else 0.0
    n_free = len(way) - len(feet) - 1
    left_over = float(np.sum((height - slope * way) ** 2))
    scatter = np.sqrt(left_over / n_free) if n_free > 1 else SCATTER_M
    rise = abs(slope) * max(float(np.ptp(stances[:, FORWARD])) for stances in feet)
    is_clear = abs(slope) >= LEAST_SLOPE and rise >= max(LEAST_RISE_M, CLEAR_SHARE * scatter)
    return slope if is_clear else 0.0


def _rise_of_belt(
    points: Mapping[str, FloatArray],
    still: Mapping[Side, BoolArray],
    belt_m_s: float,
    rate_hz: float,
) -> float:
    """Return the rise of a belt: how fast feet sink that stand on it, over its speed."""
    sinking = [
        -velocity(points[f"{side}_forefoot"], rate_hz)[frames, UP]
        for side, frames in still.items()
        if frames.sum() >= _FEWEST_FRAMES
    ]
    slope = float(np.median(np.concatenate(sinking))) / belt_m_s if sinking else 0.0
    return slope if abs(slope) >= LEAST_SLOPE_OF_BELT else 0.0


def _rise_across(feet: Mapping[Side, FloatArray]) -> tuple[float, float]:
    """Return the rise to the left and its standard error; infinite when not told.

    A plane through heels and forefeet where they stand, with markers that may lie higher on one
    foot than on the other: a walk whose feet keep to their sides tells little.
    """
    n_stances = [len(stances) for stances in feet.values()]
    if len(feet) < 2 or min(n_stances) < 1 or sum(n_stances) < 3:
        return 0.0, np.inf
    rows, heights = [], []
    for side, stances in feet.items():
        for marker in (0, 1):
            forward, left, up = stances[:, marker].T
            row = np.zeros((len(up), 6))
            row[:, marker], row[:, 2 + marker] = 1.0, 1.0 if side == "left" else 0.0
            row[:, 4], row[:, 5] = forward, left
            rows.append(row / STANCE_SCATTER_M)
            heights.append(up / STANCE_SCATTER_M)
    rows.append(np.eye(6)[2:4] / OTHER_MARKER_M)
    design = np.concatenate(rows)
    covariance = np.linalg.pinv(design.T @ design)
    found = covariance @ design.T @ np.concatenate([*heights, np.zeros(2)])
    return float(found[5]), float(np.sqrt(covariance[5, 5]))


def _has_foot(points: Mapping[str, FloatArray], side: Side) -> bool:
    return f"{side}_heel" in points and f"{side}_forefoot" in points


def _still(points: Mapping[str, FloatArray], side: Side, rate_hz: float) -> BoolArray:
    return still_frames(points[f"{side}_heel"], points[f"{side}_forefoot"], rate_hz=rate_hz)


def _stances(
    points: Mapping[str, FloatArray], side: Side, there: FloatArray, still: BoolArray
) -> FloatArray:
    """Return where heel and forefoot lie in each stance, seen along the first way.

    Returns
    -------
    ndarray, shape (n_stances, 2, 3)
    """
    foot = np.stack([points[f"{side}_heel"], points[f"{side}_forefoot"]], axis=1)
    found = [
        np.median(foot[start:stop] * [there[start], there[start], 1.0], axis=0)
        for start, stop in runs(still)
        if stop - start >= _FEWEST_FRAMES
    ]
    return np.array(found).reshape(-1, 2, 3)


def upright(
    points: Mapping[str, FloatArray], rise: FloatArray, travel_m: FloatArray
) -> dict[str, FloatArray]:
    """Return the points turned about the sideways axis until the floor is level.

    Parameters
    ----------
    rise : ndarray, shape (n_frames,)
        As of :func:`floor_rise`.
    travel_m : ndarray, shape (n_frames,)
        Travel of the belt that was added to forward; 0 overground.
    """
    if not rise.any():
        return dict(points)
    length = np.hypot(1.0, rise)
    turned = {key: xyz.copy() for key, xyz in points.items()}
    for xyz in turned.values():
        forward, up = xyz[:, FORWARD] - travel_m, xyz[:, UP].copy()
        xyz[:, FORWARD] = (forward + rise * up) / length + travel_m * length
        xyz[:, UP] = (up - rise * forward) / length
    return turned


def floor_gradient(floor: Floor, axes: LabAxes) -> FloatArray:
    """Return the rise of the floor per metre along each axis of the file (shape (3,))."""
    gradient: FloatArray = floor.rise[0] * axes.forward[0]
    return gradient


def is_steep(rise: FloatArray) -> bool:
    """Whether the floor rises by more than a slip of a calibration."""
    return bool(np.abs(rise).max() > np.tan(np.radians(STEEPEST_SLIP_DEG)))


def floor_problems(floor: Floor, *, is_tilted_volume: bool) -> list[Problem]:
    """Tell of a floor that is not level.

    Parameters
    ----------
    is_tilted_volume : bool
        Whether a standing trial shows that it is the volume, not a ramp.
    """
    along, across = (_slope_deg(slope) for slope in (floor.rise, floor.across))
    told = []
    if floor.rise.any():
        is_open = is_steep(floor.rise) and not is_tilted_volume
        reason = Reason("tilt_or_ramp" if is_open else "floor_rises", by_deg=along)
        told.append(Problem("warning" if is_open else "info", reason, "floor"))
    if floor.is_steep_across:
        told.append(Problem("warning", Reason("floor_rises_across", by_deg=across), "floor"))
    return told


def _slope_deg(slope: FloatArray) -> float:
    return round(float(np.degrees(np.arctan(slope[0]))), 1)
