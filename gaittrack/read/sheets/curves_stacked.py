"""Joint angles over 0–100 % of a cycle, one curve below the other.

In comes a sheet whose per cent column starts again for each curve, with columns that say which
cycle, condition, side or joint a row belongs to; out go its curves.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np

from gaittrack.errors import DataError, Problem
from gaittrack.lab_map import NO_COLUMN
from gaittrack.read.sheets.angle_curves import (
    curve_trace,
    finished_curves,
    report_unused_columns,
    told_trace,
)
from gaittrack.read.sheets.angle_plausibility import Trace
from gaittrack.read.sheets.cycle_facts import CycleFacts
from gaittrack.read.sheets.percent_grid import on_grid, percent_restarting
from gaittrack.read.sheets.sheet_asking import question
from gaittrack.read.sheets.sheet_columns import Sheet, plain
from gaittrack.read.sheets.sheet_question import ASKED, SeenColumn
from gaittrack.read.tables.column_names import ColumnName, read_column_name
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
        raise question(
            sheet,
            ["which column is per cent"],
            layout="cycles_stacked",
            percent_column=ASKED,
            words={"percent_column": sheet.labels},
        )
    grid = sheet.numbers(percent)
    keys = _key_columns(sheet)
    facts = CycleFacts.of_columns(sheet)
    values = [
        (column, sheet.spelt[column], sheet.numbers(column))
        for column in _value_columns(sheet, percent, keys)
    ]
    traces: list[Trace] = []
    seen: dict[str, SeenColumn] = {}
    for number, (start, stop) in enumerate(_blocks(grid), 1):
        cells = {key: _one_word(sheet, column, start, stop) for key, column in keys.items()}
        for column, name, numbers in values:
            curve = on_grid(numbers[start:stop], grid[start:stop], sheet.where)
            label, spelt = _block_name(sheet, column, name, cells)
            seen.setdefault(label, _seen_block(label, spelt, numbers[start:stop]))
            trace = _stacked_trace(sheet, label, spelt, cells, curve, str(number))
            if trace is not None:
                facts.apply_block(trace, start, stop)
                traces.append(trace)
    _number_blocks(sheet, traces, "cycle" in keys)
    sheet.words |= {key: (*sheet.labels, NO_COLUMN) for key in ("cycle_column", "condition_column")}
    return finished_curves(
        sheet,
        traces,
        "cycles_stacked",
        list(seen.values()),
        repeated={"cycle_column": ASKED, "condition_column": ASKED},
    )


def _blocks(grid: FloatArray) -> list[tuple[int, int]]:
    edges = [0, *(int(place) + 1 for place in np.flatnonzero(np.diff(grid) <= 0)), len(grid)]
    return list(zip(edges[:-1], edges[1:], strict=True))


def _key_columns(sheet: Sheet) -> dict[str, int]:
    told = {
        "cycle": sheet.sheet_map.cycle_column,
        "condition": sheet.sheet_map.condition_column,
    }
    keys = {
        role: sheet.find(name, f"{role}_column")
        for role, name in told.items()
        if name not in (None, NO_COLUMN)
    }
    for column, name in enumerate(sheet.spelt):
        if (
            name.role in ("cycle", "condition", "side", "joint")
            and told.get(name.role) != NO_COLUMN
        ):
            keys.setdefault(name.role, column)
    return keys


def _value_columns(sheet: Sheet, percent: int, keys: Mapping[str, int]) -> list[int]:
    """Return the columns of angles: one, where each row names its joint, else one for each."""
    told = sheet.sheet_map
    if "joint" in keys:
        return [_lone_value(sheet, {percent, *keys.values()})]
    if told.columns:
        return [sheet.find(each.name, "columns") for each in told.columns]
    found = [
        column
        for column, name in enumerate(sheet.spelt)
        if name.role == "angle" and column != percent and sheet.is_numeric(column)
    ]
    if not found:
        raise question(sheet, ["which column holds angles"], layout="cycles_stacked")
    report_unused_columns(sheet)
    return found


def _lone_value(sheet: Sheet, used: Collection[int]) -> int:
    if sheet.sheet_map.value_column is not None:
        return sheet.find(sheet.sheet_map.value_column, "value_column")
    numeric = [c for c in range(len(sheet.labels)) if c not in used and sheet.is_numeric(c)]
    may_be = [c for c in numeric if sheet.spelt[c].role in ("value", "angle", "unknown")]
    named = [column for column in may_be if sheet.spelt[column].role == "value"]
    found = named or may_be
    if not found:
        raise question(sheet, ["which column holds angles"], layout="cycles_stacked")
    if len(found) > 1:
        names = [sheet.labels[column] for column in found]
        sheet.ask_for("value_column", "which column holds angles", names)
    return found[0]


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


def _block_name(
    sheet: Sheet, column: int, name: ColumnName, cells: Mapping[str, str]
) -> tuple[str, ColumnName]:
    """Return what a curve is called, and what that spells: its column, or its rows' own words."""
    if "joint" not in cells:
        side = name.side or read_column_name(cells.get("side", "")).side
        return sheet.labels[column], replace(name, side=side)
    label = " ".join(filter(None, (cells["joint"], cells.get("side", ""))))
    spelt = read_column_name(label)
    return label, replace(spelt, unit=name.unit, rest="", cycle="", is_mean=name.is_mean)


def _seen_block(label: str, name: ColumnName, values: FloatArray) -> SeenColumn:
    return SeenColumn(
        label,
        values,
        " ".join(word for word in (name.side, name.joint) if word) or name.role,
        joint="" if name.role == "unclear" else name.joint or "",
        side=name.side or "",
        sign=name.sign,
        unit=name.unit if name.unit in ("deg", "rad") else "",
        condition=name.rest,
        is_wanted=name.role in ("angle", "unclear", "unknown"),
    )


def _stacked_trace(
    sheet: Sheet,
    label: str,
    name: ColumnName,
    cells: Mapping[str, str],
    values: FloatArray,
    number: str,
) -> Trace | None:
    told = [each for each in sheet.sheet_map.columns if plain(each.name) == plain(label)]
    if sheet.sheet_map.columns and not told:
        return None
    if told:
        trace = told_trace(told[0], values, unit=name.unit)
    elif name.joint is None:
        sheet.problems.append(Problem("info", Reason("row_spells_no_angle"), f"row {label!r}"))
        return None
    else:
        trace = curve_trace(sheet, label, name, values)
    trace.is_mean = trace.is_mean or read_column_name(cells.get("cycle", "")).is_mean
    trace.condition = cells.get("condition", trace.condition)
    named = [cells.get("cycle", ""), told[0].cycle if told else ""]
    trace.cycle = "-".join(filter(None, named)) or trace.cycle or number
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
