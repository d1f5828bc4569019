"""What a walk is corrected with: a reason, an event and its new time, a missing event, the sides.

In comes a measured walk, out comes what the form says of it; what becomes of it is in
``editing.py``. The form stands on the screen once and is filled in place.
"""

from __future__ import annotations

from typing import Final

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import aria, folded, labelled
from dashboards.parts.markup import pressing
from dashboards.walks.recording_view import is_over_time
from dashboards.walks.stride_tables import PRESSED, event_key, event_name
from dashboards.walks.which_walk import Filled
from gaittrack.figures.event_lines import KIND_WORDS
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.vocabulary import SIDES

REASONS: Final = (
    "seen on heights and speeds of the foot",
    "seen on the force plate",
    "seen on video",
    "marker hidden or lost",
    "mark in the file set wrong",
    "stumbled or stopped",
    "turned, or not walking straight",
    "stepped beside the plate",
    "left and right were exchanged",
    "looked at, nothing to correct",
)
"""Usual reasons to choose from; any other can be typed."""


_OUT: Final = "Leave this walk out"


def form() -> list[Component]:
    """Return what a walk is corrected with, to be filled by :func:`filled`."""
    reason = dmc.Autocomplete(
        id=field("reason"),
        label="Reason, kept in the history with your name",
        placeholder="Choose one or type your own",
        data=list(REASONS),
        value="",
        required=True,
        size="md",
    )
    words = (
        "An original is never changed, and every correction can be undone below. "
        "A stride is excluded in the table of strides."
    )
    whole = [_button("swap", "Left and right change places"), _button("exclude_walk", _OUT)]
    parts = [
        html.H2("Correct", id="walks-correct"),
        reason,
        html.Div([_moving(), _adding()], className="only-timed"),
        html.Div(whole, className="row"),
        html.P(words, className="soft"),
    ]
    return [html.Section(parts, className="no-print", **aria(labelledby="walks-correct"))]


def filled(walk: MeasuredWalk | None, *, is_other: bool) -> list[Filled]:
    """Return what the form says while a trial is shown.

    Parameters
    ----------
    walk : MeasuredWalk or None
        None for a trial in which only the sides can be exchanged.
    is_other : bool
        Whether another trial was chosen: then nothing stays of what was entered.
    """
    timed = walk is not None and is_over_time(walk)
    found: list[Filled] = []
    if is_other:
        found = [(field("reason"), {"value": ""}), (field("new"), {"value": ""})]
    if timed and walk is not None:
        limits = {
            "max": round(walk.trial.duration_s, 3),
            "step": round(1 / walk.trial.rate_hz, 4),
        }
        events = {event_key(one): event_name(one) for one in walk.events.events}
        found += [
            (field("event"), {"data": labelled(events), "value": None}),
            (field("time"), {**limits, "value": ""}),
            (field("new"), limits),
        ]
    return found


def field(name: str) -> dict[str, str]:
    """Return the id of one field of the form."""
    return {"type": "walks-field", "name": name}


def _button(what: str, text: str, kind: str = "") -> Component:
    return html.Button(text, className=kind, **pressing(PRESSED, {"what": what}))


def _moving() -> Component:
    event = dmc.Select(
        id=field("event"),
        label="Event",
        description="Drag its letter or line, or choose it here",
        placeholder="Choose an event",
        data=[],
        size="md",
        className="walks-event",
    )
    parts = [
        event,
        _time_field("time", "New time (s)"),
        _cursor_button("time"),
        _button("move", "Move the event", "main"),
        _button("delete", "Take it out"),
        _button("copy", "Copy to the other foot, half a stride later"),
    ]
    return html.Div(parts, className="row")


def _adding() -> Component:
    kinds = labelled(KIND_WORDS)
    fields = [
        dmc.Select(id=field("side"), label="Side", data=list(SIDES), value="left", size="md"),
        dmc.Select(id=field("kind"), label="Event", data=kinds, value="initial_contact", size="md"),
        _time_field("new", "Time (s)"),
        _cursor_button("new"),
        _button("add", "Add it"),
    ]
    row = html.Div(fields, className="row")
    return folded("Add an event that is missing", row, id="walks-adding")


def _time_field(name: str, label: str) -> Component:
    number_field: Component = dmc.NumberInput(
        id=field(name),
        label=label,
        min=0,
        decimalScale=3,
        size="md",
        className="walks-time",
    )
    return number_field


def _cursor_button(name: str) -> Component:
    return html.Button("From the cursor", id={"type": "walks-take", "name": name})
