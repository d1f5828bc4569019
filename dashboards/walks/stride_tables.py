"""Strides and events of a walk as tables, and as the names that browser and server share.

In comes a measured walk, out come its tables, and key and time of every event line.
"""

from __future__ import annotations

import math
from typing import Any, Final

from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import table
from dashboards.parts.markup import pressing
from gaittrack.cycles import Cycle
from gaittrack.figures.event_lines import KIND_WORDS, SOURCE_WORDS, event_words, events_of
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.trial import Event
from gaittrack.vocabulary import SIDES

PRESSED: Final = "walks-pressed"
"""``dcc.Store``: what was pressed (``move``, ``exclude``, …), and of which row of a table."""


def stride_table(walk: MeasuredWalk, *, leg: str, may_edit: bool) -> Component:
    """Return every stride, counted or not, with the reasons; those of one leg first."""
    heads = ["Stride", "From (s)", "To (s)", "Contact", "Speed (m/s)", "Events by", "Counted"]
    rows = [
        [
            f"{cycle.id} {cycle.label}".rstrip(),
            *(_seconds(cycle, time) for time in (cycle.start_s, cycle.end_s)),
            cycle.contact,
            _number(cycle.speed_m_s, 2),
            ", ".join(SOURCE_WORDS[source] for source in cycle.sources),
            _counted(cycle),
            *([_exclude(cycle)] if may_edit else []),
        ]
        for cycle in sorted(walk.cycles, key=lambda each: each.side != leg)
    ]
    caption = "Strides, from initial contact to the next of the same foot"
    return table(heads + ["Exclude"] * may_edit, rows, caption=caption, numbers=(1, 2, 4))


def _seconds(cycle: Cycle, time_s: float) -> str:
    return "" if cycle.from_curve else _number(time_s, 3)


def _number(value: float, decimals: int) -> str:
    return "" if math.isnan(value) else f"{value:.{decimals}f}"


def _counted(cycle: Cycle) -> list[Any]:
    words = ["yes"] if cycle.is_kept else [f"no: {'; '.join(map(str, cycle.reject_reasons))}"]
    return [*words, *(html.Small(str(reason)) for reason in cycle.review_reasons)]


def _exclude(cycle: Cycle) -> Component | str:
    if not cycle.is_kept:
        return ""
    words: list[Any] = ["Exclude ", html.Span(cycle.id, className="walks-quiet")]
    act = pressing(PRESSED, {"what": "exclude", "which": cycle.id})
    return html.Button(words, className="no-print", **act)


def event_table(walk: MeasuredWalk) -> Component:
    """Return every event in use, and how far other sources are from it."""
    rows = [
        [
            event.side,
            KIND_WORDS[event.kind],
            f"{event.time_s:.3f}",
            event.contact or "",
            SOURCE_WORDS[event.source],
            _others(walk, event),
        ]
        for event in walk.events.events
    ]
    heads = ("Side", "Event", "Time (s)", "Contact", "Source in use", "Other sources")
    return table(heads, rows, caption="Events in time order", numbers=(2,))


def _others(walk: MeasuredWalk, event: Event) -> str:
    return ", ".join(
        f"{SOURCE_WORDS[one.other_source]} {1000 * one.difference_s:+.0f} ms"
        for one in walk.events.disagreements
        if (one.side, one.kind, one.time_s) == (event.side, event.kind, event.time_s)
    )


def event_name(event: Event) -> str:
    """Return an event as a list names it."""
    return f"{event.time_s:.3f} s: {event.side} {event_words(event)}"


def event_key(event: Event) -> str:
    """Return what names an event between browser and server."""
    return f"{event.side} {event.kind} {event.id.ms}"


def line_data(walk: MeasuredWalk) -> dict[str, Any]:
    """Return key and time of every event line, per side in the order of the shapes."""
    return {
        side: [
            {"key": event_key(event), "time_s": round(float(event.time_s), 4)}
            for event in events_of(walk, side)
        ]
        for side in SIDES
    }
