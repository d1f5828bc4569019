"""When a foot that ends its step has landed.

In comes a foot around the furthest reach of its heel, out comes the frame of contact: the first of
its ends that is low and slow, then the upward-acceleration peak of its impact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gaittrack.events.extremes import peak_near
from gaittrack.kinematics.sagittal_angles import UP
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import Side

BEFORE_ANCHOR_S = 0.08
"""A foot may be down this long before the heel's furthest reach; measured on force plates."""
AFTER_ANCHOR_S = 0.6
"""A limp foot may be put down this long after the furthest reach; own choice, from slow walking."""
LOW_M, LOWEST_M = 0.012, 0.005
"""Height above its stance level at which an end of the foot counts as down; the slower the walk,
the lower, since a limp foot can hang slowly over its place; own choice, from force plates."""
HANGING_S = 0.07
"""A foot that is low this long before it is at its lowest hangs over its place and has not landed;
own choice: in made-up and recorded walks the two lie at most 20 ms apart otherwise."""
ANKLE_RISE_M = 0.012
"""How much higher than in stance an ankle that stands in for the heel may be at heel contact: with
the toes up 20 deg it lies a centimetre higher than on a flat foot; own choice."""
BRISK_M_S = 1.0
"""Walking speed from which the full height holds; own choice."""
REFINE_BEFORE_S, REFINE_AFTER_S = 0.015, 0.08
"""Window for the upward-acceleration peak around the first low and slow frame: in made-up and
recorded walks the contact comes 5 ms before to 80 ms after it; earlier is the braking of swing."""
TOGETHER_S = 0.03
"""Ends of the foot down within this time came down together, impacts within it are one:
the median counts; own choice, from flat contacts in made-up walks."""
IMPACT_M_S2 = 1.0
"""Smallest peak that is taken for an impact; own choice, from force plates."""


@dataclass(frozen=True, eq=False, slots=True)
class Foot:
    """One foot over one stretch of frames in which it and the body were seen.

    Attributes
    ----------
    start : int
        First frame of the stretch.
    sees_heel : bool
        Whether the rear end is a heel; an ankle stands high until the foot lies flat.
    heel_reach, toe_reach : ndarray, shape (n,)
        How far heel and toe lie ahead of the body, metres.
    ends : tuple of ndarray, shape (n, 3)
        Heel and front points, forward, left, up in metres.
    impacts : tuple of ndarray, shape (n,)
        Upward acceleration of each end, m/s2.
    slow : tuple of ndarray of bool, shape (n,)
        Where each end is slow.
    """

    side: Side
    start: int
    rate_hz: float
    body_speed_m_s: float
    sees_heel: bool
    heel_reach: FloatArray
    toe_reach: FloatArray
    ends: tuple[FloatArray, ...]
    impacts: tuple[FloatArray, ...]
    slow: tuple[BoolArray, ...]


def contact_frame(foot: Foot, anchor: float, release: float | None) -> float | None:
    """Return the frame of contact that belongs to one furthest reach of the heel.

    Parameters
    ----------
    anchor : float
        Frame of the heel's furthest reach.
    release : float or None
        Frame of the next toe-off.

    Returns
    -------
    float or None
        Frame of the stretch, to a fraction; None when no end of the foot is seen to come down.
    """
    n_frames = len(foot.heel_reach)
    last = n_frames if release is None else min(n_frames, int(release))
    first = max(0, int(round(anchor - BEFORE_ANCHOR_S * foot.rate_hz)))
    stop = min(last, int(round(anchor + AFTER_ANCHOR_S * foot.rate_hz)) + 1)
    if stop <= first:
        return None
    window = slice(first, stop)
    above = [_above_stance(foot, end, slice(first, last)) for end in range(len(foot.ends))]
    low = min(LOW_M, max(LOWEST_M, LOW_M * foot.body_speed_m_s / BRISK_M_S))
    for height in dict.fromkeys((low, LOW_M, 2 * LOW_M)):
        downs = _downs(above, window, height)
        if downs:
            landed = _downs(above, window, LOWEST_M)
            hangs = (
                foot.sees_heel
                and landed
                and min(landed)[0] - min(downs)[0] > HANGING_S * foot.rate_hz
            )
            return _impact_of_all(foot, landed if hangs else downs)
    return None


def _downs(above: list[FloatArray], window: slice, low: float) -> list[tuple[int, int]]:
    """Return (frame, end) of the ends of the foot that come down within a window."""
    found = [(_first_down(heights, window, low), end) for end, heights in enumerate(above)]
    return [(frame, end) for frame, end in found if frame is not None]


def _impact_of_all(foot: Foot, downs: list[tuple[int, int]]) -> float:
    """Return the frame of impact that the ends which came down together agree on."""
    margin = TOGETHER_S * foot.rate_hz
    earliest = min(downs)[0]
    impacts = [_refined(foot, end, frame) for frame, end in downs if frame <= earliest + margin]
    nearest = min(impacts, key=lambda impact: abs(impact - earliest))
    return float(np.median([impact for impact in impacts if abs(impact - nearest) <= margin]))


def _first_down(above: FloatArray, window: slice, low: float) -> int | None:
    """Return the first frame of a window in which one end of the foot is low and slow."""
    first = window.start
    down = above < low
    if down[first]:
        up = np.flatnonzero(~down[:first])
        frame = int(up[-1]) + 1 if len(up) else 0
        return frame if frame > 0 else None
    later = np.flatnonzero(down[window])
    return first + int(later[0]) if len(later) else None


def _above_stance(foot: Foot, end: int, stance: slice) -> FloatArray:
    """Return how high one end lies above its stance that follows; infinite while it is fast."""
    slow, height = foot.slow[end], foot.ends[end][:, UP]
    resting = height[stance][slow[stance]]
    if not len(resting):
        return np.full(len(slow), np.inf)
    level = float(np.median(resting))
    if end == 0 and not foot.sees_heel:
        level += ANKLE_RISE_M
    return np.where(slow, height - level, np.inf)


def _refined(foot: Foot, end: int, frame: int) -> float:
    first = int(round(frame - REFINE_BEFORE_S * foot.rate_hz))
    stop = int(round(frame + REFINE_AFTER_S * foot.rate_hz)) + 1
    peak = peak_near(foot.impacts[end], first, stop)
    if peak is None or foot.impacts[end][int(round(peak))] < IMPACT_M_S2:
        return float(frame)
    return peak
