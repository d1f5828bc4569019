"""Joint angles over 0–100 % of a cycle, one curve in each row.

In comes a sheet whose rows begin with words and go on with numbers; out go its curves.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from gaittrack.errors import DataError, Problem
from gaittrack.read.sheets.angle_curves import curve_trace, finished_curves, told_trace
from gaittrack.read.sheets.angle_plausibility import Trace
from gaittrack.read.sheets.cycle_facts import CycleFacts
from gaittrack.read.sheets.percent_grid import FEWEST_POINTS, on_grid
from gaittrack.read.sheets.recording_names import names_people
from gaittrack.read.sheets.sheet_columns import Sheet, unique
from gaittrack.read.sheets.sheet_question import SeenColumn
from gaittrack.read.tables.column_names import ColumnName, read_column_name
from gaittrack.read.tables.number_cells import is_number, is_text, to_number
from gaittrack.reasons import Reason
from gaittrack.trial import AngleCurve, FloatArray

ROWS_LOOKED_AT = 20
"""A sheet whose first rows hold no word has no curves in rows; our choice."""


def curves_in_rows(sheet: Sheet) -> tuple[AngleCurve, ...]:
    """Read curves that stand in one row each.

    Raises
    ------
    LayoutError, DataError
    """
    header, rows = row_header(sheet)
    span, grid = _span(sheet, header, rows)
    facts = CycleFacts.of_rows(sheet, header)
    hidden = {*facts.columns, *people_columns(header)}
    names = [_row_name(header, row, span, hidden) for row in rows]
    traces, seen = [], []
    for label, (_, name), row in zip(_labels(names), names, rows, strict=True):
        seen.append(_seen_row(sheet, label, name, row[span]))
        trace = _row_trace(sheet, row, span, grid, label, name)
        if trace is not None:
            facts.apply_row(trace, row)
            traces.append(trace)
    return finished_curves(sheet, traces, "cycles_in_rows", seen)


def row_labels(sheet: Sheet) -> tuple[str, ...]:
    """Return what the curves of a sheet with one in each row are called."""
    header, rows = row_header(sheet)
    hidden = {*CycleFacts.of_rows(sheet, header).columns, *people_columns(header)}
    span, _ = _span(sheet, header, rows)
    return _labels([_row_name(header, row, span, hidden) for row in rows])


def people_columns(header: Sequence[str]) -> list[int]:
    """Return the columns that say whose a row is."""
    return [column for column, cell in enumerate(header) if names_people(cell)]


def _labels(names: Sequence[tuple[str, ColumnName]]) -> tuple[str, ...]:
    return unique([label for label, _ in names])


def _span(
    sheet: Sheet, header: Sequence[str], rows: Sequence[Sequence[str]]
) -> tuple[slice, FloatArray | None]:
    """Return the columns of numbers, and their per cent; None where they are spread evenly."""
    numbers = header_numbers(header)
    run = [column for column, value in enumerate(numbers) if not math.isnan(value)]
    if not run:
        start = next(column for column, cell in enumerate(rows[0]) if is_number(cell))
        return slice(start, None), None
    span = slice(run[0], run[-1] + 1)
    grid = np.array(numbers[span])
    if np.array_equal(grid, np.arange(1, len(grid) + 1)):
        return span, _numbered_grid(sheet, grid)
    return span, grid


def _numbered_grid(sheet: Sheet, grid: FloatArray) -> FloatArray | None:
    """Return what columns 1, 2, 3 … are: None where they only count points."""
    told = sheet.sheet_map.header_numbers
    if len(grid) == 100 and told is None:
        doubt = "whether columns 1 to 100 are per cent or points"
        sheet.ask_for("header_numbers", doubt, ["percent", "points"])
    return grid if told == "percent" else None


def _seen_row(sheet: Sheet, label: str, name: ColumnName, cells: Sequence[str]) -> SeenColumn:
    guess = " ".join(word for word in (name.side, name.joint) if word) or name.role
    is_wanted = name.role in ("angle", "unclear", "unknown")
    return sheet.seen(label, name, cells, guess=guess, is_wanted=is_wanted)


def is_in_rows(sheet: Sheet) -> bool:
    """Whether each row is one curve: words that spell a joint, then many numbers."""
    header, rows = row_header(sheet)
    if not any(is_text(cell) for row in rows[:ROWS_LOOKED_AT] for cell in row):
        return False
    counts = [sum(map(is_number, row)) for row in rows]
    if min(counts) < FEWEST_POINTS:
        return False
    words = [" ".join(cell for cell in row if is_text(cell)) for row in rows]
    spelt = sum(read_column_name(word).joint is not None for word in words)
    if spelt < max(1, 0.5 * len(rows)):
        return False
    numbered = any(not math.isnan(value) for value in header_numbers(header))
    return numbered or not any(read_column_name(cell).role == "angle" for cell in header)


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
        try:
            return to_number(cell.replace(",", "."), ".")
        except ValueError:
            return math.nan
    if name.joint is None and name.role in ("unknown", "percent", "frame") and name.cycle:
        return float(name.cycle) if name.cycle.replace(".", "", 1).isdigit() else math.nan
    digits = cell.lstrip("pPvVxXtT_ ")
    return float(digits) if digits.isdigit() and digits != cell else math.nan


def _is_percent(values: Sequence[float]) -> bool:
    run = [value for value in values if not math.isnan(value)]
    return bool(run) and run[0] in (0, 1) and run[-1] in (1, 99, 100)


def _row_name(
    header: Sequence[str], row: Sequence[str], span: slice, hidden: Collection[int]
) -> tuple[str, ColumnName]:
    """Return a row's own words, and what they spell with the header's help."""
    words, extra = [], {}
    for column, cell in enumerate(row[: span.start]):
        heading = read_column_name(header[column] if column < len(header) else "")
        if column in hidden or not cell:
            continue
        words.append(cell)
        if heading.role == "condition":
            extra["rest"] = cell
        elif heading.role == "cycle":
            extra["cycle"] = cell
    label = " ".join(words)
    used = [cell for cell in words if cell not in extra.values()]
    name = read_column_name(" ".join(used))
    return label, replace(name, **extra)  # type: ignore[arg-type]  # keys are fields


def _row_trace(
    sheet: Sheet,
    row: Sequence[str],
    span: slice,
    grid: FloatArray | None,
    label: str,
    name: ColumnName,
) -> Trace | None:
    told = [c for c in sheet.sheet_map.columns if " ".join(c.name.split()) == label.strip()]
    if sheet.sheet_map.columns and not told:
        return None
    if name.role != "angle" and not told:
        level = "info" if name.role in ("spread", "other_plane") else "warning"
        sheet.problems.append(
            Problem(
                "info" if level == "info" else "warning",
                Reason("row_spells_no_angle"),
                f"row {label!r}",
            )
        )
        return None
    try:
        numbers = [to_number(cell, sheet.table.decimal) for cell in row[span]]
    except ValueError as error:
        raise DataError.of(
            "word_among_numbers", where=sheet.where, label=label, word=error.args[0]
        ) from error
    if grid is not None:
        numbers += [math.nan] * (len(grid) - len(numbers))
    trace = curve_trace(sheet, label, name, on_grid(np.array(numbers), grid, sheet.where))
    if told:
        trace = told_trace(replace(told[0], name=label), trace.values, unit=trace.unit)
    return trace
