"""From events to gait cycles.

In come a motion and its events, out come cycles: one per contact-to-contact of one foot, kept or
rejected with reasons, never dropped. Cycles of 0–100 % curves from a sheet are made here too.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from gaittrack.events import DetectedEvents
from gaittrack.kinematics.motion import Motion
from gaittrack.kinematics.sagittal_angles import FORWARD, LEFT
from gaittrack.trial import AngleCurve, Event, FloatArray, Trial
from gaittrack.vocabulary import (
    EVENT_SOURCES,
    SIDES,
    ContactType,
    EventKind,
    EventSource,
    Joint,
    Side,
)

N_PERCENT_POINTS = 101
"""Points of the 0–100 % time base, both ends included; common practice, no source."""


@dataclass(frozen=True, eq=False, slots=True)
class Cycle:
    """One gait cycle of one foot, initial contact to the next.

    Attributes
    ----------
    id : str
        Unique in its trial: ``left-01``.
    side : {"left", "right"}
    start_s, toe_off_s, end_s : float
        Seconds from the first stored frame; ``toe_off_s`` is NaN when there is none. For a curve
        from a sheet ``start_s`` is 0 and ``end_s`` the cycle time (NaN when unknown).
    opposite_toe_off_s, opposite_contact_s : float
        The other foot's toe-off and next contact inside the cycle; NaN when not seen.
    contact : ContactType
        Which part of the foot made the contact at ``start_s``.
    sources : tuple of EventSource
        Sources of the events of this cycle, without repeats.
    speed_m_s : float
        Mean walking speed over the cycle; NaN when unknown.
    reject_reasons : tuple of str
        Empty: the cycle is kept.
    review_reasons : tuple of str
        What a person should look at (sources disagree by more than 50 ms); does not reject.
    percent_curves : mapping of Joint to ndarray, shape (101,)
        Degrees over 0–100 % of the cycle.
    is_mean : bool
        The cycle is already an average over several cycles.
    from_curve : bool
        The cycle comes from a 0–100 % curve of a sheet, not from a recording over time.
    label : str
        The sheet's own name of the cycle, for curves.
    """

    id: str
    side: Side
    start_s: float
    toe_off_s: float
    end_s: float
    opposite_toe_off_s: float = math.nan
    opposite_contact_s: float = math.nan
    contact: ContactType = "unknown"
    sources: tuple[EventSource, ...] = ()
    speed_m_s: float = math.nan
    reject_reasons: tuple[str, ...] = ()
    review_reasons: tuple[str, ...] = ()
    percent_curves: Mapping[Joint, FloatArray] = field(default_factory=dict)
    is_mean: bool = False
    from_curve: bool = False
    label: str = ""

    @property
    def duration_s(self) -> float:
        """Cycle time in seconds; NaN when unknown."""
        return self.end_s - self.start_s

    @property
    def is_kept(self) -> bool:
        """Whether nothing speaks against the cycle."""
        return not self.reject_reasons

    @property
    def toe_off_fraction(self) -> float:
        """Toe-off as a fraction of the cycle; NaN when unknown."""
        return (self.toe_off_s - self.start_s) / self.duration_s


PARTIAL = "the next contact of this foot is not in the recording"
SLOWEST_SHARE, FASTEST_SHARE = 0.6, 1.6
"""Speed against the median of the pass outside which a step is starting or stopping; own choice."""
STEP_BEFORE_SHARE = 0.4
"""Stretch before the first contact, as a share of the cycle, in which the body must move already;
own choice: somewhat less than a step."""
TURN_DEG = 20.0
"""Angle between the body's way over a cycle and its pass beyond which it turns; own choice."""
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
HIP_EXTENDED = "the hip is extended at contact: are the sides of the events exchanged?"
_HIPS: tuple[Joint, ...] = ("hip_pelvis_thigh", "hip_thigh_vertical")
_SHOWN = ("pelvis", "hip_centre", "knee_centre", "ankle_centre", "heel", "forefoot", "toe_point")


