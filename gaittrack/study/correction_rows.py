"""Corrections as the table ``correction`` keeps them, and back.

In comes a change a person made, out comes its row; and from the rows of a trial the changes that
count, in the order they were made. An event is named there by side, kind and time.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, select

from gaittrack.corrected import (
    AddEvent,
    Change,
    DeleteEvent,
    ExcludeStride,
    LookedAt,
    MapLandmark,
    MoveEvent,
    SwapSides,
)
from gaittrack.study.tables import CONDITION, CORRECTION, PERSON, TRIAL, VISIT
from gaittrack.trial import EventId

KINDS: Final[Mapping[type[Change], str]] = {
    MoveEvent: "move_event",
    AddEvent: "add_event",
    DeleteEvent: "delete_event",
    ExcludeStride: "exclude_stride",
    SwapSides: "swap_sides",
    MapLandmark: "map_landmark",
    LookedAt: "looked_at",
}
"""What each kind of change is called in the table and in the history."""
_COLUMNS: Final = (
    *("kind", "side", "event_kind", "time_s", "new_time_s", "cycle", "reason", "landmark", "label"),
)


def row_of(change: Change) -> dict[str, Any]:
    """Return the row of a change without its trial; None in the columns that its kind leaves."""
    own: dict[str, Any] = {}
    match change:
        case MoveEvent(event, new_time_s):
            own = _named(event) | {"new_time_s": new_time_s}
        case DeleteEvent(event):
            own = _named(event)
        case AddEvent(side, kind, time_s):
            own = {"side": side, "event_kind": kind, "time_s": time_s}
        case ExcludeStride(side, start_s, curve):
            own = {"side": side, "time_s": start_s, "cycle": curve}
        case MapLandmark(landmark, label):
            own = {"landmark": landmark, "label": label}
    plain = {"kind": KINDS[type(change)], "reason": change.reason}
    return dict.fromkeys(_COLUMNS) | own | plain


def change_of(row: Mapping[str, Any]) -> Change:
    """Return the change that a row of the table keeps."""
    kind = {name: each for each, name in KINDS.items()}[row["kind"]]
    given: dict[str, Any] = {}
    if kind in (MoveEvent, DeleteEvent):
        given = {"event": EventId(row["side"], row["event_kind"], round(1000 * row["time_s"]))}
    if kind is MoveEvent:
        given["new_time_s"] = row["new_time_s"]
    elif kind is AddEvent:
        given = {"side": row["side"], "kind": row["event_kind"], "time_s": row["time_s"]}
    elif kind is ExcludeStride:
        given = {"side": row["side"], "start_s": row["time_s"], "curve": row["cycle"]}
    elif kind is MapLandmark:
        given = {"landmark": row["landmark"], "label": row["label"]}
    return kind(**given, reason=row["reason"])


def _named(event: EventId) -> dict[str, Any]:
    return {"side": event.side, "event_kind": event.kind, "time_s": event.time_s}


def changes_that_count(
    connection: Connection, wanted: ColumnElement[bool]
) -> dict[int, tuple[Change, ...]]:
    """Return the changes that count, by the number of their trial, in the order they were made.

    Parameters
    ----------
    wanted : SQL expression
        On trials, conditions, visits and people.
    """
    query = (
        select(CORRECTION)
        .select_from(PERSON.join(VISIT).join(CONDITION).join(TRIAL).join(CORRECTION))
        .where(CORRECTION.c.is_undone.is_(False), wanted)
        .order_by(CORRECTION.c.id)
    )
    found: dict[int, tuple[Change, ...]] = {}
    for row in map(dict, connection.execute(query).mappings()):
        trial_id = row["trial_id"]
        found[trial_id] = (*found.get(trial_id, ()), change_of(row))
    return found


def changes_of_trial(connection: Connection, trial_id: int) -> tuple[Change, ...]:
    """Return the changes of a trial that count, in the order they were made."""
    return changes_that_count(connection, TRIAL.c.id == trial_id).get(trial_id, ())
