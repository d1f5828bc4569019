"""Joint angles over time: the columns of a sheet that runs row by row through a recording.

In comes a sheet whose layout is known to be a time series; out go its time base, its angles in
degrees and our signs, and the events that its own columns or rows mark.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from gaittrack.errors import LayoutError, Level, Problem
from gaittrack.read.sheets.angle_phase import marked_cycles, phase_problems
from gaittrack.read.sheets.angle_plausibility import Trace, settle_angles
from gaittrack.read.sheets.sheet_asking import question
from gaittrack.read.sheets.sheet_columns import Sheet
from gaittrack.read.sheets.sheet_events import sheet_events
from gaittrack.read.sheets.sheet_question import ASKED
from gaittrack.read.tables.preamble import declared_unit
from gaittrack.read.tables.time_base import TimeBase, find_time_base
from gaittrack.reasons import Reason
from gaittrack.trial import Event, Signal
from gaittrack.vocabulary import JOINT_MEANING, SIDES, Joint, Side

FEWEST_ZEROS = 5
ZEROS_JUMP_SHARE = 0.15
"""So many exact zeros in a row, beside a number larger than this share of the angle's largest, are
no angle but missing; our choice. An angle in whole degrees passes 0 without a jump."""

Angles = dict[tuple[Side, Joint], Signal]

NOT_THE_ANGLE: Final = "columns_of_other_things"
OF_A_SIDE: Final = "columns_of_a_side"
PLANE_UNCLEAR: Final = "columns_of_unclear_plane"
A_SPREAD: Final = "columns_of_spread"
"""Codes of why columns are left out."""


def read_series(sheet: Sheet) -> tuple[TimeBase, Angles, tuple[Event, ...]]:
    """Read a time series.

    Raises
    ------
    LayoutError
        Columns that cannot be told apart; rate, signs or units in doubt.
    DataError
        A rate or number that cannot be read.
    """
    base = _time_base(sheet)
    sheet.steps.append(base.step)
    sheet.problems.extend(base.problems)
    traces = _told_traces(sheet) or _spelt_traces(sheet)
    _hide_zeros(sheet, traces)
    events = sheet_events(sheet, base)
    cycles = marked_cycles(events, base.rate_hz) if len(sheet.body) == base.n_frames else {}
    settled = settle_angles(
        traces,
        told_unit=sheet.sheet_map.unit,
        header_unit=declared_unit(sheet.above, ("deg", "rad")),
        over_cycle=False,
        cycles=cycles,
    )
    if settled.doubts:
        raise question(sheet, settled.doubts, doubtful=settled.doubtful, layout="time_series")
    sheet.steps.extend(settled.steps)
    sheet.problems.extend(settled.problems)
    sided = {(each.side, each.joint): each.values for each in traces if each.side is not None}
    sheet.problems.extend(phase_problems(sided, cycles))
    angles = _signals(traces, base)
    return base, angles, events


def _time_base(sheet: Sheet) -> TimeBase:
    time = sheet.named(sheet.sheet_map.time_column, "time_column", "time")
    frame = sheet.named(sheet.sheet_map.frame_column, "frame_column", "frame")
    declared = sheet.declared_hz if time is None else None
    if time is None and declared is None and sheet.rate_hz is None:
        raise question(sheet, [], layout="time_series")
    unit = "" if time is None else sheet.spelt[time].unit
    try:
        return find_time_base(
            len(sheet.body),
            where=sheet.where,
            time=None if time is None else sheet.numbers(time),
            time_unit=unit if unit in ("s", "ms") else "",
            frame=None if frame is None else sheet.numbers(frame),
            told_hz=sheet.rate_hz,
            declared_hz=declared,
        )
    except LayoutError as error:
        doubt = error.what.rstrip(".")
        raise question(sheet, [doubt], layout="time_series", rate_hz=ASKED) from error


def _told_traces(sheet: Sheet) -> list[Trace]:
    """Return the traces that the map names."""
    traces = []
    for told in sheet.sheet_map.columns:
        column = sheet.find(told.name, "columns")
        traces.append(
            Trace(
                told.name,
                told.side,
                told.joint,
                sheet.numbers(column),
                sign=told.sign,
                zero_deg=told.zero_deg,
                unit=sheet.spelt[column].unit,
                is_told=True,
            )
        )
    keys = [(trace.side, trace.joint) for trace in traces]
    twice = {f"{side} {joint}" for side, joint in keys if keys.count((side, joint)) > 1}
    if twice:
        said = f"the map gives two columns for {', '.join(sorted(twice))}"
        raise question(sheet, [said], layout="time_series")
    return traces


def _spelt_traces(sheet: Sheet) -> list[Trace]:
    """Return the traces that the columns' names spell; one for each side and joint."""
    lone_side = sheet.lone_side
    found: dict[tuple[Side, Joint], list[int]] = {}
    doubts: list[str] = []
    for column, name in enumerate(sheet.spelt):
        if name.role != "angle" or name.joint is None or not sheet.is_numeric(column):
            continue
        sides: Sequence[Side] = (name.side,) if name.side else (lone_side,) if lone_side else ()
        if name.joint == "pelvic_tilt" and not name.side:
            sides = SIDES
        if not sides:
            doubts.append(f"side of {sheet.labels[column]!r}")
        for side in sides:
            found.setdefault((side, name.joint), []).append(column)
    traces = []
    for (side, joint), columns in found.items():
        used = _plainest(sheet, columns)
        if used is None:
            names = ", ".join(repr(sheet.labels[place]) for place in columns)
            doubts.append(f"which of {names} is the {side} {joint}")
            continue
        traces.append(_trace(sheet, used, side, joint))
    if not traces and not doubts:
        doubts.append(
            "no column spells a joint's sagittal angle, nor three NAME X, NAME Y, NAME Z a marker"
        )
    if doubts:
        raise question(sheet, doubts, layout="time_series")
    _report_unused(sheet)
    return traces