def cut_cycles(motion: Motion, detected: DetectedEvents) -> tuple[Cycle, ...]:
    """Cut a trial into gait cycles.

    Parameters
    ----------
    motion : Motion
    detected : DetectedEvents

    Returns
    -------
    tuple of Cycle
        Side by side, in time order, kept or rejected with reasons; curves of a sheet become
        cycles of their own.
    """
    cycles: list[Cycle] = []
    for side in SIDES:
        cycles += _cycles_of_side(motion, detected, side)
    return (*_without_odd_ones(cycles), *cycles_of_curves(motion.trial))


def _cycles_of_side(motion: Motion, detected: DetectedEvents, side: Side) -> list[Cycle]:
    own = [event for event in detected.events if event.side == side]
    other = [
        event for event in detected.events if event.side != side and event not in detected.doubted
    ]
    contacts = [event for event in own if event.kind == "initial_contact"]
    following: list[Event | None] = [*contacts[1:], None]
    return [
        _one_cycle(motion, detected, own, other, start, end, number)
        for number, (start, end) in enumerate(zip(contacts, following, strict=False), 1)
    ]


def _one_cycle(
    motion: Motion,
    detected: DetectedEvents,
    own: list[Event],
    other: list[Event],
    start: Event,
    end: Event | None,
    number: int,
) -> Cycle:
    end_s = end.time_s if end else math.nan
    offs = _times(own, "toe_off", start.time_s, end_s)
    cycle = Cycle(
        id=f"{start.side}-{number:02d}",
        side=start.side,
        start_s=start.time_s,
        toe_off_s=offs[0].time_s if offs else math.nan,
        end_s=end_s,
        opposite_toe_off_s=_first_s(_times(other, "toe_off", start.time_s, end_s)),
        opposite_contact_s=_first_s(_times(other, "initial_contact", start.time_s, end_s)),
        contact=start.contact or "unknown",
        sources=_sources(start, *offs[:1], *([end] if end else [])),
        reject_reasons=() if end else (PARTIAL,),
        review_reasons=_reviews(detected, start.side, start.time_s, end_s),
    )
    if end is None:
        return cycle
    marks = (start, *offs, end)
    doubts = dict.fromkeys(detected.doubted[e] for e in marks if e in detected.doubted)
    cycle = replace(cycle, percent_curves=_percent_curves(motion, cycle))
    return replace(
        cycle,
        speed_m_s=_speed(motion, cycle),
        reject_reasons=(*doubts, *_reject_reasons(motion, cycle, len(offs))),
    )


def _times(events: list[Event], kind: EventKind, start_s: float, end_s: float) -> list[Event]:
    last = math.inf if math.isnan(end_s) else end_s
    return [event for event in events if event.kind == kind and start_s < event.time_s < last]


def _first_s(events: list[Event]) -> float:
    return events[0].time_s if events else math.nan


def _sources(*events: Event) -> tuple[EventSource, ...]:
    used = {event.source for event in events}
    return tuple(source for source in EVENT_SOURCES if source in used)


def _reviews(detected: DetectedEvents, side: Side, start_s: float, end_s: float) -> tuple[str, ...]:
    last = math.inf if math.isnan(end_s) else end_s
    return tuple(
        f"{item.kind.replace('_', ' ')} at {item.time_s:.3f} s: {item.other_source} differs from "
        f"{item.source} by {1000 * item.difference_s:+.0f} ms"
        for item in detected.disagreements
        if item.side == side and item.needs_review and start_s <= item.time_s <= last
    )


def _speed(motion: Motion, cycle: Cycle) -> float:
    """Return the body's mean forward speed over the cycle, m/s."""
    way = _body_way(motion, cycle)
    return math.nan if way is None else float(way[FORWARD] / cycle.duration_s)


