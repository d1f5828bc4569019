"""Open a workbook (XLSX, or the old binary XLS) without trusting it.

In come the bytes of the file; out go the tables of the sheets that hold data. Declared and real
unzipped size and the extent of the cells are checked before the cells are read.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook

from gaittrack.errors import DataError, EmptyFileError, GaitTrackError, LayoutError
from gaittrack.read.tables.column_names import is_other_quantity, read_column_name
from gaittrack.read.tables.joined_sheets import joined_sheets
from gaittrack.read.tables.number_cells import is_text
from gaittrack.read.tables.old_records import refuse_broken_records
from gaittrack.read.tables.old_workbook import stream_of_sheets
from gaittrack.read.tables.row_splitting import Rows
from gaittrack.read.tables.table_sniffing import Table, frame_table

ZIP_MARK = b"PK\x03\x04"
OLD_BINARY_MARK = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
MAX_UNZIPPED_BYTES = 300_000_000
"""Larger workbooks are refused; our choice."""
ROWS_LOOKED_AT = 40
"""First rows of a sheet in which joints are looked for; our choice."""
MAX_SHEET_CELLS = 20_000_000
"""Rows × columns of the sheet's outer corner; our choice."""
THIN, MOST_THIN_CELLS = 50, 1_000_000
"""Cells for each that is filled, and cells, past both of which a place of a cell is damaged: to go
through them would take longer than a reader may; our choice."""
MOST_OLD_COLUMNS = 256
"""Columns of a sheet of the old binary kind, as its specification says."""

_DAMAGED: tuple[type[Exception], ...] = (
    *(zipfile.BadZipFile, zlib.error, struct.error, NotImplementedError, RuntimeError),
    *(EOFError, ValueError, OSError),
)
"""What the reader of archives raises of a damaged one, by its own kinds and by others."""
_READER_PANIC = "PanicException"
"""What the reader raises where it breaks off; it is no Exception and has no module."""
_ODD_VALUE = re.compile(rb"<(?:\w+:)?v(?:\s[^>]*)?>[^<&]*(&|<!)")
_TEXT_CELL = re.compile(rb"<(?:\w+:)?c\s[^>]*\st=\"(?:str|inlineStr)\"")
_CELL_PLACE = re.compile(rb'\sr="([A-Z]{1,3})(\d{1,7})"')


def is_workbook(content: bytes) -> bool:
    """Whether the bytes begin like a workbook (zipped, or the old binary kind)."""
    return content.startswith((OLD_BINARY_MARK, ZIP_MARK))


def read_workbook_tables(
    content: bytes,
    *,
    where: str,
    sheet_name: str | None = None,
    decimal: str | None = None,
    header_row: int | None = None,
    block: int | None = None,
) -> tuple[dict[str, Table], tuple[str, ...]]:
    """Read the sheets that may be recordings.

    Parameters
    ----------
    where : str
        File name for messages.
    sheet_name : str, optional
        When told.
    decimal, header_row, block
        As in ``table_sniffing.read_text_table``; ``decimal`` matters for numbers kept as text.

    Returns
    -------
    tables : dict of str to Table
        By the name of the sheet: those that name joints, where any does; else all with a table.
        Sheets that are each of a joint or side are one table, under their names together.
    others : tuple of str
        The other sheets.

    Raises
    ------
    DataError
        Not a sound workbook, or too large.
    LayoutError
        The sheet that is named is not there.
    EmptyFileError
        No sheet holds numbers.
    """
    check_workbook(content, where=where)
    sheets = _all_rows(content, where)
    if sheet_name is not None:
        if sheet_name not in sheets:
            raise LayoutError.of(
                "no_sheet", where=where, sheet_name=sheet_name, sheets=", ".join(map(repr, sheets))
            )
        sheets = {sheet_name: sheets[sheet_name]} | {
            name: () for name in sheets if name != sheet_name
        }
    tables: dict[str, Table] = {}
    refusals: list[GaitTrackError] = []
    for name, rows in sheets.items():
        try:
            tables[name] = frame_table(
                rows,
                where=f"{where} sheet {name!r}",
                decimal=decimal,
                header_row=header_row,
                block=block,
                delimiter="workbook cells",
                encoding="workbook",
            )
        except EmptyFileError:
            continue
        except GaitTrackError as error:
            refusals.append(error)
    if not tables:
        raise next(iter(refusals), EmptyFileError.of("no_sheet_holds_table_numbers", where=where))
    names, chosen = _chosen(tables, where)
    return chosen, tuple(name for name in sheets if name not in names)


