"""Bring the angles of a sheet to degrees and the package's signs, or say why not.

In come traces as written in the sheet; out go the same traces in degrees, dorsiflexion, knee
flexion and hip flexion positive, zero as in ``vocabulary.JOINT_MEANING``. Whatever is changed is
recorded; what cannot be decided from the numbers becomes a doubt that the reader turns into a
question. Columns that a map describes are only checked, never changed beyond what the map says.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import file_angle_of
from gaittrack.read.sheets.ankle_votes import (
    SheetCycles,
    push_off_vote,
    stance_vote,
    vote_beside_knee,
)
from gaittrack.read.tables.column_names import read_column_name
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Joint, Side

KNEE_CANNOT_HYPEREXTEND_DEG = 40.0
"""A knee angle past this on the negative side is flexion with the sign turned; our choice, far
beyond any knee that walks."""
RADIAN_LIMIT = 2.7
"""Largest number of a walk's angles in radians (155 deg); our choice."""
RADIAN_RANGE = 0.12
"""Smallest range of a walk's most mobile joint in radians (7 deg); our choice."""
RIGHT_ANGLE_DEG = 90.0
MOSTLY_EXTENDED_DEG: dict[str, float] = {"hip_pelvis_thigh": -10, "hip_thigh_vertical": -25}
"""Sum of a hip's largest and smallest angle below which its sign is asked for; our choice: in the
phase table as taught the thigh runs from -20 to 25, against the pelvis some 10 deg higher."""


@dataclass(slots=True)
class Trace:
    """One angle of a sheet, over time or over a cycle.

    Attributes
    ----------
    name : str
        Column or row as in the sheet.
    side : Side or None
        None for a pelvis angle that names no side, or where nothing tells it.
    values : ndarray, shape (n,)
        As in the sheet; degrees with our signs after :func:`settle_angles`.
    sign, zero_deg : float
        Degrees here = sign × (degrees of the sheet - zero_deg).
    unit : {"deg", "rad", ""}
        As the name or the row of units says.
    is_told : bool
        A map describes this trace.
    note : str
        What was taken for granted from the name.
    """

    name: str
    side: Side | None
    joint: Joint
    values: FloatArray
    sign: float = 1.0
    zero_deg: float = 0.0
    unit: str = ""
    is_told: bool = False
    cycle: str = ""
    condition: str = ""
    cycle_time_s: float = math.nan
    toe_off_percent: float = math.nan
    is_mean: bool = False
    note: Reason | None = None


@dataclass(slots=True)
class Settled:
    """What was done to the traces, what a person should know, and what stayed undecided.

    ``doubtful`` holds the names of traces whose sign or zero is in doubt.
    """

    steps: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)
    doubtful: set[str] = field(default_factory=set)
    unit_in_doubt: bool = False


def settle_angles(
    traces: Sequence[Trace],
    *,
    told_unit: str | None,
    header_unit: str,
    over_cycle: bool,
    cycles: SheetCycles | None = None,
) -> Settled:
    """Convert the traces in place.

    Parameters
    ----------
    told_unit : {"deg", "rad"} or None
        From a map; comes first.
    header_unit : {"deg", "rad", ""}
        From lines above the header.
    over_cycle : bool
        The traces run from 0 to 100 % of a cycle.
    cycles : mapping of side to list of SheetCycle, optional
        Those that the sheet marks.

    Returns
    -------
    Settled
        With doubts, the traces must not be used.
    """
    settled = Settled()
    unit = _unit(traces, told_unit, header_unit, settled)
    settled.unit_in_doubt = bool(settled.doubts)
    for trace in traces:
        degrees = np.degrees(trace.values) if unit == "rad" else trace.values
        trace.values = trace.sign * (degrees - trace.zero_deg)
        if trace.sign < 0:
            settled.steps.append(f"sign of {trace.name!r} turned, as its name or the map says")
        if trace.zero_deg:
            settled.steps.append(f"{trace.zero_deg:g} deg taken off {trace.name!r}")
    guessed = [trace for trace in traces if not trace.is_told]
    knees = {trace.side: trace for trace in traces if trace.joint == "knee"}
    _settle_knees([trace for trace in traces if trace.joint == "knee"], settled)
    ankles = [trace for trace in traces if trace.joint == "ankle"]
    _settle_ankles(ankles, settled, over_cycle, cycles or {}, knees)
    _check_others(traces, settled)
    for note in dict.fromkeys(trace.note for trace in guessed if trace.note):
        names = _names(trace for trace in guessed if trace.note == note)
        settled.problems.append(Problem("info", note, names))
    return settled


