"""Tell whether the cycles of a file look like walking.

In come the cycles of one file, out come warnings: no cycles, or a cadence, a speed or steps that no
walk has. Most often the recording rate or the length unit is wrong then.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

import numpy as np

from gaittrack.cycles import OUT_OF_ORDER, Cycle
from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import EVERYTHING, HEIGHTS, UPRIGHT
from gaittrack.kinematics.floor import STEEPEST_SLIP_DEG
from gaittrack.kinematics.motion import Motion
from gaittrack.kinematics.rigid_distances import distance_problems
from gaittrack.kinematics.sagittal_angles import FORWARD, UP
from gaittrack.kinematics.stance_shapes import (
    knee_problems,
    pelvis_problems,
    stance_problems,
)
from gaittrack.quick_numpy import median_of, medians_of
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Side

CADENCE_RANGE_STEPS_MIN: Final = (20.0, 200.0)
"""Cadence outside is no walk; own choice, wide on purpose (no source)."""
HIGHEST_SPEED_M_S: Final = 3.0
"""Faster is no walk: adults change to running near 2 m/s (common practice, no source)."""
HIGHEST_WALK_RATIO_M_MIN: Final = 0.012
"""Step length over cadence, in metres per step/min. Near 0.0065 over the range of free walking
(Sekiya et al. 1996, J Hum Mov Stud 30:241; from memory); nearly twice that is a walk played too
slowly, such as one at half its frame rate. Much shorter steps occur in patients and are no sign of
a wrong rate."""


HIGHEST_OWN_CADENCE: Final = 0.85
"""Steps per second times the root of leg length over g, above which it is no walk: 173 steps/min
with a leg of 0.85 m, 225 with one of 0.5 m. Brisk adults reach 0.75; own choice, no source."""
HIGHEST_OWN_RATIO: Final = 2.5
"""Step over leg length, over that cadence: the walk ratio of any body. 1.5 in free walking (0.0065
m per step/min with a leg of 0.85 m), twice as much at half the frame rate; own choice."""
_G_M_S2: Final = 9.81

NEEDED: Final = ("hip_centre", "knee_centre", "ankle_centre", "heel", "forefoot")
"""Points without which a stride is not measured, besides the pelvis."""
STRIDE_MARGIN: Final = 0.25
"""A gap of three quarters of a stride costs one; own choice."""
SEEN_ALWAYS: Final = 0.98
NAMED_AT_MOST: Final = 6
LONG_GAP: Final = "long_gap"
"""Code of the reason against a cycle with a gap."""
LEAST_STRIDE_RISE_M: Final = 0.015
STEEPEST_SLIP: Final = math.tan(math.radians(STEEPEST_SLIP_DEG))
"""Rise of a stride, and over its length, past both of which it is told; own choice: the end of a
foot that touches the floor is at its standing height within some millimetres."""
_SPOILED: Final = Spoiled(EVERYTHING)
"""A wrong rate or unit moves everything: what is smoothed, looked for by speed, told in metres."""


def doubts(cycles: Sequence[Cycle], where: str, *, leg_m: float = math.nan) -> list[Problem]:
    """Return warnings about cycles that do not look like a walk, or whose feet are out of order.

    Parameters
    ----------
    cycles : sequence of Cycle
        Of one file, kept and rejected ones.
    where : str
        The file's name.
    leg_m : float
        Length of a leg; short legs step faster.

    Returns
    -------
    list of Problem
        Empty for an ordinary walk. Cycles without a time or a speed say nothing.
    """
    return [
        *_without_cycles(cycles, where),
        *_out_of_order(cycles, where),
        *(Problem("warning", reason, where, (_SPOILED,)) for reason in _of_no_walk(cycles, leg_m)),
    ]


def lost_strides(motion: Motion, cycles: Sequence[Cycle], where: str) -> list[Problem]:
    """Return a problem for each side of which gaps of markers cost a stride or more.

    What is left of the walk is right; that it is less than was walked must be known.
    """
    stride_s = _median([cycle.duration_s for cycle in cycles if cycle.is_kept])
    problems = []
    for side in SIDES if motion.points and math.isfinite(stride_s) else ():
        points = {key: xyz for key, xyz in motion.points.items() if _is_needed(key, side)}
        hidden = _hidden_s(points, motion.rate_hz)
        n_rejected = sum(_is_gapped(cycle) for cycle in cycles if cycle.side == side)
        n_lost = max(n_rejected, int(hidden / stride_s + STRIDE_MARGIN))
        if n_lost:
            n_kept = sum(cycle.is_kept for cycle in cycles if cycle.side == side)
            least = sorted(motion.markers.seen_share.items(), key=lambda item: item[1])
            own = [(key, share) for key, share in least if side in key]
            named = tuple(key for key, share in own if share < SEEN_ALWAYS) or (own[0][0],)
            reason = Reason(
                "strides_lost", n=n_lost, kept=n_kept, side=side, names=named[:NAMED_AT_MOST]
            )
            problems.append(Problem("warning", reason, where))
    return problems


def rising_strides(motion: Motion, cycles: Sequence[Cycle], where: str) -> list[Problem]:
    """Return a problem where the foot comes down higher or lower than it did a stride before.

    Where few stances are seen, this is all that shows a floor that is not level in the recording.
    """
    found = [_rise(motion, cycle) for cycle in cycles if cycle.is_kept]
    rises = np.array([rise for rise in found if rise is not None]).reshape(-1, 2)
    if not len(rises):
        return []
    way_m, up_m = medians_of(rises, axis=0)
    if not (abs(up_m) > LEAST_STRIDE_RISE_M and abs(up_m) > STEEPEST_SLIP * way_m > 0):
        return []
    degrees = round(math.degrees(math.atan2(up_m, way_m)), 1)
    spoils = (Spoiled(UPRIGHT, HEIGHTS),)
    return [Problem("warning", Reason("strides_rise", by_deg=degrees), where, spoils)]


def moved_markers(motion: Motion, cycles: Sequence[Cycle]) -> list[Problem]:
    """Return problems of markers that do not stay with their bone during the strides measured."""
    if not motion.points:
        return []
    points, labels, rate_hz = motion.points, motion.landmark_labels, motion.rate_hz
    own = {side: _frames(motion, cycles, side) for side in SIDES}
    strides = [stride for side in SIDES for stride in own[side]]
    flat = {
        side: own[side]
        for side, foot in motion.neutral.items()
        if foot.source != "none" and own[side]
    }
    return [
        *distance_problems(points, labels, rate_hz, strides),
        *stance_problems(points, labels, rate_hz, flat),
        *pelvis_problems(points, strides),
        *knee_problems(motion.marker_angles, own),
    ]


def _frames(motion: Motion, cycles: Sequence[Cycle], side: Side) -> list[tuple[int, int]]:
    """Return the first frame of each stride that is kept, and the one after its last."""
    rate_hz, last = motion.rate_hz, motion.n_frames
    return [
        (max(round(cycle.start_s * rate_hz), 0), min(round(cycle.end_s * rate_hz) + 1, last))
        for cycle in cycles
        if cycle.is_kept and cycle.side == side
    ]


def _rise(motion: Motion, cycle: Cycle) -> tuple[float, float] | None:
    """Return how far the end of the foot that touches the floor comes along and up, in metres."""
    neutral = motion.neutral.get(cycle.side)
    heel, forefoot = (motion.points.get(f"{cycle.side}_{name}") for name in ("heel", "forefoot"))
    if neutral is None or heel is None or forefoot is None or not math.isfinite(cycle.end_s):
        return None
    frames = [round(each * motion.rate_hz) for each in (cycle.start_s, cycle.end_s)]
    if not 0 <= frames[0] < frames[1] < motion.n_frames:
        return None
    heights = [
        (
            float(heel[at, UP]) - neutral.heel_height_m,
            float(forefoot[at, UP]) - neutral.forefoot_height_m,
        )
        for at in frames
    ]
    way_m = abs(float(heel[frames[1], FORWARD]) - float(heel[frames[0], FORWARD]))
    if not math.isfinite(way_m + sum(map(sum, heights))):
        return None
    return way_m, min(heights[1]) - min(heights[0])


def _is_needed(key: str, side: Side) -> bool:
    return key == "pelvis" or key in (f"{side}_{name}" for name in NEEDED)


def _hidden_s(points: Mapping[str, FloatArray], rate_hz: float) -> float:
    """Return how long not all points are seen while half of them are or were, in seconds."""
    if not points:
        return 0.0
    seen = ~np.isnan(np.stack([xyz[:, 0] for xyz in points.values()]))
    in_view = np.flatnonzero(2 * seen.sum(axis=0) >= len(seen))
    if not len(in_view):
        return 0.0
    whole = seen[:, in_view[0] : in_view[-1] + 1].all(axis=0)
    return float((~whole).sum() / rate_hz)


def _is_gapped(cycle: Cycle) -> bool:
    return any(reason.code == LONG_GAP for reason in cycle.reject_reasons)


def _of_no_walk(cycles: Sequence[Cycle], leg_m: float) -> Iterator[Reason]:
    cadence = 120 / _median([cycle.duration_s for cycle in cycles])
    speed_m_s = _median([cycle.speed_m_s for cycle in cycles])
    pendulum_s = math.sqrt(leg_m / _G_M_S2)
    lowest, highest = CADENCE_RANGE_STEPS_MIN
    if 60 * HIGHEST_OWN_CADENCE / pendulum_s < highest:
        highest = 60 * HIGHEST_OWN_CADENCE / pendulum_s
    if cadence < lowest or cadence > highest:
        limits = {"lowest": round(lowest), "highest": round(highest)}
        yield Reason("cadence_of_no_walk", cadence=round(cadence), **limits)
    if speed_m_s > HIGHEST_SPEED_M_S:
        yield Reason(
            "speed_of_no_walk",
            speed_m_s=round(speed_m_s, 1),
            highest_m_s=round(HIGHEST_SPEED_M_S),
        )
    step_m = 60 * speed_m_s / cadence
    own_ratio = step_m / leg_m / (cadence / 60 * pendulum_s)
    if step_m / cadence > HIGHEST_WALK_RATIO_M_MIN or own_ratio > HIGHEST_OWN_RATIO:
        yield Reason("too_slow_for_steps", step_m=round(step_m, 2), cadence=round(cadence))


def _without_cycles(cycles: Sequence[Cycle], where: str) -> list[Problem]:
    if any(cycle.is_kept for cycle in cycles):
        return []
    if not cycles:
        return [Problem("warning", Reason("no_cycle_found"), where)]
    reasons = dict.fromkeys(reason for cycle in cycles for reason in cycle.reject_reasons)
    return [Problem("warning", Reason("no_cycle_kept", reasons=tuple(reasons)), where)]


def _out_of_order(cycles: Sequence[Cycle], where: str) -> list[Problem]:
    codes = [{reason.code for reason in cycle.reject_reasons} for cycle in cycles]
    n = sum(OUT_OF_ORDER in of_cycle for of_cycle in codes)
    reason = Reason("strides_out_of_order", n=n, n_all=len(cycles))
    return [Problem("warning", reason, where)] if n else []


def _median(values: Sequence[float]) -> float:
    """Return the median of the numbers above 0, NaN when there are none."""
    known = [value for value in values if math.isfinite(value) and value > 0]
    return median_of(np.array(known)) if known else math.nan
