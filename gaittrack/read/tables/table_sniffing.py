"""Find out by looking how a table is written.

In come the bytes of a text file or the cells of a workbook's sheet; out goes a :class:`Table`: rows
of cells, where the numbers begin and end, which row names the columns, and what was found about
encoding, delimiter and decimal sign. Each of these can be told instead of found. Marks that may be
of thousands or of decimals, and mixed decimal signs, are refused, never guessed at.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from typing import Any

from gaittrack.errors import (
    DataError,
    EmptyFileError,
    GaitTrackError,
    LayoutError,
    TruncatedFileError,
)
from gaittrack.read.tables.clock_cells import clocks_as_seconds
from gaittrack.read.tables.number_cells import (
    find_decimal,
    is_missing,
    is_number,
    is_text,
    is_unit_row,
)
from gaittrack.read.tables.row_splitting import Rows, split_rows
from gaittrack.read.tables.text_decoding import decode_text

DELIMITERS = ("\t", ";", ",", "|", " ")
DELIMITER_NAMES = dict(
    zip(("", *DELIMITERS), ("none", "tab", "semicolon", "comma", "bar", "blank"), strict=True)
)
MOST_KEPT_BYTES = 2_000_000
"""Tables of more are read anew each time: what is kept takes many times the room; our choice."""
MAX_CELLS = 20_000_000
"""Larger tables are refused; our choice."""
HEAD_ROWS = 400
"""Rows looked at in full to find where the numbers begin; our choice."""
LONG_TABLE = 50
"""Rows of a second table that is never passed over, however long the first; our choice."""
BLANK_IS_WORSE = 0.8
"""Blanks stand inside names too: they must separate clearly better; our choice."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table and what was found about it.

    Attributes
    ----------
    rows : tuple of tuple of str
        All rows from the top of the file, blank ones too: row ``i`` is row ``i + 1`` of the file.
    header : int or None
        Index of the row that names the columns.
    first, last : int
        The rows with numbers are ``rows[first:last]``; blank ones among them mean nothing.
    width : int
        Cells of the widest of these rows.
    ends_abruptly : bool
        No line end after the last row, so that its last number may be cut.
    blocks : tuple of str
        Rows of each of several tables of numbers, as words, when nobody said which one is meant;
        this is the first. Empty where there is one.
    clocks : tuple of int
        Columns of times of day, as seconds now.
    """

    rows: Rows
    header: int | None
    first: int
    last: int
    width: int
    delimiter: str
    decimal: str
    encoding: str
    ends_abruptly: bool
    blocks: tuple[str, ...] = ()
    clocks: tuple[int, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Column names as written, "" where there is none; as long as the table is wide."""
        cells = () if self.header is None else self.rows[self.header]
        padded = (*cells, *[""] * (self.width - len(cells)))
        return tuple(" ".join(cell.split()) for cell in padded)

    @property
    def ends_whole(self) -> bool:
        """Whether the last row is as long as most, and a line end follows it."""
        body = [row for row in self.rows[self.first : self.last] if any(row)]
        return not self.ends_abruptly and len(body[-1]) >= _usual_length(body)

    @property
    def steps(self) -> tuple[str, ...]:
        """What was found, as sentences for the trial's provenance."""
        header = "no header row" if self.header is None else f"header in row {self.header + 1}"
        return (
            f"encoding: {self.encoding}",
            f"delimiter: {DELIMITER_NAMES.get(self.delimiter, self.delimiter)}",
            f"decimal sign: {'comma' if self.decimal == ',' else 'point'}",
            f"{header}; numbers in rows {self.first + 1} to {self.last}",
            *(f"times of day in column {place + 1} read as seconds" for place in self.clocks),
        )


