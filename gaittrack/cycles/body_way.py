"""How far the body moved over a cycle."""

from __future__ import annotations

from gaittrack.cycles.cycle import Cycle
from gaittrack.kinematics.motion import Motion
from gaittrack.trial import FloatArray


def body_way(motion: Motion, cycle: Cycle) -> FloatArray | None:
    """Return how far the body moved over the cycle: forward, left, up in metres."""
    for key in ("pelvis", f"{cycle.side}_hip_centre", f"{cycle.side}_heel"):
        if key in motion.points:
            ends = [
                at_time(motion, motion.points[key], time) for time in (cycle.start_s, cycle.end_s)
            ]
            return ends[1] - ends[0]
    return None


def at_time(motion: Motion, values: FloatArray, time_s: float) -> FloatArray:
    """Return values of shape (n_frames, ...) at a time between frames, on a straight line."""
    frame = time_s * motion.rate_hz
    low = min(int(frame), motion.n_frames - 2)
    share = frame - low
    result: FloatArray = values[low] * (1 - share) + values[low + 1] * share
    return result