def _chosen(tables: dict[str, Table], where: str) -> tuple[tuple[str, ...], dict[str, Table]]:
    """Return which sheets may be recordings, and their tables."""
    if joined := joined_sheets(tables, where):
        names, table = joined
        return names, {" + ".join(names): table}
    chosen = _with_angles(tables) or _large(tables) or tables
    return tuple(chosen), chosen


def _large(tables: dict[str, Table]) -> dict[str, Table]:
    """Return the only table with names, several columns and rows; none where several are such."""
    large = [
        name
        for name, table in tables.items()
        if table.header is not None and table.width > 1 and table.last - table.first > 1
    ]
    return {name: tables[name] for name in large} if len(large) == 1 else {}


def _with_angles(tables: dict[str, Table]) -> dict[str, Table]:
    """Return the tables that name joint angles, of sheets not called after another quantity."""
    return {
        name: table
        for name, table in tables.items()
        if not is_other_quantity(name) and _names_angles(table)
    }


def _names_angles(table: Table) -> bool:
    starts = (" ".join(filter(is_text, row)) for row in table.rows[table.first :][:ROWS_LOOKED_AT])
    names = (*table.names, *dict.fromkeys(starts))
    return any(read_column_name(name).role == "angle" for name in names)


def check_workbook(content: bytes, *, where: str) -> None:
    """Refuse a workbook that unzips to too much, is damaged, or would lose values.

    Raises
    ------
    DataError
    """
    if content.startswith(OLD_BINARY_MARK):
        refuse_broken_records(stream_of_sheets(content, where=where), where=where)
        return
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            infos = archive.infolist()
            size = sum(info.file_size for info in infos)
            if size > MAX_UNZIPPED_BYTES:
                raise DataError.of(
                    "unzipped_bytes_most_read",
                    where=where,
                    size=size,
                    max_unzipped_bytes=MAX_UNZIPPED_BYTES,
                )
            for info in infos:
                _check_part(archive, info, where)
    except _DAMAGED as error:
        raise DataError.of("workbook_damaged", where=where, error=str(error)) from error


def _check_part(archive: zipfile.ZipFile, info: zipfile.ZipInfo, where: str) -> None:
    """Unzip one part: at most its declared size is read, and its checksum must hold."""
    data = archive.read(info)
    if "worksheets/" not in info.filename or not info.filename.endswith(".xml"):
        return
    _refuse_odd_values(data, where)
    places = set(_CELL_PLACE.findall(data))
    rows = max((int(row) for _, row in places), default=0)
    columns = max((_column_number(letters) for letters, _ in places), default=0)
    is_thin = rows * columns > max(MOST_THIN_CELLS, THIN * len(places))
    if is_thin or rows * columns > MAX_SHEET_CELLS:
        raise DataError.of("sheet_spans_rows_columns", where=where, rows=rows, columns=columns)


def _refuse_odd_values(data: bytes, where: str) -> None:
    """Refuse numbers that are written with references or comments: the reader drops their ends."""
    for odd in _ODD_VALUE.finditer(data):
        cell = data.rfind(b"<row", 0, odd.start()), odd.start()
        last = max(data.rfind(b"<c ", *cell), data.rfind(b":c ", *cell) - 1)
        if odd[1] == b"<!" or not _TEXT_CELL.match(data[max(last, 0) : odd.start()]):
            place = _CELL_PLACE.search(data, max(last, 0), odd.start())
            told = "?" if place is None else (place[1] + place[2]).decode()
            raise DataError.of("workbook_odd_value", where=where, cell=told)


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _all_rows(content: bytes, where: str) -> dict[str, Rows]:
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        is_old = content.startswith(OLD_BINARY_MARK)
        return {
            name: _rows(book.get_sheet_by_name(name), where, is_old=is_old)
            for name in book.sheet_names
        }
    except (CalamineError, OSError, ValueError) as error:
        raise DataError.of("workbook_cannot_read", where=where, error=str(error)) from error
    except BaseException as error:
        if type(error).__name__ != _READER_PANIC:
            raise
        raise DataError.of("workbook_cannot_read", where=where, error=str(error)) from error


def _rows(sheet: CalamineSheet, where: str, *, is_old: bool) -> Rows:
    rows, columns = sheet.end or (0, 0)
    if (rows + 1) * (columns + 1) > MAX_SHEET_CELLS or (is_old and columns >= MOST_OLD_COLUMNS):
        raise DataError.of("sheet_spans_rows_columns", where=where, rows=rows, columns=columns)
    return tuple(
        tuple(_cell_text(cell) for cell in row) for row in sheet.to_python(skip_empty_area=False)
    )


def _cell_text(cell: object) -> str:
    if isinstance(cell, bool):
        return str(int(cell))
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    return str(cell).strip()