def read_text_table(
    content: bytes,
    *,
    where: str,
    encoding: str | None = None,
    delimiter: str | None = None,
    decimal: str | None = None,
    header_row: int | None = None,
    block: int | None = None,
) -> Table:
    """Read a delimited text file.

    Parameters
    ----------
    where : str
        File name for messages.
    encoding, delimiter, decimal : str, optional
        Found by looking when None.
    header_row : int, optional
        1-based; found by looking when None.
    block : int, optional
        Which of several tables of numbers, from 1; the only one when None.

    Raises
    ------
    EmptyFileError
        No row of numbers.
    DataError
        Not text; thousands marks or two decimal signs.
    LayoutError
        There is no such table, or rows do not fit any delimiter.
    TruncatedFileError
        The last row is shorter than the others and has no line end.
    """
    told = encoding, delimiter, decimal, header_row, block
    if len(content) > MOST_KEPT_BYTES:
        return _read(content, where, *told)
    try:
        return newest_tables(content, *told)
    except GaitTrackError:
        return _read(content, where, *told)  # for an error that names the file


def _read(
    content: bytes,
    where: str,
    encoding: str | None,
    delimiter: str | None,
    decimal: str | None,
    header_row: int | None,
    block: int | None,
) -> Table:
    text, found = decode_text(content, where=where, encoding=encoding)
    chosen = find_delimiter(text) if delimiter is None else delimiter
    rows = split_rows(text, chosen, where=where)
    abrupt = not text.endswith(("\n", "\r"))
    try:
        table = frame_table(
            rows,
            where=where,
            decimal=decimal,
            header_row=header_row,
            block=block,
            delimiter=chosen,
            encoding=found,
            ends_abruptly=abrupt,
        )
    except EmptyFileError:
        if text.count('"') % 2 == 0:
            raise
        open_mark = "a quotation mark is never closed"
        raise DataError.of("cells_cannot_split", where=where, error=open_mark) from None
    if abrupt:
        _refuse_short_last_row(table, where)
    return table


@lru_cache(maxsize=2)
def newest_tables(content: bytes, *told: Any) -> Table:
    """Return a table; the kind of a file is asked, then its recordings, then it is read."""
    return _read(content, "", *told)


def find_delimiter(text: str) -> str:
    """Return the delimiter under which most rows are equally wide and most cells are numbers.

    Returns
    -------
    str
        One of ``DELIMITERS``, or "" for a single column.
    """
    head = text[:200_000]
    best, best_score = "", 0.0
    for delimiter in DELIMITERS:
        if delimiter not in head:
            continue
        rows = [row for row in split_rows(head, delimiter, where="")[:HEAD_ROWS] if any(row)]
        score = _delimiter_score(rows) * (BLANK_IS_WORSE if delimiter == " " else 1.0)
        if score > best_score + 1e-9:
            best, best_score = delimiter, score
    return best


def _delimiter_score(rows: Sequence[tuple[str, ...]]) -> float:
    if len(rows) > 1:
        rows = rows[:-1] if len(rows) > 2 else rows
    widths = Counter(len(row) for row in rows if len(row) > 1)
    if not widths:
        return 0.0
    width, count = max(widths.items(), key=lambda item: item[0] * item[1])
    cells = [cell for row in rows if len(row) == width for cell in row]
    numbers = sum(is_number(cell) or is_missing(cell) for cell in cells)
    return (0.1 + count / len(rows)) * (0.02 + numbers / len(cells))


def frame_table(
    rows: Rows,
    *,
    where: str,
    decimal: str | None = None,
    header_row: int | None = None,
    block: int | None = None,
    delimiter: str = "",
    encoding: str = "",
    ends_abruptly: bool = False,
) -> Table:
    """Find the header and the numbers in rows of cells.

    Parameters
    ----------
    where : str
        File (and sheet) for messages.
    decimal, header_row, block
        As in :func:`read_text_table`.
    delimiter, encoding, ends_abruptly
        What is known already; kept in the result.

    Raises
    ------
    EmptyFileError, DataError, LayoutError
        As in :func:`read_text_table`.
    """
    if sum(map(len, rows)) > MAX_CELLS:
        raise DataError.of("table_more_than_cells", where=where, max_cells=MAX_CELLS)
    first, last, blocks = _numbers_span(rows, where, header_row, block)
    body = [row for row in rows[first:last] if any(row)]
    header = header_row - 1 if header_row is not None else _header_above(rows, first)
    width = max(len(row) for row in body)
    while width > 1 and all(len(row) < width or not row[width - 1] for row in body):
        width -= 1
    sign = decimal or find_decimal(body, where=where)
    rows, clocks = clocks_as_seconds(rows, first, last, sign)
    return Table(
        rows=rows,
        header=header,
        first=first,
        last=last,
        width=width,
        delimiter=delimiter,
        decimal=sign,
        encoding=encoding,
        ends_abruptly=ends_abruptly and not any(any(row) for row in rows[last:]),
        blocks=blocks if block is None else (),
        clocks=clocks,
    )


