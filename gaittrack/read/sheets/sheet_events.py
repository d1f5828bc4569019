"""Events that a time-series sheet marks itself.

In come the sheet and its time base; out go events of source ``file``: from columns that are not 0
at an event, columns that list event times, a column of event words, and rows above or below the
numbers that name a side and an event and list times or row numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from gaittrack.errors import Problem
from gaittrack.read.sheets.sheet_columns import Sheet
from gaittrack.read.tables.column_names import read_column_name
from gaittrack.read.tables.number_cells import is_number, is_text, to_number
from gaittrack.read.tables.time_base import TimeBase
from gaittrack.reasons import Reason
from gaittrack.trial import Event, FloatArray
from gaittrack.vocabulary import EventKind, Side

SPARSE = 0.34
"""A column that fills at most this share of the rows lists times; our choice."""


def sheet_events(sheet: Sheet, base: TimeBase) -> tuple[Event, ...]:
    """Return the events of a sheet in time order.

    Parameters
    ----------
    sheet : Sheet
        Gets a Problem for each column or row that names an event and cannot be used.
    """
    events = [*_from_map(sheet, base)]
    if not sheet.sheet_map.event_columns:
        for column, name in enumerate(sheet.spelt):
            if name.role == "event" and name.event is not None:
                events += _from_column(sheet, base, column, name.side, name.event, name.unit)
            elif name.role == "event_text":
                events += _from_words(sheet, base, column)
        for row in sheet.facts:
            events += _from_row(sheet, base, row)
    distinct = {(e.time_s, e.side, e.kind): e for e in events}
    found = tuple(sorted(distinct.values(), key=lambda event: event.time_s))
    if found:
        sheet.steps.append(f"{len(found)} events from the sheet itself")
    return found


def _from_map(sheet: Sheet, base: TimeBase) -> Iterable[Event]:
    for told in sheet.sheet_map.event_columns:
        column = sheet.find(told.name, "event_columns")
        yield from _from_column(sheet, base, column, told.side, told.kind, "")


def _from_column(
    sheet: Sheet, base: TimeBase, column: int, side: Side | None, kind: EventKind, unit: str
) -> list[Event]:
    if side is None:
        _not_used(sheet, sheet.labels[column], Reason("events_without_side"))
        return []
    if not sheet.is_numeric(column):
        return []
    values = sheet.numbers(column)
    filled = values[np.isfinite(values)]
    marks = np.unique(filled[filled != 0])
    if marks.size <= 1 and (filled.size > marks.size or not _lists_times(values)):
        seconds = [base.frame_of_row[row] / base.rate_hz for row in _risings(values)]
        return [_event(float(second), side, kind) for second in seconds]
    if _lists_times(values):
        return _listed(sheet, base, sheet.labels[column], filled, side, kind, unit)
    _not_used(sheet, sheet.labels[column], Reason("events_no_list"))
    return []


def _lists_times(values: FloatArray) -> bool:
    filled = values[np.isfinite(values)]
    return bool(filled.size <= max(1, SPARSE * len(values)) and (np.diff(filled) > 0).all())


def _risings(values: FloatArray) -> list[int]:
    """Return rows where a run of non-zero begins; a long run from the first row began earlier."""
    on = np.nan_to_num(values) != 0
    starts = np.flatnonzero(on & ~np.concatenate(([False], on[:-1])))
    return [int(row) for row in starts if row > 0 or not on[1:2].any()]


def _listed(
    sheet: Sheet,
    base: TimeBase,
    name: str,
    numbers: FloatArray,
    side: Side,
    kind: EventKind,
    unit: str,
) -> list[Event]:
    """Return events from a list of times, frames or rows, whichever alone fits."""
    end_s = (base.n_frames - 1) / base.rate_hz
    start_s = 0.0 if math.isnan(base.start_s) else base.start_s
    scale = 1.0 if math.isnan(base.unit_s) else base.unit_s
    readings = {
        "s": numbers - start_s,
        "ms": numbers / 1000 - start_s,
        "frame": (numbers - base.first_frame) / base.rate_hz,
        "row": (numbers - 1) / base.rate_hz,
    }
    if unit in ("s", "ms"):
        candidates = [unit]
    elif unit == "frame":
        candidates = ["frame", "row"]
    else:
        whole = bool((numbers == np.rint(numbers)).all())
        candidates = ["ms" if scale < 1 else "s", *(("frame", "row") if whole else ())]
    fitting = {
        key: readings[key]
        for key in candidates
        if (readings[key] >= -0.5 / base.rate_hz).all() and (readings[key] <= end_s + 1e-3).all()
    }
    if not fitting or any(not np.allclose(fitting[key], [*fitting.values()][0]) for key in fitting):
        _not_used(sheet, name, Reason("events_fit_several" if fitting else "events_fit_none"))
        return []
    chosen = next(iter(fitting))
    sheet.steps.append(f"events of {name!r} read as {chosen}")
    return [_event(max(float(second), 0.0), side, kind) for second in fitting[chosen]]


def _from_words(sheet: Sheet, base: TimeBase, column: int) -> list[Event]:
    events = []
    for row, cell in enumerate(sheet.texts(column)):
        if not is_text(cell):
            continue
        name = read_column_name(cell)
        if name.event is None or name.side is None:
            _not_used(sheet, sheet.labels[column], Reason("event_names_nothing", cell=cell))
            continue
        events.append(_event(base.frame_of_row[row] / base.rate_hz, name.side, name.event))
    return events


def _from_row(sheet: Sheet, base: TimeBase, row: Sequence[str]) -> list[Event]:
    """Return the events of a row such as ``left initial contact; 0.12; 1.23``."""
    words = [cell for cell in row if is_text(cell)]
    numbers = [cell for cell in row if is_number(cell)]
    name = read_column_name(" ".join(words))
    if name.event is None or name.side is None or not numbers or name.rest:
        return []
    try:
        values = np.array([to_number(cell, sheet.table.decimal) for cell in numbers])
    except ValueError:
        _not_used(sheet, " ".join(words), Reason("events_other_decimal_sign"))
        return []
    return _listed(sheet, base, " ".join(words), values, name.side, name.event, name.unit)


def _event(time_s: float, side: Side, kind: EventKind) -> Event:
    return Event(float(time_s), side, kind, "file", None if kind == "toe_off" else "unknown")


def _not_used(sheet: Sheet, where: str, reason: Reason) -> None:
    sheet.problems.append(Problem("warning", reason, where))