def _body_way(motion: Motion, cycle: Cycle) -> FloatArray | None:
    """Return how far the body moved over the cycle: forward, left, up in metres."""
    for key in ("pelvis", f"{cycle.side}_hip_centre", f"{cycle.side}_heel"):
        if key in motion.points:
            ends = [_at(motion, motion.points[key], time) for time in (cycle.start_s, cycle.end_s)]
            return ends[1] - ends[0]
    return None


def _at(motion: Motion, values: FloatArray, time_s: float) -> FloatArray:
    frame = time_s * motion.rate_hz
    low = min(int(frame), motion.n_frames - 2)
    share = frame - low
    result: FloatArray = values[low] * (1 - share) + values[low + 1] * share
    return result


def _reject_reasons(motion: Motion, cycle: Cycle, n_offs: int) -> list[str]:
    reasons = []
    if n_offs != 1:
        reasons.append("no toe-off inside" if not n_offs else f"{n_offs} toe-offs inside")
    if not SHORTEST_CYCLE_S <= cycle.duration_s <= LONGEST_CYCLE_S:
        reasons.append(f"a cycle time of {cycle.duration_s:.2f} s is not believed")
    reasons += _gap_reasons(motion, cycle) + _turn_reasons(motion, cycle)
    reasons += _hip_reasons(cycle)
    return reasons + _starting_reasons(motion, cycle)


def _hip_reasons(cycle: Cycle) -> list[str]:
    """Reject a cycle that begins with the hip extended: its contact is no contact of this foot."""
    for joint in _HIPS:
        hip = cycle.percent_curves.get(joint)
        if hip is not None and np.ptp(hip) >= LEAST_HIP_RANGE_DEG:
            place = (hip[0] - hip.min()) / np.ptp(hip)
            return [HIP_EXTENDED] if place < LOWEST_HIP_AT_CONTACT else []
    return []


def _starting_reasons(motion: Motion, cycle: Cycle) -> list[str]:
    """Reject a cycle whose first contact ends the step out of standing."""
    before_s = cycle.start_s - cycle.duration_s * STEP_BEFORE_SHARE
    if before_s < 0:
        return []
    way = _body_way(motion, replace(cycle, start_s=before_s, end_s=cycle.start_s))
    own = _body_way(motion, cycle)
    if way is None or own is None:
        return []
    if abs(way[FORWARD]) < SLOWEST_SHARE * STEP_BEFORE_SHARE * own[FORWARD]:
        return ["starting: the step before it was still slow"]
    return []


def _gap_reasons(motion: Motion, cycle: Cycle) -> list[str]:
    frames = slice(int(cycle.start_s * motion.rate_hz), int(cycle.end_s * motion.rate_hz) + 2)
    keys = ["pelvis", *(f"{cycle.side}_{name}" for name in _SHOWN[1:])]
    gapped = [
        key.removeprefix(f"{cycle.side}_").replace("_", " ")
        for key in keys
        if key in motion.points and np.isnan(motion.points[key][frames]).any()
    ]
    angles = [
        joint
        for (side, joint), signal in motion.angles.items()
        if side == cycle.side
        and motion.angle_origin[side, joint] == "file"
        and np.isnan(signal.values[frames]).any()
    ]
    gapped += [f"the file's {joint.replace('_', ' ')} angle" for joint in angles]
    return [f"gap longer than 0.1 s: {', '.join(gapped)}"] if gapped else []


def _turn_reasons(motion: Motion, cycle: Cycle) -> list[str]:
    if motion.axes is None:
        return []
    frames = slice(int(cycle.start_s * motion.rate_hz), int(cycle.end_s * motion.rate_hz) + 2)
    numbers = np.unique(motion.axes.pass_number[frames])
    if len(numbers) > 1 or numbers[0] == 0:
        return ["turning, starting or stopping: not within one straight pass"]
    way = _body_way(motion, cycle)
    if way is None or np.isnan(way).any():
        return []
    angle = abs(math.degrees(math.atan2(way[LEFT], way[FORWARD])))
    return [f"turning: {angle:.0f} deg away from the pass"] if angle > TURN_DEG else []


