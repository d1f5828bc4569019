"""What was done to a trial, in words, newest first; what still counts can be undone.

In come the entries of a trial's history, out comes their table.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import aria, table
from dashboards.parts.markup import pressing
from dashboards.walks.stride_tables import PRESSED

Entry = Mapping[str, Any]


def history_table(entries: list[dict[str, Any]], *, may_edit: bool) -> Component:
    """Return the history of a trial.

    Parameters
    ----------
    entries : list of dict
        From ``reviewing.trial_history``.
    may_edit : bool
        Whether to offer to undo.
    """
    heads = ["When (UTC)", "Who", "What", "Why"] + ["Undo"] * may_edit
    rows = [
        [
            when_words(entry["utc"]),
            entry["who"],
            entry_words(entry),
            entry["why"],
            *([_undo(entry)] if may_edit else []),
        ]
        for entry in reversed(entries)
    ]
    return table(heads, rows, caption="What was done to this recording, newest first")


def when_words(utc: str) -> str:
    """Return an instant to the minute."""
    return utc[:16].replace("T", " ")


def _undo(entry: Entry) -> Component | str:
    number = entry["correction"]
    if number is None:
        return ""
    act = pressing(PRESSED, {"what": "undo", "which": str(number)})
    return html.Button("Undo", **aria(label=f"Undo: {entry_words(entry)}"), **act)


def entry_words(entry: Entry) -> str:
    """Return what an entry of the history says was done."""
    what, after = entry["what"], entry["after"]
    if what == "undo":
        return f"undone: {change_words(entry['before'].get('kind', ''), entry['before'])}"
    if what == "import":
        return f"imported from {after.get('file', 'a file')}"
    if what == "measure again":
        return f"measured again by version {after.get('software_version', '?')}"
    return change_words(what, after)


def change_words(kind: str, change: Entry) -> str:
    """Return a correction in words; sides are those of the file."""
    event = f"{change.get('side')} {str(change.get('event_kind')).replace('_', ' ')}"
    time = _seconds(change.get("time_s"))
    words = {
        "move_event": f"{event} moved from {time} to {_seconds(change.get('new_time_s'))}",
        "add_event": f"{event} added at {time}",
        "delete_event": f"{event} at {time} taken out",
        "exclude_stride": f"{change.get('side')} stride from {time} left out",
        "exclude_walk": "the whole walk left out",
        "turn_angle": f"{change.get('landmark')} turned over",
        "keep_angle": f"{change.get('landmark')} found right as it is",
        "swap_sides": "left and right changed places",
        "looked_at": "looked at and found right",
    }
    return words.get(kind, kind)


def _seconds(value: object) -> str:
    return f"{value:.3f} s" if isinstance(value, float) else "an unknown time"
