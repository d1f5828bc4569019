"""Leave out points that stay where they are while the body walks away.

In come labelled points in metres; out go those that move like a body. What stands still is a mark
on the floor, or an output of a model whose label does not say so (small numbers near the origin).
"""

from __future__ import annotations

import numpy as np

from gaittrack.errors import Problem
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

BODY_TRAVEL_M = 1.5
"""A body that travels less (treadmill, standing) tells nothing about its points; our choice."""
STILL_SHARE = 0.1
"""Points that travel less than this share of the body's way stand still; our choice."""
SEEN_SHARE = 0.5
"""Points seen in less of the frames are never left out: a foot may be seen in one stance only."""


def without_still_points(
    labels: list[str], points_m: FloatArray
) -> tuple[list[str], FloatArray, tuple[Problem, ...]]:
    """Return the points that travel with the body.

    Parameters
    ----------
    points_m : ndarray, shape (n_frames, n_points, 3)
        NaN where missing.
    """
    seen = np.isfinite(points_m[..., 0])
    ways_m = np.full(len(labels), np.nan)
    long_enough = seen.sum(axis=0) > SEEN_SHARE * max(seen.any(axis=1).sum(), 1)
    for index in np.flatnonzero(long_enough):
        frames = np.flatnonzero(seen[:, index])
        path = points_m[frames[:: max(len(frames) // 100, 1)], index]
        ways_m[index] = np.ptp(path, axis=0).max()
    if np.isnan(ways_m).all() or np.nanmedian(ways_m) < BODY_TRAVEL_M:
        return labels, points_m, ()
    is_still = ways_m < STILL_SHARE * np.nanmedian(ways_m)
    if not is_still.any():
        return labels, points_m, ()
    still = [label for label, left_out in zip(labels, is_still, strict=True) if left_out]
    problem = Problem("info", Reason("still_points", labels=tuple(still)), "POINT:LABELS")
    return [label for label in labels if label not in still], points_m[:, ~is_still], (problem,)
