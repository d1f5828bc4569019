"""Cut a trial into cycles, contact to contact of one foot."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from dataclasses import replace
from itertools import zip_longest
from typing import Final, NamedTuple

import numpy as np

from gaittrack.cycles.body_way import body_ways
from gaittrack.cycles.cycle import N_PERCENT_POINTS, Cycle
from gaittrack.cycles.order import TIME, order_reasons
from gaittrack.cycles.percent_curves import cycles_of_curves
from gaittrack.cycles.rejecting import (
    Gaps,
    gaps_of_side,
    reasons_against,
    ways_reasons,
    without_odd_ones,
)
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
    """What all cycles of a foot are cut from.

    Attributes
    ----------
    own, other : list of Event
        Events of the foot and of the other one.
    reviews : list of (float, Reason)
        What a person should look at, and when, in seconds.
    """

    own: list[Event]
    other: list[Event]
    gaps: Gaps
    reviews: list[tuple[float, Reason]]


class _Whole(NamedTuple):
    """What is reckoned for all whole cycles of a foot at once, of one of them."""

    end: Event
    curves: dict[Joint, FloatArray]
    speed_m_s: float
    of_way: tuple[Reason | None, Reason | None]


def _cycles_of_side(motion: Motion, detected: DetectedEvents, side: Side) -> list[Cycle]:
    own = [event for event in detected.events if event.side == side]
    other = [
        event for event in detected.events if event.side != side and event not in detected.doubted
    ]
    contacts = [event for event in own if event.kind == "initial_contact"]
    foot = _Foot(own, other, gaps_of_side(motion, side), _reviews(detected, side))
    whole = _whole_cycles(motion, side, contacts)
    return [
        _one_cycle(motion, detected, foot, start, one, f"{side}-{number:02d}")
        for number, (start, one) in enumerate(zip_longest(contacts, whole), 1)
    ]


def _whole_cycles(motion: Motion, side: Side, contacts: list[Event]) -> list[_Whole]:
    times_s = np.array([contact.time_s for contact in contacts], dtype=float)
    start_s, end_s = times_s[:-1], times_s[1:]
    if not len(start_s):
        return []
    ways = body_ways(motion, side, start_s, end_s)
    speeds_m_s = [math.nan] * len(start_s)
    if ways is not None:
        speeds_m_s = (ways[:, FORWARD] / (end_s - start_s)).tolist()
    of_ways = zip(*ways_reasons(motion, side, start_s, end_s, ways), strict=True)
    curves = _percent_curves(motion, side, start_s, end_s)
    return list(map(_Whole, contacts[1:], curves, speeds_m_s, of_ways))


def _one_cycle(
    motion: Motion,
    detected: DetectedEvents,
    foot: _Foot,
    start: Event,
    whole: _Whole | None,
    name: str,
) -> Cycle:
    end_s = whole.end.time_s if whole else math.nan
    offs = _times(foot.own, "toe_off", start.time_s, end_s)
    last_s = math.inf if whole is None else end_s
    marks = (start, *offs, *([whole.end] if whole else []))
    cycle = Cycle(
        id=name,
        side=start.side,
        start_s=start.time_s,
        toe_off_s=offs[0].time_s if offs else math.nan,
        end_s=end_s,
        opposite_toe_off_s=_first_s(_times(foot.other, "toe_off", start.time_s, end_s)),
        opposite_contact_s=_first_s(_times(foot.other, "initial_contact", start.time_s, end_s)),
        contact=start.contact or "unknown",
        sources=_sources(start, *offs[:1], *([whole.end] if whole else [])),
        speed_m_s=whole.speed_m_s if whole else math.nan,
        reject_reasons=() if whole else (_PARTIAL,),
        review_reasons=tuple(why for at_s, why in foot.reviews if start.time_s <= at_s <= last_s),
        percent_curves=whole.curves if whole else {},
    )
    if whole is None:
        return cycle
    against = (
        *dict.fromkeys(detected.doubted[each] for each in marks if each in detected.doubted),
        *reasons_against(motion, cycle, len(offs), whole.of_way, foot.gaps),
        *order_reasons(cycle, foot.other),
    )
    return replace(cycle, reject_reasons=against) if against else cycle


def _times(events: list[Event], kind: EventKind, start_s: float, end_s: float) -> list[Event]:
    first = bisect_right(events, start_s, key=TIME)
    stop = None if math.isnan(end_s) else bisect_left(events, end_s, key=TIME)
    return [event for event in events[first:stop] if event.kind == kind]


def _first_s(events: list[Event]) -> float:
    return events[0].time_s if events else math.nan


def _sources(*events: Event) -> tuple[EventSource, ...]:
    used = {event.source for event in events}
    return tuple(source for source in EVENT_SOURCES if source in used)


def _reviews(detected: DetectedEvents, side: Side) -> list[tuple[float, Reason]]:
    apart = [
        (
            item.time_s,
            Reason(
                "sources_apart",
                kind=item.kind,
                time_s=round(float(item.time_s), 3),
                other=item.other_source,
                source=item.source,
                difference_ms=round(1000 * item.difference_s),
            ),
        )
        for item in detected.disagreements
        if item.side == side and item.needs_review
    ]
    unsure = detected.unsure.items()
    return apart + [(event.time_s, reason) for event, reason in unsure if event.side == side]


def _percent_curves(
    motion: Motion, side: Side, start_s: FloatArray, end_s: FloatArray
) -> list[dict[Joint, FloatArray]]:
    """Interpolate every angle of a side at 0, 1 … 100 % between one contact and the next."""
    times_s = np.linspace(start_s, end_s, N_PERCENT_POINTS, axis=1)
    frames, inside = times_s * motion.rate_hz, np.arange(motion.n_frames)
    curves = {
        joint: np.interp(frames, inside, signal.values)
        for (own, joint), signal in motion.angles.items()
        if own == side
    }
    return [{joint: rows[place] for joint, rows in curves.items()} for place in range(len(frames))]
