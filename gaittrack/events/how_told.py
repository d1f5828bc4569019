"""How contacts from markers were told, and which of them may lie elsewhere.

In come the events in use and what markers gave, out come the way of each contact, the contacts that
are not sure, and problems that spoil what rests on those.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace

from gaittrack.errors import Problem, Spoiled
from gaittrack.events.foot_stretch import foot_ends
from gaittrack.events.from_markers import MarkerEvents
from gaittrack.events.landing import Method
from gaittrack.ingredients import events_of
from gaittrack.kinematics.motion import Motion
from gaittrack.reasons import Reason
from gaittrack.trial import Event
from gaittrack.vocabulary import SIDES, Side


def methods_of(events: Iterable[Event], marked: MarkerEvents) -> dict[Event, Method]:
    """Return how each contact in use that comes from markers was told."""
    return {event: marked.methods[own] for event, own in _from_markers(events, marked)}


def unsure_of(events: Iterable[Event], marked: MarkerEvents) -> dict[Event, Reason]:
    """Return the contacts in use that may nearly as well be elsewhere."""
    return {
        event: Reason(
            "contact_elsewhere",
            kind=event.kind,
            time_s=round(float(event.time_s), 3),
            difference_ms=round(1000 * (marked.rival_s[own] - event.time_s)),
        )
        for event, own in _from_markers(events, marked)
        if own in marked.rival_s
    }


def contact_problems(
    motion: Motion, methods: Mapping[Event, Method], unsure: Mapping[Event, Reason]
) -> list[Problem]:
    """Say what is not sure of the contacts from markers, and what that spoils.

    Parameters
    ----------
    methods, unsure : mapping of Event
        From :func:`methods_of` and :func:`unsure_of`.
    """
    return [
        *(problem for side in SIDES for problem in _of_foot(motion, side, methods, unsure)),
        *_by_height(methods),
    ]


def _of_foot(
    motion: Motion, side: Side, methods: Mapping[Event, Method], unsure: Mapping[Event, Reason]
) -> list[Problem]:
    own = [event for event in methods if event.side == side]
    if own and "front" not in foot_ends(motion, side):
        return [_problem(motion, Reason("no_front"), own)]
    doubtful = [event for event in own if event in unsure]
    if not doubtful:
        return []
    first = doubtful[0]
    reason = Reason(
        "contacts_unsure",
        n=len(doubtful),
        n_all=len(own),
        time_s=round(float(first.time_s), 2),
        difference_ms=unsure[first]["difference_ms"],
    )
    return [_problem(motion, reason, doubtful)]


def _problem(motion: Motion, reason: Reason, contacts: list[Event]) -> Problem:
    """Return the problem that spoils the strides which some contacts of a foot bound."""
    side = contacts[0].side
    frames = [event.time_s * motion.rate_hz for event in contacts]
    spoils = (
        Spoiled(events_of(side), frames=(math.floor(frame), math.ceil(frame))) for frame in frames
    )
    return Problem("warning", reason, f"{side} foot", tuple(spoils))


def _by_height(methods: Mapping[Event, Method]) -> list[Problem]:
    told = Counter(methods.values())
    if not told["height"]:
        return []
    reason = Reason("contacts_by_height", n=told["height"], n_all=told.total())
    return [Problem("info", reason, "events")]


def _from_markers(events: Iterable[Event], marked: MarkerEvents) -> list[tuple[Event, Event]]:
    """Return contacts in use with the same as markers gave it, before its type was told."""
    pairs = [
        (event, replace(event, contact=None))
        for event in events
        if event.source == "markers" and event.kind == "initial_contact"
    ]
    return [(event, own) for event, own in pairs if own in marked.methods]
