"""How far the sources of events agree, and which event counts.

In come events by source, out come one list by order of trust and the disagreements between sources.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from gaittrack.trial import Event
from gaittrack.vocabulary import EVENT_SOURCES, EventKind, EventSource, Side, opposite

SAME_EVENT_S = 0.25
"""Events of one foot and kind closer than this are one event seen twice; own choice: less than
half of a short step, more than a limp foot's contact is late."""
OTHER_FOOT_S = 0.1
"""Two feet never do the same within this time in walking: one source has the wrong side; own
choice."""
REVIEW_S = 0.05
"""Disagreement beyond which a person should look."""

_Known = dict[tuple[Side, EventKind], list[Event]]


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One event as two sources see it; ``difference_s`` is the less trusted minus the used one."""

    side: Side
    kind: EventKind
    time_s: float
    source: EventSource
    other_source: EventSource
    difference_s: float

    @property
    def needs_review(self) -> bool:
        """Whether the two are further apart than 50 ms."""
        return abs(self.difference_s) > REVIEW_S


def by_trust(
    by_source: Mapping[EventSource, tuple[Event, ...]],
) -> tuple[tuple[Event, ...], tuple[Disagreement, ...]]:
    """Merge events, the most trusted source first.

    Returns
    -------
    events : tuple of Event
        In time order; a less trusted event stays only where no more trusted one is the same, nor
        the same of the other foot.
    disagreements : tuple of Disagreement
        One for every event that a less trusted source also saw.
    """
    chosen: list[Event] = []
    disagreements: list[Disagreement] = []
    for source in EVENT_SOURCES:
        known, added = _by_kind(chosen), []
        for event in by_source.get(source, ()):
            same = _nearest(known, event)
            if same is None:
                if not _is_other_foot(known, event):
                    added.append(event)
            elif same.source != source:
                disagreements.append(_disagreement(same, event))
        chosen += added
    chosen.sort(key=lambda event: event.time_s)
    disagreements.sort(key=lambda item: item.time_s)
    return tuple(chosen), tuple(disagreements)


def other_foot(
    by_source: Mapping[EventSource, tuple[Event, ...]],
) -> tuple[Event, ...]:
    """Return the events that a more trusted source gives to the other foot.

    Returns
    -------
    tuple of Event
        As the less trusted source has them.
    """
    trusted: list[Event] = []
    found: list[Event] = []
    for source in EVENT_SOURCES:
        events, known = by_source.get(source, ()), _by_kind(trusted)
        found += [event for event in events if _is_other_foot(known, event)]
        trusted += events
    return tuple(found)


def contested(
    used: Iterable[Event], by_source: Mapping[EventSource, tuple[Event, ...]]
) -> tuple[Event, ...]:
    """Return the marks of the file in use that plates or markers give to the other foot.

    Returns
    -------
    tuple of Event
        Of ``used``. A person's corrections are never among them.
    """
    seen = [_by_kind(by_source.get(source, ())) for source in ("force", "markers")]
    return tuple(
        event
        for event in used
        if event.source == "file" and any(_is_other_foot(known, event) for known in seen)
    )


def _by_kind(events: Iterable[Event]) -> _Known:
    known: _Known = {}
    for event in events:
        known.setdefault((event.side, event.kind), []).append(event)
    return known


def _is_other_foot(known: _Known, event: Event) -> bool:
    others = known.get((opposite(event.side), event.kind), ())
    is_near = any(abs(item.time_s - event.time_s) < OTHER_FOOT_S for item in others)
    return is_near and _nearest(known, event) is None


def _nearest(known: _Known, event: Event) -> Event | None:
    alike = known.get((event.side, event.kind), ())
    near = [item for item in alike if abs(item.time_s - event.time_s) < SAME_EVENT_S]
    return min(near, key=lambda item: abs(item.time_s - event.time_s), default=None)


def _disagreement(used: Event, other: Event) -> Disagreement:
    return Disagreement(
        side=used.side,
        kind=used.kind,
        time_s=used.time_s,
        source=used.source,
        other_source=other.source,
        difference_s=other.time_s - used.time_s,
    )