def _without_odd_ones(cycles: list[Cycle]) -> list[Cycle]:
    """Reject cycles that differ from the others of their walk as only odd steps do."""
    kept = [cycle for cycle in cycles if cycle.is_kept]
    usual_m_s = _median_of_three([cycle.speed_m_s for cycle in kept])
    checked = []
    for side in SIDES:
        usual_s = _median_of_three([cycle.duration_s for cycle in kept if cycle.side == side])
        for cycle in (cycle for cycle in cycles if cycle.side == side):
            reasons = _odd_reasons(cycle, usual_s, usual_m_s) if cycle.is_kept else []
            checked.append(replace(cycle, reject_reasons=(*cycle.reject_reasons, *reasons)))
    return checked


def _median_of_three(values: list[float]) -> float:
    """Return the median of at least three known values; NaN of fewer."""
    known = [value for value in values if not math.isnan(value)]
    return float(np.median(known)) if len(known) >= 3 else math.nan


def _odd_reasons(cycle: Cycle, usual_s: float, usual_m_s: float) -> list[str]:
    reasons = []
    if cycle.duration_s > LONG_SHARE * usual_s:
        reasons.append("much longer than the others: a contact is missing")
    share = cycle.speed_m_s / usual_m_s
    if not math.isnan(share) and not SLOWEST_SHARE <= share <= FASTEST_SHARE:
        reasons.append(f"starting or stopping: {share:.0%} of the walk's median speed")
    return reasons


def _percent_curves(motion: Motion, cycle: Cycle) -> dict[Joint, FloatArray]:
    """Interpolate every angle of the cycle's side at 0, 1 … 100 % of the cycle."""
    frames = np.linspace(cycle.start_s, cycle.end_s, N_PERCENT_POINTS) * motion.rate_hz
    low, high = int(frames[0]), min(int(frames[-1]) + 2, motion.n_frames)
    inside = np.arange(low, high)
    return {
        joint: np.interp(frames, inside, signal.values[low:high])
        for (side, joint), signal in motion.angles.items()
        if side == cycle.side
    }


def cycles_of_curves(trial: Trial) -> tuple[Cycle, ...]:
    """Make a cycle of every 0-100 % curve (set of curves of one side) of a sheet.

    Parameters
    ----------
    trial : Trial

    Returns
    -------
    tuple of Cycle
        ``from_curve`` is True, ``label`` the sheet's own name; without a cycle time ``end_s`` is
        NaN.
    """
    together: dict[tuple[Side, str, str], list[AngleCurve]] = {}
    for curve in trial.curves:
        together.setdefault((curve.side, curve.condition, curve.cycle), []).append(curve)
    counts = dict.fromkeys(SIDES, 0)
    cycles = []
    for (side, _, label), curves in together.items():
        counts[side] += 1
        cycles.append(_cycle_of_curves(f"{side}-{counts[side]:02d}", side, label, curves))
    return tuple(cycles)


def _cycle_of_curves(name: str, side: Side, label: str, curves: list[AngleCurve]) -> Cycle:
    duration_s = next((c.cycle_time_s for c in curves if not math.isnan(c.cycle_time_s)), math.nan)
    off = next((c.toe_off_percent for c in curves if not math.isnan(c.toe_off_percent)), math.nan)
    percent = np.linspace(0.0, 100.0, N_PERCENT_POINTS)
    return Cycle(
        id=name,
        side=side,
        start_s=0.0,
        toe_off_s=off / 100.0 * duration_s,
        end_s=duration_s,
        percent_curves={
            curve.joint: np.interp(
                percent, np.linspace(0.0, 100.0, len(curve.values_deg)), curve.values_deg
            )
            for curve in curves
        },
        sources=("file",),
        is_mean=any(curve.is_mean for curve in curves),
        from_curve=True,
        label=label,
    )