def _numbers_span(
    rows: Rows, where: str, header_row: int | None, block: int | None
) -> tuple[int, int, tuple[str, ...]]:
    """Return first and one past last row of numbers, and the rows of each of several tables."""
    start = 0 if header_row is None or block is not None else header_row
    counts = [sum(map(is_number, row)) for row in rows[start : start + HEAD_ROWS]]
    typical = max(counts, default=0)
    counts += [typical * any(map(is_number, row)) for row in rows[start + HEAD_ROWS :]]
    runs = _runs(rows, start, counts, typical) if typical else []
    if not runs:
        raise EmptyFileError.of("no_row_numbers_found", where=where)
    first, last = max(runs, key=lambda run: run[1] - run[0])
    least = max(5, min(LONG_TABLE, (last - first) // 4))
    rivals = [run for run in runs if run[1] - run[0] >= least]
    if not 1 <= (block or 1) <= max(1, len(rivals)):
        raise LayoutError.of("no_such_block", where=where, block=block, n=len(rivals))
    if len(rivals) > 1:
        first, last = rivals[(block or 1) - 1]
    last = _last_number_row(rows[:last], typical)
    while first > start and _continues_upwards(rows[first - 1]):
        first -= 1
    several = rivals if len(rivals) > 1 else []
    return first, last, tuple(f"rows {begin + 1} to {end}" for begin, end in several)


def _runs(rows: Rows, start: int, counts: Sequence[int], typical: int) -> list[tuple[int, int]]:
    flags = [
        (start + place, count) for place, count in enumerate(counts) if any(rows[start + place])
    ]
    runs = []
    for is_data, group in groupby(
        flags, key=lambda item: _is_number_row(rows[item[0]], item[1], typical)
    ):
        members = [place for place, _ in group]
        if is_data:
            runs.append((members[0], members[-1] + 1))
    return runs


def _is_number_row(row: tuple[str, ...], count: int, typical: int) -> bool:
    texts = sum(map(is_text, row))
    if count >= max(1, 0.5 * typical):
        return texts <= max(count, 3)
    return count >= 1 and texts == 0


def _last_number_row(rows: Rows, typical: int) -> int:
    last = len(rows)
    while not _is_number_row(rows[last - 1], sum(map(is_number, rows[last - 1])), typical):
        last -= 1
    return last


def _continues_upwards(row: tuple[str, ...]) -> bool:
    return any(map(is_number, row)) and not any(map(is_text, row)) and len(row) > 1


def _header_above(rows: Rows, first: int) -> int | None:
    """Return the nearest row above the numbers that names columns (a row of units does not)."""
    below = len([cell for cell in rows[first] if cell])
    for place in range(first - 1, max(-1, first - 6), -1):
        cells = [cell for cell in rows[place] if cell]
        texts = sum(map(is_text, cells))
        if texts and texts >= len(cells) / 2 and len(cells) >= below / 3 and not is_unit_row(cells):
            return place
    return None


def unit_row(table: Table) -> tuple[str, ...]:
    """Return the row of units next to the header, lower case, or ()."""
    if table.header is None:
        return ()
    for place in range(table.header + 1, table.first):
        if is_unit_row(table.rows[place]):
            return tuple(cell.strip().lower() for cell in table.rows[place])
    return ()


def _usual_length(body: Sequence[tuple[str, ...]]) -> int:
    lengths = Counter(len(row) for row in body[:-1] or body)
    return lengths.most_common(1)[0][0]


def _refuse_short_last_row(table: Table, where: str) -> None:
    body = [row for row in table.rows[table.first :] if any(row)]
    if len(body) < 2:
        return
    usual = _usual_length(body)
    if table.last >= len(table.rows) - 1 and len(body[-1]) < usual and len(body) > 2:
        raise TruncatedFileError.of(
            "last_row_cells_others_no", where=where, n_body=len(body[-1]), usual=usual
        )
