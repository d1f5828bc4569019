"""Joint angles over 0–100 % of a cycle, one column each; and what all layouts of curves share.

In comes a sheet whose layout is known to hold curves; out go :class:`AngleCurve` objects in degrees
and our signs. Cycle time and toe-off are taken where the sheet gives them, never assumed.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from gaittrack.errors import Problem
from gaittrack.lab_map import ColumnMap
from gaittrack.read.sheets.angle_phase import curve_phase_problems
from gaittrack.read.sheets.angle_plausibility import Trace, settle_angles
from gaittrack.read.sheets.angle_series import (
    A_SPREAD,
    NOT_THE_ANGLE,
    PLANE_UNCLEAR,
    report_columns,
)
from gaittrack.read.sheets.cycle_facts import CycleFacts
from gaittrack.read.sheets.percent_grid import on_grid, percent_by_numbers
from gaittrack.read.sheets.sheet_asking import question, seen_columns
from gaittrack.read.sheets.sheet_columns import Sheet
from gaittrack.read.sheets.sheet_question import SeenColumn
from gaittrack.read.tables.column_names import ColumnName
from gaittrack.read.tables.preamble import declared_unit
from gaittrack.reasons import Reason
from gaittrack.trial import AngleCurve, FloatArray
from gaittrack.vocabulary import SIDES, Joint, Side


def curves_in_columns(sheet: Sheet) -> tuple[AngleCurve, ...]:
    """Read curves that stand in one column each.

    Raises
    ------
    LayoutError, DataError, TruncatedFileError
    """
    percent = sheet.named(sheet.sheet_map.percent_column, "percent_column", "percent")
    if percent is None:
        percent = percent_by_numbers(sheet)
    grid = None if percent is None else sheet.numbers(percent)
    told = [(sheet.find(c.name, "columns"), c) for c in sheet.sheet_map.columns]
    if told:
        traces = [
            told_trace(
                each,
                on_grid(sheet.numbers(column), grid, sheet.where),
                unit=sheet.spelt[column].unit,
            )
            for column, each in told
        ]
        columns = [column for column, _ in told]
    else:
        columns = [
            column
            for column, name in enumerate(sheet.spelt)
            if name.role == "angle" and column != percent and sheet.is_numeric(column)
        ]
        traces = [
            curve_trace(sheet, sheet.labels[column], sheet.spelt[column],
                   on_grid(sheet.numbers(column), grid, sheet.where))
            for column in columns
        ]  # fmt: skip
        _mark_means(sheet, traces, columns)
        report_unused_columns(sheet)
    facts = CycleFacts.of_columns(sheet)
    for trace, column in zip(traces, columns, strict=True):
        facts.apply(trace, column)
    return finished_curves(sheet, traces, "cycles", None)


def curve_trace(sheet: Sheet, label: str, name: ColumnName, values: FloatArray) -> Trace:
    """Return the trace of a curve as its name spells it."""
    side = name.side or sheet.lone_side
    return Trace(
        label,
        side,
        name.joint or "ankle",
        values,
        name.sign,
        unit=name.unit if name.unit in ("deg", "rad") else "",
        cycle=name.cycle,
        condition=name.rest,
        is_mean=name.is_mean,
        note=name.note,
    )


def told_trace(told: ColumnMap, values: FloatArray, *, unit: str) -> Trace:
    """Return the trace of a curve that a map describes."""
    return Trace(
        name=told.name,
        side=told.side,
        joint=told.joint,
        values=values,
        sign=told.sign,
        zero_deg=told.zero_deg,
        unit=unit,
        is_told=True,
        cycle=told.cycle,
        condition=told.condition,
        cycle_time_s=told.cycle_time_s,
        toe_off_percent=told.toe_off_percent,
        is_mean=told.mean,
    )


def _mark_means(sheet: Sheet, traces: Sequence[Trace], columns: Sequence[int]) -> None:
    """Mark lone curves with a spread beside them as means."""
    counts = Counter((t.condition, t.joint, t.side) for t in traces)
    for trace, column in zip(traces, columns, strict=True):
        beside = sheet.spelt[column + 1 : column + 2]
        lone = counts[trace.condition, trace.joint, trace.side] == 1
        if lone and beside and beside[0].role == "spread" and not trace.is_mean:
            trace.is_mean = True
            sheet.steps.append(f"{trace.name!r} taken as a mean: a spread stands beside it")


def report_unused_columns(sheet: Sheet) -> None:
    """Record which columns are spreads, other planes, or unclear."""
    report_columns(sheet, "spread", "info", A_SPREAD)
    report_columns(sheet, "other_plane", "info", NOT_THE_ANGLE)
    report_columns(sheet, "unclear", "warning", PLANE_UNCLEAR)


def finished_curves(
    sheet: Sheet,
    traces: list[Trace],
    layout: str,
    seen: Sequence[SeenColumn] | None,
    *,
    repeated: Mapping[str, object] | None = None,
) -> tuple[AngleCurve, ...]:
    """Settle units and signs, number the cycles, and return the curves; or ask.

    Parameters
    ----------
    seen : sequence of SeenColumn or None
        What may be asked about; None for the columns of the sheet.
    repeated : mapping of str to str, optional
        Keys of the map's [sheet] table to ask for where names of cycles repeat.
    """
    doubts = [f"side of {t.name!r}" for t in traces if t.side is None and t.joint != "pelvic_tilt"]
    if not traces:
        doubts.append("nothing spells a joint's sagittal angle")
    settled = settle_angles(
        traces,
        told_unit=sheet.sheet_map.unit,
        header_unit=declared_unit(sheet.above, ("deg", "rad")),
        over_cycle=True,
    ) if traces else None  # fmt: skip
    doubts += settled.doubts if settled else []
    cycle_doubts = _name_cycles(traces)
    doubts += cycle_doubts
    spreads = _beside_means(traces)
    doubts += [f"whether {name!r} is an angle, or how far the mean beside it scatters"
               for name in spreads]  # fmt: skip
    if spreads and seen is None:
        seen = [replace(c, joint="") if c.name in spreads else c for c in seen_columns(sheet)]
    if doubts:
        kind = "rows" if layout == "cycles_in_rows" else "columns"
        doubtful = settled.doubtful if settled else ()
        if seen is not None:
            seen = _with_found_signs(seen, traces)
        keys = {"layout": layout} | dict(repeated or {} if cycle_doubts else {})
        raise question(sheet, doubts, seen=seen, kind=kind, doubtful=doubtful, keys=keys)
    if settled:
        sheet.steps.extend(settled.steps)
        sheet.problems.extend(settled.problems)
    _report_missing(sheet, traces)
    curves = tuple(curve for trace in traces for curve in _curves(trace))
    sheet.problems.extend(curve_phase_problems(curves))
    return curves


def _with_found_signs(seen: Sequence[SeenColumn], traces: Sequence[Trace]) -> list[SeenColumn]:
    found = {trace.name: (trace.sign, trace.zero_deg) for trace in traces}
    return [
        replace(one, sign=found[one.name][0], zero_deg=found[one.name][1])
        if one.name in found
        else one
        for one in seen
    ]


def _beside_means(traces: Sequence[Trace]) -> list[str]:
    """Return the curves that follow a mean of the same angle under a word that nobody knows."""
    return [
        other.name
        for one, other in pairwise(traces)
        if (one.side, one.joint) == (other.side, other.joint)
        and (one.is_mean and not other.is_mean and other.condition and not one.condition)
        and not other.is_told
    ]


def _name_cycles(traces: Sequence[Trace]) -> list[str]:
    """Give a lone curve the cycle "1"; return doubts where names repeat."""
    groups: dict[tuple[str, Joint, Side | None, bool], list[Trace]] = {}
    for trace in traces:
        key = (trace.condition, trace.joint, trace.side, trace.is_mean)
        groups.setdefault(key, []).append(trace)
    doubts = []
    for group in groups.values():
        if len(group) == 1:
            group[0].cycle = group[0].cycle or ("mean" if group[0].is_mean else "1")
        names = [trace.cycle for trace in group]
        if len(set(names)) < len(names) or "" in names:
            joined = ", ".join(repr(trace.name) for trace in group[:6])
            doubts.append(f"whether {joined} are cycles or conditions")
    return doubts


def _report_missing(sheet: Sheet, traces: Sequence[Trace]) -> None:
    for key, code in (
        ("cycle_time_s", "curves_without_cycle_time"),
        ("toe_off_percent", "curves_without_toe_off"),
    ):
        count = sum(math.isnan(getattr(trace, key)) for trace in traces)
        if count:
            sheet.problems.append(
                Problem("info", Reason(code, n=count, n_all=len(traces)), "sheet")
            )


def _curves(trace: Trace) -> list[AngleCurve]:
    sides: Sequence[Side] = SIDES if trace.side is None else (trace.side,)
    return [
        AngleCurve(
            side=side,
            joint=trace.joint,
            cycle=trace.cycle,
            values_deg=trace.values,
            cycle_time_s=trace.cycle_time_s,
            toe_off_percent=trace.toe_off_percent,
            is_mean=trace.is_mean,
            condition=trace.condition,
        )
        for side in sides
    ]