def unit_doubt(traces: Sequence[Trace], header: str) -> str:
    """Return what is in doubt about the unit of angles, or ""."""
    looks = _unit_by_numbers(traces)
    named = {trace.unit for trace in traces if trace.unit}
    if len(named) > 1:
        return "unit: some columns say deg, others rad"
    said = _said_unit(traces, header)
    if said and looks and looks != said:
        return f"unit: the header says {said}, the numbers look like {looks}"
    if not said and not looks:
        return "unit: the numbers are so small that they may be deg or rad"
    return ""


def _said_unit(traces: Sequence[Trace], header: str) -> str:
    named = {trace.unit for trace in traces if trace.unit}
    return next(iter(named)) if len(named) == 1 else "" if named else header


def _unit(traces: Sequence[Trace], told: str | None, header: str, settled: Settled) -> str:
    looks = _unit_by_numbers(traces)
    said = told or _said_unit(traces, header)
    doubt = "" if told else unit_doubt(traces, header)
    settled.doubts += [doubt] if doubt else []
    unit = said or looks or "deg"
    settled.steps.append(f"unit: {unit} ({'as told' if told else 'header' if said else 'by size'})")
    if not said and unit == "rad":
        settled.problems.append(Problem("warning", Reason("radians_by_size"), "sheet"))
    return unit


def _unit_by_numbers(traces: Sequence[Trace]) -> str:
    """Return ``deg``, ``rad`` or "" as the size of the numbers tells."""
    finite = [trace.values[np.isfinite(trace.values)] for trace in traces]
    finite = [values for values in finite if values.size]
    if not finite:
        return ""
    if max(float(np.abs(values).max()) for values in finite) > 2 * math.pi:
        return "deg"
    largest = max(float(np.abs(values).max()) for values in finite)
    widest = max(float(np.ptp(values)) for values in finite)
    return "rad" if largest <= RADIAN_LIMIT and widest >= RADIAN_RANGE else ""


def _ends(values: FloatArray) -> tuple[float, float]:
    """Return the 2nd and 98th percentile, NaN without numbers."""
    finite = values[np.isfinite(values)]
    if not finite.size:
        return math.nan, math.nan
    low, high = np.percentile(finite, (2, 98))
    return float(low), float(high)


def _settle_knees(knees: Sequence[Trace], settled: Settled) -> None:
    ends = [_ends(trace.values) for trace in knees]
    surely = [low < -KNEE_CANNOT_HYPEREXTEND_DEG and high < 25 for low, high in ends]
    negative = [low < -15 and low + high < 0 for low, high in ends]
    for trace, (low, high), turned in zip(knees, ends, negative, strict=True):
        if low > 90:
            _doubt_or_warn(
                trace,
                Reason("knee_near_180", low=round(low), high=round(high)),
                settled,
            )
        elif turned and not trace.is_told and any(surely):
            trace.values, trace.sign = -trace.values, -trace.sign
            settled.steps.append(f"sign of {trace.name!r} turned: knee flexion was negative")
            settled.problems.append(
                Problem(
                    "warning", Reason("knee_turned", low=round(low), high=round(high)), trace.name
                )
            )
        elif turned:
            _doubt_or_warn(
                trace,
                Reason("knee_flexion_negative", low=round(low), high=round(high)),
                settled,
            )


def _doubt_or_warn(trace: Trace, doubt: Reason, settled: Settled) -> None:
    if trace.is_told:
        spoils = _spoiled([trace])
        reason = Reason("implausible", doubt=doubt)
        settled.problems.append(Problem("warning", reason, trace.name, spoils))
    else:
        settled.doubts.append(f"sign or zero of {trace.name!r}: {doubt}")
        settled.doubtful.add(trace.name)


def _spoiled(traces: Sequence[Trace]) -> tuple[Spoiled, ...]:
    names = [
        file_angle_of(side, trace.joint)
        for trace in traces
        for side in (SIDES if trace.side is None else (trace.side,))
    ]
    return (Spoiled(*names),) if names else ()


