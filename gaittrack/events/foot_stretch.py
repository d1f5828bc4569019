"""One foot over one stretch of frames in which it and the body were seen.

In comes a motion, out come the stretches of each foot with what its landing and leaving are told
from: the paths of its ends, how fast they are, how hard they are stopped from falling.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from gaittrack.events.impacts import Impact, find_impacts
from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.motion import Motion
from gaittrack.kinematics.sagittal_angles import FORWARD, UP
from gaittrack.kinematics.smoothing import TOE_OFF_CUTOFF_HZ, low_pass, velocity
from gaittrack.quick_numpy import gaps_of, lengths_of, medians_of
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import Side

SLOW_M_S = 0.5
"""Speed below which it counts as stopped; valid in cerebral palsy
(doi:10.1016/j.clinbiomech.2021.105492)."""
SLOW_SHARE = 0.25
"""… but never more than this share of the swing's peak speed, for very slow walking; own choice."""
SLOWEST_M_S = 0.1
SEEN_SHARE = 0.8
"""An end of the foot seen less often than this share of the best seen one is left out."""
SOLE_SHARE = 0.92
"""Where a foot with a toe marker alone touches, from heel to toe: behind the tip, which lies lower
than in stance while the foot points down, and would hide that the foot hangs; own choice."""
SHORTEST_S = 0.2
End = Literal["rear", "front"]

_FRONTS = ("metatarsal_5", "metatarsal_2", "metatarsal_1", "toe")
_BODY = (
    "left_asis", "right_asis", "left_psis", "right_psis", "sacrum", "left_hip", "right_hip",
)  # fmt: skip
HEEL_BEHIND_ANKLE, HEEL_BELOW_ANKLE = 0.42, 0.34
"""Where the heel lies from the ankle on a flat foot, in distances of ankle to forefoot along the
floor; own choice, from recorded feet. A heel turns about its edge after contact, an ankle travels
on with it: told from the ankle itself contacts come up to 70 ms late."""


@dataclass(frozen=True, eq=False, slots=True)
class FootStretch:
    """One foot over one stretch.

    Attributes
    ----------
    start : int
        First frame of the stretch.
    body_m_s : ndarray, shape (n,)
        Forward speed of the body.
    toe_m_s : ndarray, shape (n,)
        Forward speed of the toe point.
    ends : mapping of End to ndarray, shape (n, 3)
        Forward, left, up in metres.
    impacts : mapping of End to list of Impact
        Where it is stopped from falling.
    slow : mapping of End to ndarray of bool, shape (n,)
    """

    side: Side
    start: int
    rate_hz: float
    body_m_s: FloatArray
    toe_m_s: FloatArray
    ends: Mapping[End, FloatArray]
    impacts: Mapping[End, list[Impact]]
    slow: Mapping[End, BoolArray]

    @property
    def n_frames(self) -> int:
        """Number of frames of the stretch."""
        return len(self.toe_m_s)


def foot_stretches(motion: Motion, side: Side) -> list[FootStretch]:
    """Return the stretches in which a foot and the body were seen; none without either."""
    body = body_reference(motion, side)
    ends = foot_ends(motion, side)
    if body is None or not ends or motion.axes is None:
        return []
    toe_key = f"{side}_toe_point"
    toe = motion.fast_points.get(toe_key, [*ends.values()][-1])
    seen = ~np.logical_or.reduce([gaps_of(each) for each in (body, toe, *ends.values())])
    return [
        _stretch(motion.rate_hz, side, slice(start, stop), body, toe, ends)
        for start, stop in _same_direction(seen, motion.axes.forward)
        if stop - start >= SHORTEST_S * motion.rate_hz
    ]


def body_reference(motion: Motion, side: Side) -> FloatArray | None:
    """Return the path of the body that a foot leaves the floor against.

    Returns
    -------
    ndarray, shape (n_frames, 3), or None
        Mean of the pelvis and hip markers that are seen, each moved by its usual distance from
        the best seen one, so that a hidden marker hides no step; else the knee's path.
    """
    body = [motion.points[key] for key in _BODY if key in motion.points]
    if not body:
        return motion.points.get(f"{side}_knee_centre")
    if not np.isnan(sum(np.add.reduce(xyz, axis=None) for xyz in body)):
        return np.asarray(np.add.reduce(body) / len(body))
    anchor = max(body, key=lambda xyz: int((~np.isnan(xyz[:, 0])).sum()))
    moved = [xyz - _usual_offset(xyz, anchor) for xyz in body]
    seen = ~np.isnan(moved)
    total = np.where(seen, moved, 0.0).sum(axis=0)
    count = seen.sum(axis=0)
    path: FloatArray = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return path


def sees_body(motion: Motion) -> bool:
    """Whether any marker of pelvis or hip was seen."""
    return any(key in motion.points for key in _BODY)


