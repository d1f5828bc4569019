"""Whether the floor, as the recording sees it, rises along the way.

In come points and the direction of walking, out comes the rise of the floor per metre forward:
floors and measuring volumes tilt, and ramps do. It is told from the forefoot, which lies on the
floor in every stance.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from gaittrack.errors import Problem
from gaittrack.kinematics.foot_flat import still_frames
from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.motion import LabAxes
from gaittrack.kinematics.sagittal_angles import FORWARD, UP
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES

LEAST_SLOPE, LEAST_RISE_M = 0.005, 0.008
"""Rise per metre and over the whole way below which the floor counts as level; own choice: the
stance beside a swing is then at most 4 mm off, about what tells clearances apart."""
CLEAR_SHARE = 3.0
"""The rise must be this many times the scatter of the stances about it; own choice."""
STEEPEST = 0.02
"""Rise per metre past which it is a ramp, not a tilted volume: told, and left as it is."""
_FEWEST_FRAMES = 3


def floor_rise(points: Mapping[str, FloatArray], axes: LabAxes, rate_hz: float) -> FloatArray:
    """Return the rise of the floor per metre forward.

    Parameters
    ----------
    points : mapping of point key to ndarray, shape (n_frames, 3)
        Forward, left, up in metres.

    Returns
    -------
    ndarray, shape (n_frames,)
        All 0 on a level floor, on a treadmill, and where too few stances were seen to tell.
    """
    there = np.sign(axes.forward @ axes.forward[0])
    level: FloatArray = np.zeros(len(there))
    if axes.is_treadmill:
        return level
    feet = [stances for side in SIDES for stances in [_stances(points, side, there, rate_hz)]]
    feet = [stances for stances in feet if len(stances) > 1]
    if sum(len(stances) - 1 for stances in feet) < 2:
        return level
    centred = np.concatenate([stances - stances.mean(axis=0) for stances in feet])
    way, height = centred.T
    slope = float(way @ height / (way @ way)) if way.any() else 0.0
    scatter = float(np.sqrt(np.sum((height - slope * way) ** 2) / (len(way) - len(feet))))
    rise = abs(slope) * max(float(np.ptp(stances[:, 0])) for stances in feet)
    is_clear = abs(slope) >= LEAST_SLOPE and rise >= max(LEAST_RISE_M, CLEAR_SHARE * scatter)
    return slope * there if is_clear else level


def is_ramp(rise: FloatArray) -> bool:
    """Whether the floor is steeper than floors and volumes are by mistake."""
    return bool(np.abs(rise).max() > STEEPEST)


def _stances(
    points: Mapping[str, FloatArray], side: str, there: FloatArray, rate_hz: float
) -> FloatArray:
    """Return how far along the first way and how high the forefoot lies in each stance."""
    heel, forefoot = points.get(f"{side}_heel"), points.get(f"{side}_forefoot")
    if heel is None or forefoot is None:
        return np.empty((0, 2))
    still = still_frames(heel, forefoot, rate_hz=rate_hz)
    places = np.column_stack([forefoot[:, FORWARD] * there, forefoot[:, UP]])
    found = [
        np.median(places[start:stop], axis=0)
        for start, stop in runs(still)
        if stop - start >= _FEWEST_FRAMES
    ]
    return np.array(found).reshape(-1, 2)


def on_level_floor(points: Mapping[str, FloatArray], rise: FloatArray) -> dict[str, FloatArray]:
    """Return the points with heights above the rising floor; those over a ramp as they are."""
    if not rise.any() or is_ramp(rise):
        return dict(points)
    levelled = {key: xyz.copy() for key, xyz in points.items()}
    for xyz in levelled.values():
        xyz[:, UP] -= rise * xyz[:, FORWARD]
    return levelled


def rise_problems(rise: FloatArray) -> list[Problem]:
    """Tell of a floor that is not level."""
    if not rise.any():
        return []
    rise_mm = round(float(1000 * rise[0]), 1)
    if is_ramp(rise):
        return [Problem("warning", Reason("ramp", rise_mm=rise_mm), "floor")]
    return [Problem("info", Reason("floor_rises", rise_mm=rise_mm), "floor")]
