"""When a foot is on its way from one place on the floor to the next.

In comes a foot over a stretch of frames, out come its swings. They are told from its own travel
over the floor, not from the body, so that first and last, short and uneven steps count alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gaittrack.events.foot_stretch import FootStretch
from gaittrack.kinematics.gaps import runs
from gaittrack.quick_numpy import median_of
from gaittrack.trial import BoolArray, FloatArray

MOVING_SHARE, MOVING_M_S = 0.12, (0.1, 0.3)
"""A foot is on its way at this share of its highest speed, within these limits; own choice: a
standing foot rolls more slowly, and a dragged one moves faster."""
LEAST_STEP_M, STEP_SHARE = 0.04, 0.08
"""Shortest way that is a step, and as a share of the longest one; own choice."""
CUT_STEP_M = 0.02
"""… and of a step whose beginning or end is not in the recording."""
HESITATION_S = 0.08
"""A foot that stands still for no longer than this has not been put down; own choice."""
SETTING_OUT_SHARE, TOE_OFF_SHARE = 0.6, 0.5
"""Toe-off is where the toe becomes as fast as the body. While the body sets out, never yet as fast
as this share of its usual speed, a rolling foot is that fast too: then as fast as this share of the
swing's peak; own choice, from made-up first steps."""
TOE_OFF_LAG_S = 0.008
"""By how much that trails the end of load: median on force plates (+9 ms over 11 recordings of
several laboratories, before this is taken off)."""


@dataclass(frozen=True, slots=True)
class Swing:
    """Frames of a stretch between which a foot travels; the toe is fastest at ``middle``."""

    start: int
    middle: int
    stop: int


def find_swings(foot: FootStretch) -> list[Swing]:
    """Return the swings of a foot in time order, those cut by the ends of the stretch too."""
    speed, rate_hz = foot.toe_m_s, foot.rate_hz
    lowest, highest = MOVING_M_S
    moving = speed > max(lowest, min(highest, MOVING_SHARE * float(speed.max())))
    ways = [
        (start, stop, float(np.add.reduce(speed[start:stop])) / rate_hz)
        for start, stop in runs(_bridged(moving, int(HESITATION_S * rate_hz)))
    ]
    longest = max((way for *_, way in ways), default=0.0)
    ahead = speed - foot.body_m_s
    return [
        Swing(start, start + int(np.argmax(speed[start:stop])), stop)
        for start, stop, way in ways
        if way >= _least_way_m(start == 0 or stop == foot.n_frames, longest)
        and np.maximum.reduce(ahead[start:stop]) > 0
    ]


def _least_way_m(is_cut: bool, longest_m: float) -> float:
    return CUT_STEP_M if is_cut else max(LEAST_STEP_M, STEP_SHARE * longest_m)


def _bridged(moving: BoolArray, longest: int) -> BoolArray:
    whole = moving.copy()
    for start, stop in runs(~moving):
        if 0 < start and stop < len(moving) and stop - start <= longest:
            whole[start:stop] = True
    return whole


def toe_off_frames(foot: FootStretch, swings: list[Swing]) -> list[float | None]:
    """Return the frame, to a fraction, in which the toe leaves for each swing.

    Returns
    -------
    list of float or None
        None where it is not in view.
    """
    if not swings:
        return []
    usual = median_of(foot.body_m_s)
    sets_out = np.maximum.accumulate(foot.body_m_s) < SETTING_OUT_SHARE * usual
    befores = [0, *[swing.middle for swing in swings[:-1]]]
    return [
        _toe_off_frame(foot, swing, sets_out, before)
        for swing, before in zip(swings, befores, strict=True)
    ]


def _toe_off_frame(
    foot: FootStretch, swing: Swing, sets_out: BoolArray, before: int
) -> float | None:
    """Return when the toe became faster than the body: after the swing before, or earlier."""
    until = swing.middle + 1
    rolling = np.where(sets_out[before:until], TOE_OFF_SHARE * foot.toe_m_s[swing.middle], -np.inf)
    lead: FloatArray = foot.toe_m_s[before:until] - np.maximum(rolling, foot.body_m_s[before:until])
    slower = np.flatnonzero(lead <= 0)
    if not len(slower):
        return _toe_off_frame(foot, swing, sets_out, 0) if before else None
    last = int(slower[-1])
    if before + last == swing.middle:
        return None
    frame = before + last + lead[last] / (lead[last] - lead[last + 1])
    return max(0.0, float(frame) - TOE_OFF_LAG_S * foot.rate_hz)
