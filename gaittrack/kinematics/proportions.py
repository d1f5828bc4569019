"""Whether lengths along the way and upwards are of one scale; in a stretched picture they are not.

In come the points of a walk in the walker's axes, out comes a problem where thighs, shanks and feet
keep their length only when one of the two directions is stretched.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np

from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import EVERYTHING
from gaittrack.kinematics.sagittal_angles import FORWARD, LEFT, UP
from gaittrack.quick_numpy import median_of
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES

SEGMENTS: Final = (
    ("hip_centre", "knee_centre"),
    ("knee_centre", "ankle_centre"),
    ("heel", "forefoot"),
)
LEAST_TURN_M2: Final = 0.004
"""SD of the squared forward share of a segment below which it turns too little to tell."""
USUAL_SCALES: Final = (0.84, 1.22)
"""Forward over upward scale between which skin and bending feet lie; own choice: 0.96 to 1.08 in
five recorded walks, 1.00 in 80 made-up ones."""
SURE_SCALES: Final = (0.9, 1.13)
"""The same beyond which angles are doubted; own choice."""
_FEWEST_FRAMES: Final = 50
_FEWEST_SEGMENTS: Final = 2


def stretch_problems(points: Mapping[str, FloatArray], where: str) -> list[Problem]:
    """Return a problem where one direction is stretched against the other.

    Parameters
    ----------
    points : mapping of point key to ndarray, shape (n_frames, 3)
        Forward, left, up; gaps as NaN.
    where : str
        The file's name.
    """
    keys = [(f"{side}_{one}", f"{side}_{two}") for side in SIDES for one, two in SEGMENTS]
    ends = [(points[one], points[two]) for one, two in keys if one in points and two in points]
    found = [scale for pair in ends if (scale := _scale(*pair)) is not None]
    if len(found) < _FEWEST_SEGMENTS:
        return []
    scale = median_of(np.array(found))
    if SURE_SCALES[0] <= scale <= SURE_SCALES[1]:
        return []
    reason = Reason("stretched", percent=round(100 * (scale - 1)))
    own = (Spoiled(EVERYTHING),)
    if USUAL_SCALES[0] <= scale <= USUAL_SCALES[1]:
        return [Problem("warning", reason, where, doubts=own)]
    return [Problem("warning", reason, where, own)]


def _scale(one: FloatArray, two: FloatArray) -> float | None:
    """Return by how much forward is stretched if the segment is rigid; None where nothing tells."""
    squares = ((one - two) ** 2).T
    if math.isnan(np.add.reduce(squares[FORWARD])):
        squares = squares[:, ~np.isnan(squares[FORWARD])]
    n = squares.shape[1]
    if n < _FEWEST_FRAMES:
        return None
    total = squares[FORWARD] + squares[LEFT] + squares[UP]
    both = np.stack((squares[FORWARD], total - squares[FORWARD]))
    both -= both.mean(axis=1)[:, None]
    turning, shared = (both @ both.T)[0] / n
    if math.sqrt(turning) < LEAST_TURN_M2:
        return None
    slope = shared / turning
    return float(1 / math.sqrt(-slope)) if slope < 0 else None
