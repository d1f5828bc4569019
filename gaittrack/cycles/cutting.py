"""Cut a trial into cycles, contact to contact of one foot."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from dataclasses import replace
from itertools import zip_longest
from typing import Final, NamedTuple

import numpy as np

from gaittrack.cycles.body_way import body_way
from gaittrack.cycles.cycle import N_PERCENT_POINTS, Cycle
from gaittrack.cycles.order import TIME, order_reasons
from gaittrack.cycles.percent_curves import cycles_of_curves
from gaittrack.cycles.rejecting import Gaps, gaps_of_side, reasons_against, without_odd_ones
from gaittrack.events import DetectedEvents
from gaittrack.kinematics.motion import Motion
from gaittrack.kinematics.sagittal_angles import FORWARD
from gaittrack.reasons import Reason
from gaittrack.trial import Event, FloatArray
from gaittrack.vocabulary import EVENT_SOURCES, SIDES, EventKind, EventSource, Joint, Side

PARTIAL: Final = "partial"
"""Code of the reason against a cycle that the recording does not end."""
_PARTIAL: Final = Reason(PARTIAL)


def cut_cycles(motion: Motion, detected: DetectedEvents) -> tuple[Cycle, ...]:
    """Cut a trial into gait cycles.

    Returns
    -------
    tuple of Cycle
        Side by side, in time order, kept or rejected with reasons; curves of a sheet become
        cycles of their own.
    """
    cycles: list[Cycle] = []
    for side in SIDES:
        cycles += _cycles_of_side(motion, detected, side)
    return (*without_odd_ones(cycles), *cycles_of_curves(motion.trial))


class _Foot(NamedTuple):
    """Events of a foot and of the other one, and what all cycles of the foot are cut from."""

    own: list[Event]
    other: list[Event]
    gaps: Gaps


def _cycles_of_side(motion: Motion, detected: DetectedEvents, side: Side) -> list[Cycle]:
    own = [event for event in detected.events if event.side == side]
    other = [
        event for event in detected.events if event.side != side and event not in detected.doubted
    ]
    contacts = [event for event in own if event.kind == "initial_contact"]
    foot = _Foot(own, other, gaps_of_side(motion, side))
    curves = _percent_curves(motion, side, [contact.time_s for contact in contacts])
    return [
        _one_cycle(motion, detected, foot, start, end, own_curves, f"{side}-{number:02d}")
        for number, (start, end, own_curves) in enumerate(
            zip_longest(contacts, contacts[1:], curves), 1
        )
    ]


def _one_cycle(
    motion: Motion,
    detected: DetectedEvents,
    foot: _Foot,
    start: Event,
    end: Event | None,
    curves: dict[Joint, FloatArray] | None,
    name: str,
) -> Cycle:
    end_s = end.time_s if end else math.nan
    offs = _times(foot.own, "toe_off", start.time_s, end_s)
    cycle = Cycle(
        id=name,
        side=start.side,
        start_s=start.time_s,
        toe_off_s=offs[0].time_s if offs else math.nan,
        end_s=end_s,
        opposite_toe_off_s=_first_s(_times(foot.other, "toe_off", start.time_s, end_s)),
        opposite_contact_s=_first_s(_times(foot.other, "initial_contact", start.time_s, end_s)),
        contact=start.contact or "unknown",
        sources=_sources(start, *offs[:1], *([end] if end else [])),
        reject_reasons=() if end else (_PARTIAL,),
        review_reasons=_reviews(detected, start.side, start.time_s, end_s),
        percent_curves=curves or {},
    )
    if end is None:
        return cycle
    marks = (start, *offs, end)
    doubts = dict.fromkeys(detected.doubted[e] for e in marks if e in detected.doubted)
    way = body_way(motion, cycle.side, cycle.start_s, end_s)
    return replace(
        cycle,
        speed_m_s=math.nan if way is None else float(way[FORWARD] / cycle.duration_s),
        reject_reasons=(
            *doubts,
            *reasons_against(motion, cycle, len(offs), way, foot.gaps),
            *order_reasons(cycle, foot.other),
        ),
    )


def _times(events: list[Event], kind: EventKind, start_s: float, end_s: float) -> list[Event]:
    first = bisect_right(events, start_s, key=TIME)
    stop = None if math.isnan(end_s) else bisect_left(events, end_s, key=TIME)
    return [event for event in events[first:stop] if event.kind == kind]


def _first_s(events: list[Event]) -> float:
    return events[0].time_s if events else math.nan


def _sources(*events: Event) -> tuple[EventSource, ...]:
    used = {event.source for event in events}
    return tuple(source for source in EVENT_SOURCES if source in used)


def _reviews(
    detected: DetectedEvents, side: Side, start_s: float, end_s: float
) -> tuple[Reason, ...]:
    last = math.inf if math.isnan(end_s) else end_s
    apart = tuple(
        Reason(
            "sources_apart",
            kind=item.kind,
            time_s=round(float(item.time_s), 3),
            other=item.other_source,
            source=item.source,
            difference_ms=round(1000 * item.difference_s),
        )
        for item in detected.disagreements
        if item.side == side and item.needs_review and start_s <= item.time_s <= last
    )
    unsure = tuple(
        reason
        for event, reason in detected.unsure.items()
        if event.side == side and start_s <= event.time_s <= last
    )
    return apart + unsure


def _percent_curves(
    motion: Motion, side: Side, contacts_s: list[float]
) -> list[dict[Joint, FloatArray]]:
    """Interpolate every angle of a side at 0, 1 … 100 % between one contact and the next."""
    times_s = np.linspace(contacts_s[:-1], contacts_s[1:], N_PERCENT_POINTS, axis=1)
    frames, inside = times_s * motion.rate_hz, np.arange(motion.n_frames)
    curves = {
        joint: np.interp(frames, inside, signal.values)
        for (own, joint), signal in motion.angles.items()
        if own == side
    }
    return [{joint: rows[place] for joint, rows in curves.items()} for place in range(len(frames))]
