"""Joint angles over 0–100 % of a cycle: one column each, one row each, or stacked.

In comes a sheet whose layout is known to hold curves; out go :class:`AngleCurve` objects in degrees
and our signs. Cycle time and toe-off are taken where the sheet gives them, never assumed.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from gaittrack.errors import DataError, LayoutError, Problem, TruncatedFileError
from gaittrack.read.angle_plausibility import Trace, settle_angles
from gaittrack.read.angle_series import report_columns
from gaittrack.read.column_names import ColumnName, read_column_name
from gaittrack.read.cycle_facts import CycleFacts
from gaittrack.read.preamble import declared_side, declared_unit
from gaittrack.read.sheet_columns import Sheet
from gaittrack.read.sheet_question import SeenColumn, ask
from gaittrack.read.table_sniffing import is_number, is_text, to_number
from gaittrack.trial import AngleCurve, FloatArray
from gaittrack.vocabulary import SIDES, Joint, Side

FEWEST_POINTS = 10
"""A curve with fewer points is refused; our choice."""


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
            Trace(
                c.name, c.side, c.joint, on_grid(sheet.numbers(column), grid, sheet.where),
                c.sign, c.zero_deg, sheet.spelt[column].unit, True, c.cycle, c.condition,
                c.cycle_time_s, c.toe_off_percent, c.mean,
            )
            for column, c in told
        ]  # fmt: skip
        columns = [column for column, _ in told]
    else:
        columns = [
            column
            for column, name in enumerate(sheet.spelt)
            if name.role == "angle" and column != percent and sheet.is_numeric(column)
        ]
        traces = [
            _trace(sheet, sheet.labels[column], sheet.spelt[column],
                   on_grid(sheet.numbers(column), grid, sheet.where))
            for column in columns
        ]  # fmt: skip
        _mark_means(sheet, traces, columns)
        _report_unused(sheet)
    facts = CycleFacts.of_columns(sheet)
    for trace, column in zip(traces, columns, strict=True):
        facts.apply(trace, column)
    return _finished(sheet, traces, "cycles", _column_rows(sheet))


def _trace(sheet: Sheet, label: str, name: ColumnName, values: FloatArray) -> Trace:
    side = name.side or declared_side(sheet.above)
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


def _mark_means(sheet: Sheet, traces: Sequence[Trace], columns: Sequence[int]) -> None:
    """A lone curve with a spread beside it is a mean."""
    counts = Counter((t.condition, t.joint, t.side) for t in traces)
    for trace, column in zip(traces, columns, strict=True):
        beside = sheet.spelt[column + 1 : column + 2]
        lone = counts[trace.condition, trace.joint, trace.side] == 1
        if lone and beside and beside[0].role == "spread" and not trace.is_mean:
            trace.is_mean = True
            sheet.steps.append(f"{trace.name!r} taken as a mean: a spread stands beside it")


def _report_unused(sheet: Sheet) -> None:
    report_columns(sheet, "spread", "info", "A spread, not an angle; not used.")
    report_columns(sheet, "other_plane", "info", "Another plane or joint; not used.")
    report_columns(
        sheet, "unclear", "warning", "Its plane is not clear; not used. A map file can name it."
    )


def percent_by_numbers(sheet: Sheet) -> int | None:
    """Return an unnamed, cycle or time column whose numbers run from 0 to 100 (or 0 to 1)."""
    for column, name in enumerate(sheet.spelt):
        if name.role not in ("unknown", "cycle", "time", "frame") or name.rest:
            continue
        if not sheet.is_numeric(column) or name.role == "frame":
            continue
        values = sheet.numbers(column)
        if len(values) < FEWEST_POINTS or values[0] != 0 or not (np.diff(values) > 0).all():
            continue
        if values[-1] == 100 or (values[-1] == 1 and name.unit != "s"):
            return column
    return None


def on_grid(values: FloatArray, grid: FloatArray | None, where: str) -> FloatArray:
    """Put a curve on evenly spaced points from 0 to 100 %, both ends included.

    Parameters
    ----------
    values : ndarray, shape (n,)
    grid : ndarray, shape (n,), or None
        Per cent (or fraction) of each value; None: they are spread evenly.
    where : str

    Returns
    -------
    ndarray
        ``values``, with NaN for a missing first or last point.

    Raises
    ------
    DataError
        Too few points or uneven ones.
    TruncatedFileError
        The curve ends before 100 %.
    """
    if len(values) < FEWEST_POINTS:
        raise DataError(
            f"A curve has {len(values)} points; at least {FEWEST_POINTS} are needed.",
            where=where,
            action="Export the whole cycle.",
        )
    if grid is None:
        return values
    percent = grid * 100 if grid[-1] <= 1.5 else grid
    step = float((percent[-1] - percent[0]) / (len(percent) - 1))
    even = percent[0] + step * np.arange(len(percent))
    rounding = 0.51 if (percent == np.rint(percent)).all() else 0.06
    if not np.isfinite(step) or step <= 0 or not np.abs(percent - even).max() <= rounding:
        raise DataError(
            "The per cent column is not evenly spaced.", where=where, action="Export it evenly."
        )
    before, after = round(percent[0] / step), round((100 - percent[-1]) / step)
    if percent[0] < -0.5 or percent[-1] > 100.5 or before > 1 or after > 1:
        kind = TruncatedFileError if after > 1 else DataError
        raise kind(
            f"A curve runs from {percent[0]:g} to {percent[-1]:g} %, not from 0 to 100 %.",
            where=where,
            action="Export the whole cycle.",
        )
    return np.concatenate((np.full(before, np.nan), values, np.full(after, np.nan)))


def curves_in_rows(sheet: Sheet) -> tuple[AngleCurve, ...]:
    """Read curves that stand in one row each.

    Raises
    ------
    LayoutError, DataError
    """
    header, rows = row_header(sheet)
    numbers = header_numbers(header)
    start = next((c for c, v in enumerate(numbers) if not math.isnan(v)), None)
    if start is None:
        start = next(c for c, cell in enumerate(rows[0]) if is_number(cell))
        span, grid = slice(start, None), None
    else:
        run = [c for c, v in enumerate(numbers) if not math.isnan(v)]
        span = slice(run[0], run[-1] + 1)
        grid = np.array(numbers[span])
        if np.array_equal(grid, np.arange(1, len(grid) + 1)):
            if len(grid) == 100:
                raise sheet.question(["whether columns 1 to 100 are per cent or points"])
            grid = None
    facts = CycleFacts.of_rows(sheet, header)
    traces, kept_rows = [], []
    for place, row in enumerate(rows):
        label, name = _row_name(header, row, span, facts)
        trace = _row_trace(sheet, row, span, grid, label, name)
        if trace is not None:
            facts.apply_row(trace, row)
            traces.append(trace)
            kept_rows.append((label, place))
    seen = [
        SeenColumn(trace.name, tuple(trace.values[:4]), f"{trace.side} {trace.joint}",
                   trace.joint, trace.side or "", trace.sign, cycle=trace.cycle,
                   condition=trace.condition)
        for trace in traces
    ]  # fmt: skip
    return _finished(sheet, traces, "cycles_in_rows", seen)


def row_header(sheet: Sheet) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Return the header of a sheet with one curve per row, and its rows."""
    first = sheet.body[0]
    numbers = [cell for cell in first if is_number(cell)]
    above = () if sheet.table.header is None else sheet.table.rows[sheet.table.header]
    if len(numbers) >= FEWEST_POINTS and _is_percent(header_numbers(first)):
        words = [cell for cell in first if is_text(cell)]
        if not any(read_column_name(word).joint for word in words):
            return first, sheet.body[1:]
    return above, sheet.body