def _settle_ankles(
    ankles: Sequence[Trace],
    settled: Settled,
    over_cycle: bool,
    cycles: SheetCycles,
    knees: Mapping[Side | None, Trace],
) -> None:
    medians = [float(np.nanmedian(t.values)) if np.isfinite(t.values).any() else 0 for t in ankles]
    shifted = [
        trace for trace, middle in zip(ankles, medians, strict=True) if 55 < abs(middle) < 125
    ]
    for trace in shifted:
        if trace.is_told:
            _doubt_or_warn(trace, Reason("ankle_near_90"), settled)
            continue
        offset = math.copysign(RIGHT_ANGLE_DEG, float(np.nanmedian(trace.values)))
        trace.values = trace.values - offset
        trace.zero_deg += trace.sign * offset
        settled.steps.append(f"{offset:g} deg taken off {trace.name!r}")
        settled.problems.append(
            Problem("warning", Reason("ankle_right_angle", zero_deg=offset), trace.name)
        )
    votes: dict[str, list[int]] = {}
    for trace in ankles:
        own = cycles.get(trace.side)
        vote = stance_vote(trace.values, own) if own else push_off_vote(trace.values, over_cycle)
        votes.setdefault(trace.side or trace.name, []).append(vote)
    said = _judge_ankle_signs(ankles, shifted, settled, [sum(side) for side in votes.values()])
    if not (said or over_cycle or cycles):
        _doubt_beside_knees(ankles, knees, settled)


def _judge_ankle_signs(
    ankles: Sequence[Trace], shifted: Sequence[Trace], settled: Settled, verdicts: Sequence[int]
) -> bool:
    """Compare with push-off; a side alone may be the impaired one: it is told of, not asked.

    Both may be impaired: names that say the direction are believed, and it is told of. Returns
    whether anything was said.
    """
    if not verdicts or not all(verdict < 0 for verdict in verdicts):
        return False
    names = _names(ankles)
    doubt = Reason("plantarflexion_positive")
    near_90 = any(not trace.is_told for trace in shifted)
    known = all(trace.is_told or read_column_name(trace.name).says_sign for trace in ankles)
    on_both = len(verdicts) > 1 and not known
    if near_90 or on_both:
        where = "near 90, and " if near_90 else "on both sides "
        settled.doubts.append(f"sign of {names}: {where}{doubt}")
        settled.doubtful.update(trace.name for trace in ankles if not trace.is_told)
        return True
    spoils = _spoiled([trace for trace in ankles if not trace.is_told])
    settled.problems.append(Problem("warning", Reason("on_looking", doubt=doubt), names, spoils))
    return True


def _doubt_beside_knees(
    ankles: Sequence[Trace], knees: Mapping[Side | None, Trace], settled: Settled
) -> None:
    """Tell of ankles that push off upwards on one side at least, and downwards on none."""
    unsaid = [
        trace
        for trace in ankles
        if not (trace.is_told or read_column_name(trace.name).says_sign) and trace.side in knees
    ]
    votes = {vote_beside_knee(each.values, knees[each.side].values) for each in unsaid}
    if -1 in votes and 1 not in votes:
        reason = Reason("on_looking", doubt=Reason("plantarflexion_positive"))
        problem = Problem("warning", reason, _names(unsaid), _spoiled(unsaid))
        settled.problems.append(problem)


def _check_others(traces: Iterable[Trace], settled: Settled) -> None:
    limits: dict[str, tuple[float, float]] = {
        "hip_pelvis_thigh": (-45, 100),
        "hip_thigh_vertical": (-55, 80),
        "shank_lean": (-70, 90),
        "foot_pitch": (-110, 70),
        "pelvic_tilt": (-30, 50),
        "ankle": (-75, 50),
        "knee": (-30, 130),
    }
    for trace in traces:
        low, high = _ends(trace.values)
        least, most = limits.get(trace.joint, (-180, 180))
        if low < least or high > most:
            doubt = Reason("angle_range", angle=trace.joint, low=round(low), high=round(high))
            _doubt_or_warn(trace, doubt, settled)
        elif low + high < MOSTLY_EXTENDED_DEG.get(trace.joint, -math.inf):
            doubt = Reason("hip_mostly_extended", low=round(low), high=round(high))
            _doubt_or_warn(trace, doubt, settled)


def _names(traces: Iterable[Trace]) -> str:
    return ", ".join(dict.fromkeys(repr(trace.name) for trace in traces))
