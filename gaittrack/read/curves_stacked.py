"""Joint angles over 0–100 % of a cycle, one curve below the other.

In comes a sheet whose per cent column starts again for each curve, with columns that say which
cycle, condition, side or joint a row belongs to; out go its curves.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from gaittrack.errors import DataError, LayoutError, Problem
from gaittrack.read.angle_curves import (
    curve_trace,
    finished_curves,
    report_unused_columns,
    told_trace,
)
from gaittrack.read.angle_plausibility import Trace
from gaittrack.read.column_names import ColumnName, read_column_name
from gaittrack.read.cycle_facts import CycleFacts
from gaittrack.read.percent_grid import on_grid, percent_restarting
from gaittrack.read.sheet_columns import Sheet
from gaittrack.reasons import Reason
from gaittrack.trial import AngleCurve, FloatArray
from gaittrack.vocabulary import Joint, Side


def curves_stacked(sheet: Sheet) -> tuple[AngleCurve, ...]:
    """Read curves that stand one below the other, with columns that say which is which.

    Raises
    ------
    LayoutError, DataError, TruncatedFileError
    """
    percent = sheet.named(sheet.sheet_map.percent_column, "percent_column", "percent")
    if percent is None:
        percent = percent_restarting(sheet)
    if percent is None:
        raise sheet.question(["which column is per cent"], percent_column="?")
    grid = sheet.numbers(percent)
    blocks = _blocks(grid)
    keys = _key_columns(sheet)
    facts = CycleFacts.of_columns(sheet)
    values = {
        column: (name, sheet.numbers(column))
        for column, name in _value_columns(sheet, percent, keys)
    }
    traces: list[Trace] = []
    for number, (start, stop) in enumerate(blocks, 1):
        cells = {key: _one_word(sheet, column, start, stop) for key, column in keys.items()}
        for column, (name, numbers) in values.items():
            curve = on_grid(numbers[start:stop], grid[start:stop], sheet.where)
            trace = _stacked_trace(sheet, column, name, cells, curve, str(number))
            facts.apply_block(trace, start, stop)
            traces.append(trace)
    _number_blocks(sheet, traces, "cycle" in keys)
    return finished_curves(sheet, traces, "cycles_stacked", ())


def _blocks(grid: FloatArray) -> list[tuple[int, int]]:
    edges = [0, *(int(place) + 1 for place in np.flatnonzero(np.diff(grid) <= 0)), len(grid)]
    return list(zip(edges[:-1], edges[1:], strict=True))


def _key_columns(sheet: Sheet) -> dict[str, int]:
    told = {
        "cycle": sheet.sheet_map.cycle_column,
        "condition": sheet.sheet_map.condition_column,
    }
    keys = {role: sheet.find(name, f"{role}_column") for role, name in told.items() if name}
    for column, name in enumerate(sheet.spelt):
        if name.role in ("cycle", "condition", "side", "joint"):
            keys.setdefault(name.role, column)
    return keys


def _value_columns(
    sheet: Sheet, percent: int, keys: Mapping[str, int]
) -> list[tuple[int, ColumnName]]:
    told = sheet.sheet_map.columns
    if told:
        places = [sheet.find(c.name, "columns") for c in told]
        return [(place, sheet.spelt[place]) for place in places]
    wanted = ("value",) if "joint" in keys else ("angle",)
    found = [
        (column, name)
        for column, name in enumerate(sheet.spelt)
        if name.role in wanted and column != percent and sheet.is_numeric(column)
    ]
    if not found:
        raise sheet.question(["which column holds angles"], layout="cycles_stacked")
    report_unused_columns(sheet)
    return found


def _one_word(sheet: Sheet, column: int, start: int, stop: int) -> str:
    words = set(sheet.texts(column)[start:stop])
    if len(words) != 1:
        raise DataError.of(
            "curve_of_several",
            where=sheet.where,
            first=sheet.body_rows[start],
            last=sheet.body_rows[stop - 1],
            labels=sheet.labels[column],
            words=", ".join(sorted(words)[:4]),
        )
    return words.pop()


def _stacked_trace(
    sheet: Sheet,
    column: int,
    name: ColumnName,
    cells: Mapping[str, str],
    values: FloatArray,
    number: str,
) -> Trace:
    told = [c for c in sheet.sheet_map.columns if sheet.find(c.name, "columns") == column]
    if told:
        trace = told_trace(told[0], values, unit=name.unit)
    else:
        spelt = read_column_name(f"{cells.get('joint', '')} {cells.get('side', '')}")
        joint = name.joint or spelt.joint
        if joint is None:
            raise LayoutError.of("no_joint_spelled", where=sheet.where, word=cells.get("joint", ""))
        trace = curve_trace(sheet, sheet.labels[column], name, values)
        trace.joint, trace.side = joint, name.side or spelt.side or trace.side
        trace.note = name.note or (spelt.note if name.joint is None else None)
        trace.is_mean = trace.is_mean or read_column_name(cells.get("cycle", "")).is_mean
        if name.joint is None:
            trace.sign = spelt.sign
    trace.condition = cells.get("condition", trace.condition)
    trace.cycle = cells.get("cycle") or trace.cycle or number
    return trace


def _number_blocks(sheet: Sheet, traces: Sequence[Trace], has_cycle: bool) -> None:
    if has_cycle:
        return
    seen: Counter[tuple[str, Joint, Side | None]] = Counter()
    for trace in traces:
        key = (trace.condition, trace.joint, trace.side)
        seen[key] += 1
        trace.cycle = str(seen[key])
    if max(seen.values(), default=0) > 1:
        sheet.problems.append(Problem("info", Reason("cycles_not_numbered"), "sheet"))
