"""Events as lines over time: letter and line by what each is, a small shape by who saw it.

In comes a measured walk, out come the lines of one side, and marks of what other sources saw.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from gaittrack.figures.condition_styles import Figure
from gaittrack.figures.pieces import INK, upright
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.trial import Event
from gaittrack.vocabulary import EventKind, EventSource, Side

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
LETTERS: Final[dict[EventKind, str]] = {"initial_contact": "C", "toe_off": "T"}
_LINES: Final[dict[EventKind, tuple[str, float]]] = {
    "initial_contact": ("solid", 2),
    "toe_off": ("dot", 2),
}
SYMBOLS: Final[dict[EventSource, str]] = {
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
    dash, width = _LINES[event.kind]
    label = {"text": event_words(event), "textposition": "end", "xanchor": "right"}
    look = {"color": INK, "dash": dash, "width": width}
    time_s = round(float(event.time_s), 4)
    return upright(time_s, look, name=LETTERS[event.kind], label=label)


def symbols(walk: MeasuredWalk, side: Side) -> list[str]:
    """Return the shape of each event line's source; none where all are of one source."""
    sources = [event.source for event in events_of(walk, side)]
    return [SYMBOLS[source] for source in sources] if len(set(sources)) > 1 else []


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
            "symbol": SYMBOLS[source],
            "size": 10,
            "color": INK,
            "line": {"width": 2},
        },
    }