def header_numbers(header: Sequence[str]) -> list[float]:
    """Return the number at the end of each cell when these rise evenly; else NaN throughout."""
    values = [_trailing_number(cell) for cell in header]
    run = [value for value in values if not math.isnan(value)]
    steps = np.diff(run)
    if len(run) < FEWEST_POINTS or not (steps > 0).all() or np.ptp(steps) > 1.01:
        return [math.nan] * len(values)
    return values


def _trailing_number(cell: str) -> float:
    name = read_column_name(cell)
    if is_number(cell):
        return to_number(cell.replace(",", "."), ".")
    if name.joint is None and name.role in ("unknown", "percent", "frame") and name.cycle:
        return float(name.cycle) if name.cycle.replace(".", "", 1).isdigit() else math.nan
    digits = cell.lstrip("pPvVxXtT_ ")
    return float(digits) if digits.isdigit() and digits != cell else math.nan


def _is_percent(values: Sequence[float]) -> bool:
    run = [value for value in values if not math.isnan(value)]
    return bool(run) and run[0] in (0, 1) and run[-1] in (1, 99, 100)


def _row_name(
    header: Sequence[str], row: Sequence[str], span: slice, facts: CycleFacts
) -> tuple[str, ColumnName]:
    """Return a row's own words, and what they spell with the header's help."""
    words, extra = [], {}
    for column, cell in enumerate(row[: span.start]):
        heading = read_column_name(header[column] if column < len(header) else "")
        if column in facts.columns or not cell:
            continue
        words.append(cell)
        if heading.role == "condition":
            extra["rest"] = cell
        elif heading.role == "cycle":
            extra["cycle"] = cell
    label = " ".join(words)
    used = [cell for cell in words if cell not in extra.values()]
    return label, replace(read_column_name(" ".join(used)), **extra)  # type: ignore[arg-type]


