"""Events as lines over time: colour, dash and words by where each comes from.

In comes a measured walk, out come the lines of one side, and marks of what other sources saw.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from gaittrack.figures.condition_styles import Figure, Style
from gaittrack.figures.pieces import upright
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.trial import Event
from gaittrack.vocabulary import EventKind, EventSource, Side

SOURCE_STYLES: Final[dict[EventSource, Style]] = {
    "corrected": Style("#CC79A7", "solid"),
    "force": Style("#009E73", "longdash"),
    "file": Style("#0072B2", "dash"),
    "markers": Style("#D55E00", "dot"),
}
SOURCE_WORDS: Final[dict[EventSource, str]] = {
    "corrected": "set by a person",
    "force": "force plate",
    "file": "mark in the file",
    "markers": "markers",
}
KIND_WORDS: Final[dict[EventKind, str]] = {
    "initial_contact": "initial contact",
    "toe_off": "toe-off",
}
_SYMBOLS: Final[dict[EventSource, str]] = {
    "corrected": "circle-open",
    "force": "diamond-open",
    "file": "square-open",
    "markers": "triangle-up-open",
}


def events_of(walk: MeasuredWalk, side: Side) -> list[Event]:
    """Return the events in use of one side, in the order of the figure's shapes."""
    return [event for event in walk.events.events if event.side == side]


def event_words(event: Event) -> str:
    """Return kind, contact type and source of an event in words."""
    contact = f", {event.contact}" if event.contact not in (None, "unknown") else ""
    return f"{KIND_WORDS[event.kind]}{contact} ({SOURCE_WORDS[event.source]})"


def event_lines(walk: MeasuredWalk, side: Side) -> list[Figure]:
    """Return the shapes of a side's events: one upright line each, labelled."""
    return [_event_line(event) for event in events_of(walk, side)]


def _event_line(event: Event) -> Figure:
    style = SOURCE_STYLES[event.source]
    time_s = round(float(event.time_s), 4)
    width = 3 if event.kind == "initial_contact" else 2
    label = {"text": event_words(event), "textposition": "end", "xanchor": "right"}
    look = {"color": style.colour, "dash": style.dash, "width": width}
    return upright(time_s, look, label={**label, "font": {"size": 11}})


def other_sources(walk: MeasuredWalk, side: Side) -> list[Figure]:
    """Mark at the bottom what sources saw that are not in use; they cannot be dragged."""
    used = set(walk.events.events)
    traces = []
    for source, events in walk.events.by_source.items():
        seen = [event for event in events if event.side == side and not _is_used(event, used)]
        if seen:
            traces.append(_marks(source, seen))
    return traces


def _is_used(event: Event, used: set[Event]) -> bool:
    key = event.time_s, event.side, event.kind, event.source
    return any(key == (one.time_s, one.side, one.kind, one.source) for one in used)


def _marks(source: EventSource, events: Sequence[Event]) -> Figure:
    words = SOURCE_WORDS[source]
    return {
        "type": "scatter",
        "mode": "markers",
        "name": f"also seen: {words}",
        "x": [round(float(event.time_s), 4) for event in events],
        "y": [0.02] * len(events),
        "text": [f"{KIND_WORDS[event.kind]}, {words}: not in use" for event in events],
        "hovertemplate": "%{text}, %{x:.3f} s<extra></extra>",
        "marker": {
            "symbol": _SYMBOLS[source],
            "size": 10,
            "color": SOURCE_STYLES[source].colour,
            "line": {"width": 2},
        },
    }