def _hide_zeros(sheet: Sheet, traces: Sequence[Trace]) -> None:
    """Make gaps of stretches of exact zeros that the angle jumps to and from."""
    for trace in traces:
        values = np.asarray(trace.values, dtype=np.float64)
        ends = np.flatnonzero(np.diff(np.concatenate(([False], values == 0, [False])).astype(int)))
        hidden = np.zeros(len(values), dtype=np.bool_)
        for start, stop in zip(ends[::2], ends[1::2], strict=True):
            beside = [values[at] for at in (start - 1, stop) if 0 <= at < len(values)]
            limit = ZEROS_JUMP_SHARE * np.nanmax(np.abs(values))
            if stop - start >= FEWEST_ZEROS and any(abs(value) > limit for value in beside):
                hidden[start:stop] = True
        if hidden.any():
            trace.values = np.where(hidden, np.nan, values)
            sheet.problems.append(
                Problem("warning", Reason("zeros_with_jump", n=int(hidden.sum())), trace.name)
            )


def _plainest(sheet: Sheet, columns: Sequence[int]) -> int | None:
    """Return the column to use when several spell one angle; None when nothing tells."""
    if len(columns) == 1:
        return columns[0]
    first = sheet.numbers(columns[0])
    if all(np.array_equal(first, sheet.numbers(c), equal_nan=True) for c in columns[1:]):
        used, others = columns[0], columns[1:]
    else:
        plain = [c for c in columns if not sheet.spelt[c].rest and not sheet.spelt[c].cycle]
        if len(plain) != 1:
            return None
        used, others = plain[0], [c for c in columns if c != plain[0]]
    names = tuple(repr(sheet.labels[place]) for place in others)
    sheet.problems.append(
        Problem("warning", Reason("same_angle_twice", names=names), sheet.labels[used])
    )
    return used


def _trace(sheet: Sheet, column: int, side: Side, joint: Joint) -> Trace:
    name = sheet.spelt[column]
    unit = name.unit if name.unit in ("deg", "rad") else ""
    values = sheet.numbers(column)
    return Trace(sheet.labels[column], side, joint, values, name.sign, unit=unit, note=name.note)


def _report_unused(sheet: Sheet) -> None:
    report_columns(sheet, "other_plane", "info", NOT_THE_ANGLE)
    report_columns(sheet, "unknown", "info", OF_A_SIDE)
    report_columns(sheet, "unclear", "warning", PLANE_UNCLEAR)
    report_columns(sheet, "spread", "info", A_SPREAD)


def report_columns(sheet: Sheet, role: str, level: Level, code: str) -> None:
    """Record that the columns which play ``role`` are not used; unknown ones that name a side."""
    names = [
        repr(label)
        for label, name in zip(sheet.labels, sheet.spelt, strict=True)
        if name.role == role and (role != "unknown" or name.side)
    ]
    if names:
        sheet.problems.append(Problem(level, Reason(code, n=len(names)), ", ".join(names)))


def _signals(traces: Sequence[Trace], base: TimeBase) -> Angles:
    return {
        (trace.side, trace.joint): Signal(
            base.spread(trace.values), "deg", JOINT_MEANING[trace.joint]
        )
        for trace in traces
        if trace.side is not None
    }
