"""What speaks against a cycle: gaps, turns, starts, stops, a missing contact."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from gaittrack.cycles.body_way import at_times, body_ways
from gaittrack.cycles.cycle import Cycle
from gaittrack.kinematics.motion import Motion
from gaittrack.kinematics.sagittal_angles import FORWARD, LEFT
from gaittrack.quick_numpy import gaps_of, median_of
from gaittrack.reasons import Parameter, Reason
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import SIDES, Joint, Side

SLOWEST_SHARE, FASTEST_SHARE = 0.6, 1.6
"""Speed against the median of the pass outside which a step is starting or stopping; own choice."""
STEP_BEFORE_SHARE = 0.4
"""Stretch before the first contact, as a share of the cycle, in which the body must move already;
own choice: somewhat less than a step."""
TURN_DEG = 20.0
"""Angle between the body's way over a cycle and its pass, or between the foot's directions at its
two contacts, beyond which the body turns; own choice (4 deg in the straight walks at hand)."""
SHORTEST_CYCLE_S, LONGEST_CYCLE_S = 0.4, 6.0
"""Cycle times that are believed; own choice: running children to very slow stroke walking."""
LONG_SHARE = 1.7
"""A cycle this much longer than the side's median has a contact missing; own choice."""
LOWEST_HIP_AT_CONTACT = 0.3
"""Place of the hip at contact in its range over the cycle (0 extended, 1 flexed), below which it is
no contact; own choice. The phase table as taught (thigh to vertical) has 20 deg at contact in a
range of -20 to 25, which is 0.9; and -20 to -10 where the other foot makes contact, 0 to 0.2."""
LEAST_HIP_RANGE_DEG = 10.0
"""A hip that moves less tells nothing of its place; own choice."""
HIP_EXTENDED: Final = "hip_extended"
"""Code of the reason against a cycle that begins with the hip extended."""
_HIP_EXTENDED: Final = Reason(HIP_EXTENDED)
_NO_TOE_OFF: Final = Reason("no_toe_off_inside")
_NOT_WITHIN_PASS: Final = Reason("not_within_pass")
_STARTING: Final = Reason("starting")
_HIPS: tuple[Joint, ...] = ("hip_pelvis_thigh", "hip_thigh_vertical")
_SHOWN = ("pelvis", "hip_centre", "knee_centre", "ankle_centre", "heel", "forefoot", "toe_point")


Gaps = Mapping[Parameter, BoolArray]
"""By point or angle of a side, the frames in which it is missing; of those only that ever are."""


def gaps_of_side(motion: Motion, side: Side) -> Gaps:
    """Return where points of the body's side, and angles of the file itself, are missing."""
    missing: dict[Parameter, BoolArray] = {}
    for name in _SHOWN:
        key = name if name == "pelvis" else f"{side}_{name}"
        if key in motion.points:
            missing[name] = gaps_of(motion.points[key])
    for (own, joint), signal in motion.angles.items():
        if own == side and motion.angle_origin[own, joint] == "file":
            missing[Reason("angle_of_file", angle=joint)] = np.isnan(signal.values)
    return {name: frames for name, frames in missing.items() if frames.any()}


def ways_reasons(
    motion: Motion, side: Side, start_s: FloatArray, end_s: FloatArray, ways: FloatArray | None
) -> tuple[list[Reason | None], list[Reason | None]]:
    """Return why the way of each cycle of a side is not measured: it turns, and it starts.

    Parameters
    ----------
    start_s, end_s : ndarray, shape (n_cycles,)
    ways : ndarray, shape (n_cycles, 3), or None
        How far the body moved over each.
    """
    turning = [_turn_reason(*each) for each in _turns(motion, side, start_s, end_s, ways)]
    before_s = start_s - (end_s - start_s) * STEP_BEFORE_SHARE
    before = body_ways(motion, side, np.fmax(before_s, 0.0), start_s)
    if before is None or ways is None:
        return turning, [None] * len(start_s)
    slow = abs(before[:, FORWARD]) < SLOWEST_SHARE * STEP_BEFORE_SHARE * ways[:, FORWARD]
    starts = (slow & (before_s >= 0)).tolist()
    return turning, [_STARTING if each else None for each in starts]


def reasons_against(
    motion: Motion,
    cycle: Cycle,
    n_offs: int,
    of_way: tuple[Reason | None, Reason | None],
    gaps: Gaps,
) -> list[Reason]:
    """Return why a whole cycle is not to be measured; empty: keep.

    Parameters
    ----------
    n_offs : int
        Toe-offs inside it.
    of_way : (Reason or None, Reason or None)
        What :func:`ways_reasons` says of it.
    gaps : Gaps
        Of its side.
    """
    reasons = []
    if n_offs != 1:
        reasons.append(Reason("toe_offs_inside", n=n_offs) if n_offs else _NO_TOE_OFF)
    frames = slice(int(cycle.start_s * motion.rate_hz), int(cycle.end_s * motion.rate_hz) + 2)
    gapped = tuple(name for name, missing in gaps.items() if missing[frames].any())
    reasons += _time_reasons(cycle) + ([Reason("long_gap", names=gapped)] if gapped else [])
    turning, starting = of_way
    reasons += ([turning] if turning else []) + _hip_reasons(cycle)
    return reasons + ([starting] if starting else [])


