"""Corrections as the table ``correction`` keeps them, and back.

In comes a change a person made, out comes its row; and from the rows of a trial the changes that
count, in the order they were made. An event is named there by side, kind and time.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Result, Select, select

from gaittrack.corrected import (
    AddEvent,
    Change,
    DeleteEvent,
    ExcludeStride,
    ExcludeWalk,
    KeepAngle,
    LookedAt,
    MapLandmark,
    MoveEvent,
    SwapSides,
    TurnAngle,
)
from gaittrack.study.tables import CORRECTION, DOWN_TO_TRIAL, TRIAL
from gaittrack.trial import EventId

KINDS: Final[Mapping[type[Change], str]] = {
    MoveEvent: "move_event",
    AddEvent: "add_event",
    DeleteEvent: "delete_event",
    ExcludeStride: "exclude_stride",
    ExcludeWalk: "exclude_walk",
    TurnAngle: "turn_angle",
    KeepAngle: "keep_angle",
    SwapSides: "swap_sides",
    MapLandmark: "map_landmark",
    LookedAt: "looked_at",
}
"""What each kind of change is called in the table and in the history."""
_COLUMNS: Final = (
    *("kind", "side", "event_kind", "time_s", "new_time_s", "cycle", "reason", "landmark", "label"),
)


_OF_FIELD: Final[Mapping[type[Change], Mapping[str, str]]] = {
    MoveEvent: {"new_time_s": "new_time_s"},
    AddEvent: {"side": "side", "kind": "event_kind", "time_s": "time_s"},
    ExcludeStride: {"side": "side", "start_s": "time_s", "curve": "cycle"},
    TurnAngle: {"joint": "landmark"},
    KeepAngle: {"joint": "landmark"},
    MapLandmark: {"landmark": "landmark", "label": "label"},
}
"""Column of each field of a change, but for its reason and the event it names."""


def row_of(change: Change) -> dict[str, Any]:
    """Return the row of a change without its trial; None in the columns that its kind leaves."""
    columns = _OF_FIELD.get(type(change), {})
    own = {column: getattr(change, field) for field, column in columns.items()}
    if isinstance(change, MoveEvent | DeleteEvent):
        event = change.event
        own |= {"side": event.side, "event_kind": event.kind, "time_s": event.time_s}
    plain = {"kind": KINDS[type(change)], "reason": change.reason}
    return dict.fromkeys(_COLUMNS) | own | plain


def change_of(row: Mapping[str, Any]) -> Change:
    """Return the change that a row of the table keeps."""
    kind = {name: each for each, name in KINDS.items()}[row["kind"]]
    given = {field: row[column] for field, column in _OF_FIELD.get(kind, {}).items()}
    if kind in (MoveEvent, DeleteEvent):
        given["event"] = EventId(row["side"], row["event_kind"], round(1000 * row["time_s"]))
    return kind(**given, reason=row["reason"])


def corrections_that_count(wanted: ColumnElement[bool]) -> Select[Any]:
    """Return what asks for the corrections that count, in the order they were made.

    Parameters
    ----------
    wanted : SQL expression
        On trials, conditions, visits and people.
    """
    return (
        select(CORRECTION)
        .select_from(DOWN_TO_TRIAL.join(CORRECTION))
        .where(CORRECTION.c.is_undone.is_(False), wanted)
        .order_by(CORRECTION.c.id)
    )


def changes_of_rows(rows: Result[Any]) -> dict[int, tuple[Change, ...]]:
    """Return the changes that corrections are, by the number of their trial."""
    found: dict[int, tuple[Change, ...]] = {}
    for row in map(dict, rows.mappings()):
        trial_id = row["trial_id"]
        found[trial_id] = (*found.get(trial_id, ()), change_of(row))
    return found


def changes_of_trial(connection: Connection, trial_id: int) -> tuple[Change, ...]:
    """Return the changes of a trial that count, in the order they were made."""
    rows = connection.execute(corrections_that_count(TRIAL.c.id == trial_id))
    return changes_of_rows(rows).get(trial_id, ())
