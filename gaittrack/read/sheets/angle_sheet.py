"""Joint-angle sheets: CSV, tab text or XLSX, over time or over 0–100 % of cycles.

In come the bytes of a file; out goes a :class:`Trial` with angles over time or with curves, in
degrees and our signs. How the sheet is written and laid out is found by looking and recorded in
the trial's steps and problems; a map file can tell it instead; what stays in doubt is asked.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from gaittrack.errors import GaitTrackError, LayoutError, Problem
from gaittrack.lab_map import LabMap, SheetMap
from gaittrack.part_names import part_of
from gaittrack.read.marker_texts.marker_text import is_of_markers
from gaittrack.read.sheets.angle_curves import curves_in_columns
from gaittrack.read.sheets.angle_series import read_series
from gaittrack.read.sheets.curves_in_rows import curves_in_rows, is_in_rows
from gaittrack.read.sheets.curves_stacked import curves_stacked
from gaittrack.read.sheets.percent_grid import percent_by_numbers, percent_restarting
from gaittrack.read.sheets.several_recordings import one_person, one_trial
from gaittrack.read.sheets.sheet_asking import question, which_recording
from gaittrack.read.sheets.sheet_columns import LONGEST_TITLE, Sheet, open_sheet
from gaittrack.read.sheets.sheet_names import curve_names
from gaittrack.read.tables.column_names import axis_and_stem, is_other_quantity
from gaittrack.read.tables.preamble import missing_rows, said_above
from gaittrack.read.tables.row_lengths import row_length_problems
from gaittrack.read.tables.table_numbers import is_cut
from gaittrack.read.tables.table_sniffing import read_text_table
from gaittrack.read.tables.text_decoding import decode_text, whole_rows
from gaittrack.read.tables.workbook import is_workbook, read_workbook_tables
from gaittrack.reasons import Reason
from gaittrack.trial import AngleCurve, Provenance, Trial

FORMAT = "joint-angle sheet"
SUFFIXES = frozenset(
    (".csv", ".tsv", ".tab", ".txt", ".xls", ".xlsx", ".asc", ".dat", ".mot", ".sto")
)
_ANGLES = re.compile(r"angle|winkel|[aá]ngulo|angolo|hoek|vinkel|kinematic|kinematik")
USUAL_COUNTS = (51, 101)
"""Points of a curve over a cycle by common practice, no source."""
CLOSES_WITHIN = 0.2
"""A curve over a cycle ends where it began, within this share of its range; our choice."""


def looks_like(content: bytes, suffix: str) -> bool:
    """Whether the bytes may be a joint-angle sheet.

    Parameters
    ----------
    content : bytes
        The file, or its beginning.
    suffix : str
        Such as ``.csv``.

    Returns
    -------
    bool
        True for workbooks and for text with a table of numbers; a marker text table is one too,
        so ask for that first.
    """
    if is_workbook(content):
        return True
    try:
        table = read_text_table(whole_rows(content), where="")
    except GaitTrackError:
        return suffix.lower() in SUFFIXES and _is_text(content)
    return table.width > 1 or suffix.lower() in SUFFIXES


def _is_text(content: bytes) -> bool:
    try:
        text, _ = decode_text(content[:4000], where="")
    except GaitTrackError:
        text = content[:4000].decode("latin-1")
    odd = sum(not (char.isprintable() or char in "\t\r\n") for char in text)
    return odd < 0.02 * len(text)


def read(
    path: Path, content: bytes, sha256: str, *, lab_map: LabMap, rate_hz: float | None
) -> Trial:
    """Read a joint-angle sheet.

    Parameters
    ----------
    path : Path
        For its name only.
    rate_hz : float, optional
        Frames per second; before the map's and the sheet's own.

    Raises
    ------
    LayoutError
        The layout cannot be known for sure; the message prints a map file to complete.
    EmptyFileError, DataError, TruncatedFileError
    """
    sheet = open_file(path, content, lab_map, rate_hz)
    try:
        trial = read_open(sheet, Provenance(path.name, sha256, FORMAT))
    except LayoutError:
        raise
    except GaitTrackError as error:
        if not sheet.pending:
            raise
        raise which_recording(sheet) from error
    if sheet.pending:
        raise which_recording(sheet)
    return trial


def open_file(path: Path, content: bytes, lab_map: LabMap, rate_hz: float | None) -> Sheet:
    """Open a sheet; what stands in its columns is not looked at yet.

    Raises
    ------
    BadFileError
        It holds no table, or one whose rows are named in a way that nobody can know.
    """
    sheet = _open(path, content, lab_map)
    _refuse_long_tables(sheet)
    sheet.part = part_of(path.name)
    sheet.rate_hz = rate_hz or lab_map.sheet.rate_hz
    if is_cut(sheet.table):
        sheet.problems.append(Problem("warning", Reason("cut_in_a_number"), path.name))
    is_whole = sheet.table.ends_whole
    sheet.problems += missing_rows(sheet.above, len(sheet.body), path.name, is_whole=is_whole)
    return sheet


def read_open(sheet: Sheet, provenance: Provenance) -> Trial:
    """Read the one recording of a sheet that is told, else the first.

    Raises
    ------
    LayoutError, DataError, TruncatedFileError
    """
    one_person(sheet)
    if not is_in_rows(sheet):
        one_trial(sheet)
    _refuse_other_title(sheet)
    layout = sheet.sheet_map.layout or _layout(sheet)
    if layout != "cycles_in_rows":
        sheet.problems.extend(row_length_problems(sheet.table, sheet.where))
    sheet.steps.append(f"layout: {layout.replace('_', ' ')}")
    columns = (*sheet.labels, *curve_names(sheet))
    provenance = replace(provenance, columns=columns, **said_above(sheet.above))
    if layout == "time_series":
        base, angles, events = read_series(sheet)
        return Trial(
            base.rate_hz,
            base.n_frames,
            _with_steps(provenance, sheet),
            first_frame=base.first_frame,
            angles=angles,
            events=events,
            problems=tuple(sheet.problems),
        )
    curves = _CURVES[layout](sheet)
    return Trial(
        math.nan, 0, _with_steps(provenance, sheet), curves=curves, problems=tuple(sheet.problems)
    )


_CURVES: Final[Mapping[str, Callable[[Sheet], tuple[AngleCurve, ...]]]] = {
    "cycles": curves_in_columns,
    "cycles_in_rows": curves_in_rows,
    "cycles_stacked": curves_stacked,
}


def _refuse_long_tables(sheet: Sheet) -> None:
    """Refuse rows of one marker each, and joints that are numbers: no map answers for them."""
    for column, name in enumerate(sheet.spelt):
        if name.role == "joint" and sheet.is_numeric(column):
            raise LayoutError.of("joints_are_numbers", where=sheet.where, name=sheet.labels[column])
    axes = {axis for axis, stem in map(axis_and_stem, sheet.labels) if axis and not stem}
    if sheet.table.encoding == "workbook" and is_of_markers(sheet.table):
        raise LayoutError.of("markers_in_workbook", where=sheet.where)
    if len(axes) == 3 and not all(map(sheet.is_numeric, range(len(sheet.labels)))):
        raise LayoutError.of("row_for_each_marker", where=sheet.where)


def _refuse_other_title(sheet: Sheet) -> None:
    """Refuse columns below a title that names no angle but another quantity."""
    titles = [
        (place, row[0])
        for place, row in enumerate(sheet.above, 1)
        if len(list(filter(None, row))) == 1
    ]
    if sheet.sheet_map.columns or any(_ANGLES.search(title.lower()) for _, title in titles):
        return
    for place, title in titles[:1]:
        if len(title.split()) <= LONGEST_TITLE and is_other_quantity(title):
            raise LayoutError.of("title_of_other_quantity", where=sheet.where, row=place)


def _with_steps(provenance: Provenance, sheet: Sheet) -> Provenance:
    return replace(provenance, steps=tuple(sheet.steps))


def _open(path: Path, content: bytes, lab_map: LabMap) -> Sheet:
    told, block = lab_map.sheet, part_of(path.name).get("table") or lab_map.sheet.block
    if is_workbook(content):
        return _open_workbook(path, content, told, block)
    table = read_text_table(
        content,
        where=path.name,
        encoding=told.encoding,
        delimiter=told.delimiter,
        decimal=told.decimal,
        header_row=told.header_row,
        block=block,
    )
    return _with_blocks(open_sheet(table, told, path.name))


def _open_workbook(path: Path, content: bytes, told: SheetMap, block: int | None) -> Sheet:
    tables, others = read_workbook_tables(
        content,
        where=path.name,
        sheet_name=told.workbook_sheet,
        decimal=told.decimal,
        header_row=told.header_row,
        block=block,
    )
    number = part_of(path.name).get("sheet") if len(tables) > 1 else None
    if number is not None and number > len(tables):
        raise LayoutError.of("no_such_part", where=path.name, kind="sheet", n=len(tables))
    name, table = list(tables.items())[(number or 1) - 1]
    sheet = open_sheet(table, told, path.name)
    sheet.steps.append(f"sheet {name!r} of the workbook")
    if len(tables) > 1 and number is None:
        rows = "; ".join(f"{each!r}: {one.last - one.first} rows" for each, one in tables.items())
        sheet.ask_for("workbook_sheet", f"which sheet of the workbook ({rows})", list(tables))
    elif others and told.workbook_sheet is None:
        sheet.problems.append(
            Problem("info", Reason("more_sheets", n=len(others)), f"sheet {name!r}")
        )
    return _with_blocks(sheet)


def _with_blocks(sheet: Sheet) -> Sheet:
    """Note that a person must say which of several tables is meant."""
    blocks = sheet.table.blocks
    if blocks:
        numbered = [f"{number}: {rows}" for number, rows in enumerate(blocks, 1)]
        numbers = [str(number) for number in range(1, len(blocks) + 1)]
        sheet.ask_for("block", f"which table of numbers ({'; '.join(numbered)})", numbers)
    return sheet


def _layout(sheet: Sheet) -> str:
    """Return the layout, or raise the question."""
    if is_in_rows(sheet):
        return "cycles_in_rows"
    if sheet.table.header is None:
        raise question(sheet, ["there is no row that names the columns"], layout="?")
    if _header_is_narrow(sheet):
        row_length_problems(sheet.table, sheet.where)  # which says where, if it is a row
        raise question(
            sheet,
            ["there are more columns of numbers than names; is a comma the decimal sign?"],
            layout="?",
        )
    percent = sheet.first("percent")
    if percent is not None and (sheet.numbers(percent)[1:] <= sheet.numbers(percent)[:-1]).any():
        return "cycles_stacked"
    if percent is not None:
        return "cycles"
    if percent_restarting(sheet) is not None:
        return "cycles_stacked"
    return _layout_without_percent(sheet)


def _layout_without_percent(sheet: Sheet) -> str:
    by_numbers = percent_by_numbers(sheet)
    time = sheet.first("time")
    if by_numbers is not None and by_numbers == time:
        _fraction_or_seconds(sheet, time)
        return "cycles"
    if time is not None or sheet.first("frame") is not None:
        return "time_series"
    if by_numbers is not None:
        return "cycles"
    if sheet.rate_hz is not None:
        return "time_series"
    if len(sheet.body) in USUAL_COUNTS and _closes(sheet):
        sheet.problems.append(
            Problem("warning", Reason("percent_by_rows", n_rows=len(sheet.body)), "sheet")
        )
        return "cycles"
    raise question(
        sheet,
        ["no column of time, frames or per cent: over time or over a cycle?"],
        layout="?",
    )


def _fraction_or_seconds(sheet: Sheet, column: int) -> None:
    """Ask when a time column from 0 to 1 may be seconds as well as a fraction of a cycle."""
    last = sheet.numbers(column)[-1]
    rate = len(sheet.body) - 1
    is_mean = any(name.is_mean for name in sheet.spelt)
    if last == 1 and not is_mean and (rate % 10 == 0 or not _closes(sheet)):
        raise question(
            sheet,
            [f"{sheet.labels[column]!r} runs from 0 to 1: seconds, or parts of a cycle?"],
            layout="?",
        )
    sheet.problems.append(
        Problem("warning", Reason("time_as_parts", last=float(last)), sheet.labels[column])
    )


def _closes(sheet: Sheet) -> bool:
    angles = [
        sheet.numbers(column)
        for column, name in enumerate(sheet.spelt)
        if name.role == "angle" and sheet.is_numeric(column)
    ]
    return bool(angles) and all(
        abs(values[-1] - values[0]) <= CLOSES_WITHIN * np.ptp(values[np.isfinite(values)])
        for values in angles
    )


def _header_is_narrow(sheet: Sheet) -> bool:
    """Whether numbers stand in columns without a name, beyond a first unnamed one."""
    unnamed = [
        column
        for column in range(1, len(sheet.labels))
        if sheet.labels[column].startswith("column ") and not sheet.table.names[column]
    ]
    return any(sheet.is_numeric(column) for column in unnamed)
