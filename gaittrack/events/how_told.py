"""How contacts from markers were told, and on which the two ways do not agree.

In come the events in use and what markers gave, out come the way of each contact and the reasons
why a person should look at some.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace

from gaittrack.errors import Problem
from gaittrack.events.agreement import REVIEW_S
from gaittrack.events.from_markers import MarkerEvents
from gaittrack.events.landing import Method
from gaittrack.reasons import Reason
from gaittrack.trial import Event


def methods_of(events: Iterable[Event], marked: MarkerEvents) -> dict[Event, Method]:
    """Return how each contact in use that comes from markers was told."""
    return {event: marked.methods[own] for event, own in _from_markers(events, marked)}


def unsure_of(events: Iterable[Event], marked: MarkerEvents) -> dict[Event, Reason]:
    """Return the contacts in use on which impact and height differ by more than 50 ms."""
    unsure = {}
    for event, own in _from_markers(events, marked):
        late_s = marked.by_height_s[own] - event.time_s
        if abs(late_s) > REVIEW_S:
            unsure[event] = Reason(
                "marker_methods_differ",
                kind=event.kind,
                time_s=round(float(event.time_s), 3),
                difference_ms=round(1000 * late_s),
            )
    return unsure


def height_problems(methods: Mapping[Event, Method]) -> list[Problem]:
    """Say how many contacts were told by height alone; nothing where none was."""
    told = Counter(methods.values())
    if not told["height"]:
        return []
    reason = Reason("contacts_by_height", n=told["height"], n_all=told.total())
    return [Problem("info", reason, "events")]


def _from_markers(events: Iterable[Event], marked: MarkerEvents) -> list[tuple[Event, Event]]:
    """Return contacts in use with the same as markers gave it, before its type was told."""
    pairs = [(event, replace(event, contact=None)) for event in events]
    return [(event, own) for event, own in pairs if own in marked.methods]
