"""How far the body moved over cycles."""

from __future__ import annotations

import numpy as np

from gaittrack.kinematics.motion import Motion
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Side


def body_ways(
    motion: Motion, side: Side, start_s: FloatArray, end_s: FloatArray
) -> FloatArray | None:
    """Return how far the body moved between times: forward, left, up in metres, (n_times, 3)."""
    for key in ("pelvis", f"{side}_hip_centre", f"{side}_heel"):
        if key in motion.points:
            body = motion.points[key]
            return at_times(motion, body, end_s) - at_times(motion, body, start_s)
    return None


def at_times(motion: Motion, values: FloatArray, time_s: FloatArray) -> FloatArray:
    """Return values of shape (n_frames, 3) at times between frames, on a straight line."""
    frame = time_s * motion.rate_hz
    low = np.minimum(frame.astype(np.intp), motion.n_frames - 2)
    share = (frame - low)[:, None]
    result: FloatArray = values[low] * (1 - share) + values[low + 1] * share
    return result