def reasons_against_curves(cycle: Cycle) -> tuple[Reason, ...]:
    """Return why a cycle that a sheet holds as curves is not to be measured; empty: keep."""
    return (*_time_reasons(cycle), *_hip_reasons(cycle))


def _time_reasons(cycle: Cycle) -> list[Reason]:
    if math.isnan(cycle.duration_s) or SHORTEST_CYCLE_S <= cycle.duration_s <= LONGEST_CYCLE_S:
        return []
    return [Reason("cycle_time_not_believed", time_s=round(float(cycle.duration_s), 2))]


def _hip_reasons(cycle: Cycle) -> list[Reason]:
    """Reject a cycle that begins with the hip extended: its contact is no contact of this foot."""
    for joint in _HIPS:
        hip = cycle.percent_curves.get(joint)
        if hip is None:
            continue
        lowest = np.minimum.reduce(hip)
        range_deg = np.maximum.reduce(hip) - lowest
        if range_deg >= LEAST_HIP_RANGE_DEG:
            place = (hip[0] - lowest) / range_deg
            return [_HIP_EXTENDED] if place < LOWEST_HIP_AT_CONTACT else []
    return []


def _turns(
    motion: Motion, side: Side, start_s: FloatArray, end_s: FloatArray, ways: FloatArray | None
) -> Iterator[tuple[bool, float, float]]:
    """Give of each cycle whether it is within one pass, and how far body and foot turn in it."""
    n_cycles = len(start_s)
    if motion.axes is None:
        return iter([(True, 0.0, 0.0)] * n_cycles)
    numbers = motion.axes.pass_number
    first = (start_s * motion.rate_hz).astype(np.intp)
    last = np.minimum((end_s * motion.rate_hz).astype(np.intp) + 1, len(numbers) - 1)
    n_changes = np.concatenate(([0], np.add.accumulate(numbers[1:] != numbers[:-1])))
    within = (numbers[first] != 0) & (n_changes[last] == n_changes[first])
    body = [0.0] * n_cycles
    if ways is not None:
        body = [abs(math.degrees(math.atan2(way[LEFT], way[FORWARD]))) for way in ways.tolist()]
    return zip(within.tolist(), body, _foot_turns_deg(motion, side, start_s, end_s), strict=True)


def _turn_reason(is_within_pass: bool, body_deg: float, foot_deg: float) -> Reason | None:
    if not is_within_pass:
        return _NOT_WITHIN_PASS
    if body_deg > TURN_DEG:
        return Reason("turning", angle_deg=round(body_deg))
    return Reason("foot_turned", angle_deg=round(foot_deg)) if foot_deg > TURN_DEG else None


def _foot_turns_deg(
    motion: Motion, side: Side, start_s: FloatArray, end_s: FloatArray
) -> list[float]:
    """Return how far the foot's direction on the floor turned from contact to contact."""
    heel, forefoot = (motion.points.get(f"{side}_{end}") for end in ("heel", "forefoot"))
    if heel is None or forefoot is None:
        return [0.0] * len(start_s)
    first, last = (
        [complex(way[FORWARD], way[LEFT]) for way in ways.tolist()]
        for times_s in (start_s, end_s)
        for ways in [at_times(motion, forefoot, times_s) - at_times(motion, heel, times_s)]
    )
    turned = (after * before.conjugate() for before, after in zip(first, last, strict=True))
    return [abs(math.degrees(cmath.phase(each))) for each in turned]


def without_odd_ones(cycles: list[Cycle]) -> list[Cycle]:
    """Reject cycles that differ from the others of their walk as only odd steps do."""
    kept = [cycle for cycle in cycles if cycle.is_kept]
    usual_m_s = _median_of_three([cycle.speed_m_s for cycle in kept])
    checked = []
    for side in SIDES:
        usual_s = _median_of_three([cycle.duration_s for cycle in kept if cycle.side == side])
        for cycle in (cycle for cycle in cycles if cycle.side == side):
            reasons = _odd_reasons(cycle, usual_s, usual_m_s) if cycle.is_kept else []
            checked.append(replace(cycle, reject_reasons=tuple(reasons)) if reasons else cycle)
    return checked


def _median_of_three(values: list[float]) -> float:
    """Return the median of at least three known values; NaN of fewer."""
    known = [value for value in values if not math.isnan(value)]
    return median_of(np.array(known)) if len(known) >= 3 else math.nan


def _odd_reasons(cycle: Cycle, usual_s: float, usual_m_s: float) -> list[Reason]:
    reasons = []
    if cycle.duration_s > LONG_SHARE * usual_s:
        reasons.append(Reason("much_longer"))
    share = cycle.speed_m_s / usual_m_s
    if not math.isnan(share) and not SLOWEST_SHARE <= share <= FASTEST_SHARE:
        reasons.append(Reason("starting_or_stopping", percent=round(100 * share, 0)))
    return reasons