def _usual_offset(xyz: FloatArray, anchor: FloatArray) -> FloatArray:
    offset = xyz - anchor
    offset = offset[~np.isnan(offset[:, 0])]
    return medians_of(offset, axis=0) if len(offset) else np.full(3, np.nan)


def foot_ends(motion: Motion, side: Side) -> dict[End, FloatArray]:
    """Return the ends of a foot whose landing is looked for.

    Returns
    -------
    dict of End to ndarray, shape (n_frames, 3)
        ``front`` is the middle of the markers there: the sole touches between the heads of the
        metatarsals and the toes. Without a heel its place is reckoned from ankle and forefoot.
    """
    points = {name: motion.fast_points.get(f"{side}_{name}") for name in ("heel", *_FRONTS)}
    known = {name: xyz for name, xyz in points.items() if xyz is not None}
    ankle = motion.fast_points.get(f"{side}_ankle")
    if "heel" not in known and ankle is not None:
        forefoot = motion.fast_points.get(f"{side}_forefoot")
        known["heel"] = ankle if forefoot is None else _heel_of(ankle, forefoot)
    counts = {name: int((~np.isnan(xyz[:, 0])).sum()) for name, xyz in known.items()}
    least = SEEN_SHARE * max(counts.values(), default=0)
    seen = {name: xyz for name, xyz in known.items() if counts[name] >= least}
    fronts = [seen[name] for name in _FRONTS if name in seen]
    ends: dict[End, FloatArray] = {"rear": seen["heel"]} if "heel" in seen else {}
    if not fronts:
        return ends
    front = np.add.reduce(fronts) / len(fronts)
    if "heel" in seen and "toe" in seen and len(fronts) == 1:
        front = seen["heel"] + SOLE_SHARE * (front - seen["heel"])
    return {**ends, "front": front}


def _heel_of(ankle: FloatArray, forefoot: FloatArray) -> FloatArray:
    """Return where the heel of a rigid foot is, from its ankle and forefoot."""
    along = (forefoot - ankle)[:, [FORWARD, UP]]
    flat = _usual_direction(along)
    turned = (
        np.column_stack([along @ flat, along[:, 1] * flat[0] - along[:, 0] * flat[1]])
        / np.linalg.norm(flat) ** 2
    )
    heel = ankle.copy()
    behind, below = -HEEL_BEHIND_ANKLE * flat[0], -HEEL_BELOW_ANKLE * flat[0]
    heel[:, FORWARD] += turned[:, 0] * behind - turned[:, 1] * below
    heel[:, UP] += turned[:, 1] * behind + turned[:, 0] * below
    return heel


def _usual_direction(along: FloatArray) -> FloatArray:
    """Return the commonest ankle-to-forefoot line: that of the foot lying flat."""
    seen = along[~np.isnan(along[:, 0])]
    turning = lengths_of(np.gradient(seen, axis=0))
    return medians_of(seen[turning <= np.quantile(turning, 0.3)], axis=0)


def _same_direction(seen: BoolArray, forward: FloatArray) -> list[tuple[int, int]]:
    """Return runs of seen frames, cut where the direction of walking changes."""
    turns = np.flatnonzero((np.abs(np.diff(forward, axis=0)) > 1e-9).any(axis=1)) + 1
    pieces = []
    for start, stop in runs(seen):
        cuts = [start, *[turn for turn in turns.tolist() if start < turn < stop], stop]
        pieces += list(zip(cuts, cuts[1:], strict=False))
    return pieces


def _stretch(
    rate_hz: float,
    side: Side,
    window: slice,
    body: FloatArray,
    toe: FloatArray,
    ends: Mapping[End, FloatArray],
) -> FootStretch:
    ways = np.stack([toe[window, FORWARD], body[window, FORWARD]], axis=1)
    speeds = velocity(low_pass(ways, cutoff_hz=TOE_OFF_CUTOFF_HZ, rate_hz=rate_hz), rate_hz)
    cut = {name: end[window] for name, end in ends.items()}
    heights = np.stack([end[:, UP] for end in cut.values()], axis=1)
    return FootStretch(
        side=side,
        start=window.start,
        rate_hz=rate_hz,
        body_m_s=speeds[:, 1],
        toe_m_s=speeds[:, 0],
        ends=cut,
        impacts=dict(zip(cut, find_impacts(heights, rate_hz), strict=True)),
        slow={name: _is_slow(sagittal_speed(end, rate_hz)) for name, end in cut.items()},
    )


def sagittal_speed(point: FloatArray, rate_hz: float) -> FloatArray:
    """Return how fast a point moves forward and up together, m/s, sideways left out."""
    moves = velocity(point, rate_hz)
    speed: FloatArray = np.sqrt(moves[:, FORWARD] ** 2 + moves[:, UP] ** 2)
    return speed


def _is_slow(speed: FloatArray) -> BoolArray:
    slow: BoolArray = speed < max(SLOWEST_M_S, min(SLOW_M_S, SLOW_SHARE * float(speed.max())))
    return slow
