"""How far the body moved over a cycle."""

from __future__ import annotations

from gaittrack.kinematics.motion import Motion
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Side


def body_way(motion: Motion, side: Side, start_s: float, end_s: float) -> FloatArray | None:
    """Return how far the body moved between two times: forward, left, up in metres."""
    for key in ("pelvis", f"{side}_hip_centre", f"{side}_heel"):
        if key in motion.points:
            body = motion.points[key]
            return at_time(motion, body, end_s) - at_time(motion, body, start_s)
    return None


def at_time(motion: Motion, values: FloatArray, time_s: float) -> FloatArray:
    """Return values of shape (n_frames, ...) at a time between frames, on a straight line."""
    frame = time_s * motion.rate_hz
    low = min(int(frame), motion.n_frames - 2)
    share = frame - low
    result: FloatArray = values[low] * (1 - share) + values[low + 1] * share
    return result