def _row_trace(
    sheet: Sheet,
    row: Sequence[str],
    span: slice,
    grid: FloatArray | None,
    label: str,
    name: ColumnName,
) -> Trace | None:
    told = [c for c in sheet.sheet_map.columns if " ".join(c.name.split()) == label]
    if sheet.sheet_map.columns and not told:
        return None
    if name.role != "angle" and not told:
        level = "info" if name.role in ("spread", "other_plane") else "warning"
        sheet.problems.append(
            Problem(
                "info" if level == "info" else "warning",
                "The row does not spell one sagittal angle.",
                f"row {label!r}",
                "Not used; a map file can name it.",
            )
        )
        return None
    try:
        numbers = [to_number(cell, sheet.table.decimal) for cell in row[span]]
    except ValueError as error:
        raise DataError(
            f"Row {label!r} holds {error.args[0]!r} among its numbers.",
            where=sheet.where,
            action="Correct the cell, or leave it empty when nothing was recorded.",
        ) from error
    if grid is not None:
        numbers += [math.nan] * (len(grid) - len(numbers))
    trace = _trace(sheet, label, name, on_grid(np.array(numbers), grid, sheet.where))
    if told:
        c = told[0]
        trace = Trace(label, c.side, c.joint, trace.values, c.sign, c.zero_deg, trace.unit, True,
                      c.cycle, c.condition, c.cycle_time_s, c.toe_off_percent, c.mean)  # fmt: skip
    return trace


def _column_rows(sheet: Sheet) -> list[SeenColumn]:
    return sheet.seen()


def _finished(
    sheet: Sheet, traces: list[Trace], layout: str, seen: Sequence[SeenColumn]
) -> tuple[AngleCurve, ...]:
    """Settle units and signs, number the cycles, and return the curves; or ask."""
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
    doubts += _name_cycles(traces)
    if doubts:
        keys = sheet.found() | {"layout": layout}
        if any(doubt.startswith("unit") for doubt in doubts):
            keys["unit"] = "?"
        kind = "rows" if layout == "cycles_in_rows" else "columns"
        raise ask(sheet.where, doubts, seen or sheet.seen(), keys, kind=kind)
    if settled:
        sheet.steps.extend(settled.steps)
        sheet.problems.extend(settled.problems)
    _report_missing(sheet, traces)
    return tuple(curve for trace in traces for curve in _curves(trace))


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
    for key, what, lack in (
        ("cycle_time_s", "cycle time", "rates"),
        ("toe_off_percent", "toe-off", "swing measures"),
    ):
        count = sum(math.isnan(getattr(trace, key)) for trace in traces)
        if count:
            sheet.problems.append(
                Problem(
                    "info",
                    f"{count} of {len(traces)} curves have no {what}.",
                    "sheet",
                    f"They give no {lack}.",
                )
            )


def _curves(trace: Trace) -> list[AngleCurve]:
    sides: Sequence[Side] = SIDES if trace.side is None else (trace.side,)
    return [
        AngleCurve(
            side,
            trace.joint,
            trace.cycle,
            trace.values,
            trace.cycle_time_s,
            trace.toe_off_percent,
            trace.is_mean,
            trace.condition,
        )
        for side in sides
    ]


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
    return _finished(sheet, traces, "cycles_stacked", ())


def percent_restarting(sheet: Sheet) -> int | None:
    """Return an unnamed or cycle column that runs from 0 to 100 more than once."""
    for column, name in enumerate(sheet.spelt):
        if name.role not in ("unknown", "cycle", "percent") or not sheet.is_numeric(column):
            continue
        values = sheet.numbers(column)
        falls = np.flatnonzero(np.diff(values) < 0)
        if values[0] == 0 and values[-1] in (1, 100) and falls.size and (
            values[falls + 1] == 0
        ).all():  # fmt: skip
            return column
    return None


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
    _report_unused(sheet)
    return found


def _one_word(sheet: Sheet, column: int, start: int, stop: int) -> str:
    words = set(sheet.texts(column)[start:stop])
    if len(words) != 1:
        raise DataError(
            f"Rows {sheet.body_rows[start]} to {sheet.body_rows[stop - 1]} are one curve by their "
            f"per cent, yet {sheet.labels[column]!r} changes: {', '.join(sorted(words)[:4])}.",
            where=sheet.where,
            action="Sort the rows by cycle, then by per cent.",
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
        c = told[0]
        trace = Trace(c.name, c.side, c.joint, values, c.sign, c.zero_deg, name.unit, True,
                      c.cycle, c.condition, c.cycle_time_s, c.toe_off_percent, c.mean)  # fmt: skip
    else:
        spelt = read_column_name(f"{cells.get('joint', '')} {cells.get('side', '')}")
        joint = name.joint or spelt.joint
        if joint is None:
            raise LayoutError(
                f"{cells.get('joint', '')!r} spells no joint.",
                where=sheet.where,
                action="Write ankle, knee or hip in the joint column.",
            )
        trace = _trace(sheet, sheet.labels[column], name, values)
        trace.joint, trace.side = joint, name.side or spelt.side or trace.side
        trace.note = name.note or (spelt.note if name.joint is None else "")
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
        sheet.problems.append(
            Problem(
                "info",
                "No column numbers the cycles.",
                "sheet",
                "Each run of the per cent column from 0 to 100 is taken as one cycle.",
            )
        )
