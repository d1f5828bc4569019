"""Which map says how a table is read.

In come the bytes of a table and the laboratory's maps, out comes the map whose columns or labels it
holds. Each map looks at the table as it says that it is written.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path

from gaittrack.errors import GaitTrackError
from gaittrack.lab_map import LabMap, SheetMap, device_name
from gaittrack.map_fit import TakenMap, map_for_sheet, sheet_fit
from gaittrack.read.sheets.sheet_columns import open_sheet
from gaittrack.read.sheets.sheet_names import curve_names
from gaittrack.read.tables.number_cells import is_text
from gaittrack.read.tables.preamble import declared_device
from gaittrack.read.tables.table_sniffing import Table, read_text_table
from gaittrack.read.tables.text_decoding import whole_rows
from gaittrack.read.tables.workbook import is_workbook, read_workbook_tables

_HOW_WRITTEN = ("encoding", "delimiter", "decimal", "header_row", "workbook_sheet", "block")


def map_for_table(path: Path, content: bytes, maps: Sequence[LabMap]) -> TakenMap:
    """Choose the map by which a table is read.

    Parameters
    ----------
    path : Path
        For its name only.

    Raises
    ------
    LayoutError
        Two maps fit alike and tell different things.
    """

    @cache
    def written(*how: object) -> frozenset[str]:
        told = SheetMap(**dict(zip(_HOW_WRITTEN, how, strict=True)))  # type: ignore[arg-type]
        return frozenset(_names_in(content, told))

    fits = (
        sheet_fit(each, written(*(getattr(each.sheet, key) for key in _HOW_WRITTEN)), path.name)
        for each in maps
        if each.sheet != SheetMap()
    )
    return map_for_sheet(fits, file_name=path.name)


def table_names(content: bytes) -> frozenset[str]:
    """Return the names that a table holds, by which a map may know it."""
    return frozenset(_names_in(content, SheetMap()))


def _names_in(content: bytes, told: SheetMap) -> Iterable[str]:
    """Return the words of the rows, and the columns as messages name them."""
    try:
        table = _table(content, told)
    except GaitTrackError:
        return ()
    rows = [[" ".join(cell.split()) for cell in row if is_text(cell)] for row in table.rows]
    cells = {cell for row in rows for cell in row} | {" ".join(row) for row in rows}
    try:
        sheet = open_sheet(table, told, "")
        devices = map(device_name, declared_device(sheet.above))
        return cells | {*sheet.labels, *curve_names(sheet), *devices}
    except GaitTrackError:
        return cells


def _table(content: bytes, told: SheetMap) -> Table:
    decimal, header_row = told.decimal, told.header_row
    if is_workbook(content):
        tables, _ = read_workbook_tables(
            content,
            where="",
            sheet_name=told.workbook_sheet,
            decimal=decimal,
            header_row=header_row,
            block=told.block,
        )
        return next(iter(tables.values()))
    return read_text_table(
        whole_rows(content),
        where="",
        encoding=told.encoding,
        delimiter=told.delimiter,
        decimal=decimal,
        header_row=header_row,
        block=told.block,
    )
