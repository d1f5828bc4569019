"""Write tables as they come, batch by batch: Parquet and CSV, and at the end one workbook.

In come batches of tables, out come their files and what was written. Only columns of the dictionary
are written, in its types; text can never become a formula. No more is held than some ten thousand
rows of each table.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from functools import reduce
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Final

import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
import pyarrow.parquet as pq
from xlsxwriter import Workbook

from gaittrack.cohort.people.tracking import Track
from gaittrack.cohort.release.allow_list import allowed
from gaittrack.cohort.release.dictionary import TABLES, TITLES
from gaittrack.cohort.release.field import Field, FieldType
from gaittrack.cohort.release.package_words import described
from gaittrack.cohort.tables.reason_cells import codes_in
from gaittrack.table_cells import safe_text

MOST_SHEET_ROWS: Final = 1_048_575
"""Rows of an XLSX sheet (2**20) less the header; larger tables are in CSV and Parquet only."""
MOST_SHEET_CELLS: Final = 1_000_000
"""Larger tables are not in the workbook either; own choice: writing more takes minutes, and opening
it too."""
_BATCH_CELLS: Final = 200_000
_BATCH_TABLES: Final = 100
"""Cells, and small tables, that are written at once; own choice: more take memory, fewer take time.
A table of one row takes as much as some thousand cells."""
_READ_ROWS: Final = 1 << 13
"""Rows that are read at once; own choice."""
PART_ROWS: Final = 5_000_000
"""Rows of a Parquet file; a larger table is a folder of such files. Own choice: some 50 MB."""
_TYPES: Final[Mapping[FieldType, pa.DataType]] = {
    "string": pa.string(),
    "number": pa.float64(),
    "integer": pa.int64(),
    "boolean": pa.bool_(),
}


@dataclass(slots=True)
class FilesOfTable:
    """What was written of a table.

    Attributes
    ----------
    parquet : list of str
        Paths in the folder: one, or those of its parts.
    """

    n_rows: int = 0
    parquet: list[str] = field(default_factory=list)

    def fits_sheet(self, name: str) -> bool:
        """Whether a workbook can hold the table, and be opened."""
        n_cells = self.n_rows * len(TABLES[name])
        return self.n_rows <= MOST_SHEET_ROWS and n_cells <= MOST_SHEET_CELLS


class TableFiles:
    """Tables that grow in a folder; leave it with ``with``, then all of them are whole.

    Attributes
    ----------
    written : dict of table name to FilesOfTable
        So far; in the order in which the tables were named.
    codes : set of str
        Codes of reasons that occur in what is written.
    """

    def __init__(
        self,
        folder: Path,
        names: Collection[str],
        said: Mapping[str, str],
        through: Callable[[pd.DataFrame], pd.DataFrame],
    ) -> None:
        """Begin the files of tables.

        Parameters
        ----------
        said : mapping of str to str
            Stands in each Parquet file.
        through : callable
            All rows pass it, some thousands at once, before they are written.
        """
        self._through = through
        self.folder = folder
        self.written = {name: FilesOfTable() for name in names}
        self.codes: set[str] = set()
        self._growing = {name: _Growing(folder, name, said, self.written[name]) for name in names}
        self._held: dict[str, list[pd.DataFrame]] = {name: [] for name in names}

    def __enter__(self) -> TableFiles:
        """Give the files."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Write what is held, unless something went wrong, and close the files."""
        with ExitStack() as stack:
            for growing in self._growing.values():
                stack.callback(growing.close)
            if error is None:
                for name in self.written:
                    self._write_held(name)
                    self._growing[name].begin()

    def add(self, name: str, table: pd.DataFrame) -> None:
        """Add rows to a table; those of many people are made ready together."""
        if table.empty:
            return
        self._held[name].append(table)
        self.written[name].n_rows += len(table)
        n_cells = sum(map(len, self._held[name])) * len(TABLES[name])
        if n_cells >= _BATCH_CELLS or len(self._held[name]) >= _BATCH_TABLES:
            self._write_held(name)

    def finish(self, name: str) -> None:
        """Write all that is held of a table, so that it can be read; nothing comes after."""
        self._write_held(name)
        self._growing[name].begin()
        self._growing[name].close()

    def codes_so_far(self) -> set[str]:
        """Return the codes of reasons of all rows that were added."""
        for name in self.written:
            self._write_held(name)
        return self.codes

    def _write_held(self, name: str) -> None:
        held, self._held[name] = self._held[name], []
        if not held:
            return
        rows = pd.concat(held, ignore_index=True) if len(held) > 1 else held[0]
        n_rows = max(1, _BATCH_CELLS // len(TABLES[name]))
        for start in range(0, len(rows), n_rows):
            self._write_rows(name, rows.iloc[start : start + n_rows])

    def _write_rows(self, name: str, rows: pd.DataFrame) -> None:
        plain = allowed(name, self._through(rows))
        for column in (each.name for each in TABLES[name] if each.is_reasons):
            self.codes.update(*map(codes_in, plain[column].dropna().unique()))
        self._growing[name].write(safe_text(plain))

    def read(self, name: str, columns: Collection[str], **wanted: Collection[str]) -> pa.Table:
        """Return rows of a finished table: those whose columns hold one of the words wanted.

        Each word is held once, however often it is said.
        """
        schema = pa.schema([_schema(name).field(column) for column in columns])
        found = [_each_word_once(pa.RecordBatch.from_pylist([], schema))]
        for batch in batches(self.folder, self.written[name], columns):
            for column, words in wanted.items():
                batch = batch.filter(pc.is_in(batch[column], pa.array(list(words))))
            found.append(_each_word_once(batch.select(list(columns))))
        return pa.Table.from_batches(found).unify_dictionaries()


def _each_word_once(batch: pa.RecordBatch) -> pa.RecordBatch:
    held = [each.dictionary_encode() if pa.types.is_string(each.type) else each for each in batch]
    return pa.RecordBatch.from_arrays(held, names=batch.schema.names)


def grouped(table: pa.Table, keys: Sequence[str]) -> Iterator[pd.DataFrame]:
    """Yield the rows of each group of a table, in the order of their keys, which are texts."""
    plain = {key: table[key].cast(pa.string()).fill_null("") for key in keys}
    found = pa.table(plain).group_by(list(keys), use_threads=False).aggregate([])
    for row in sorted(zip(*(found[key].to_pylist() for key in keys), strict=True)):
        is_own = [pc.equal(plain[key], word) for key, word in zip(keys, row, strict=True)]
        yield whole_texts(table.filter(reduce(pc.and_, is_own)))


def whole_texts(table: pa.Table) -> pd.DataFrame:
    """Return a table with its texts, empty where they are missing."""
    columns = {
        name: table[name].cast(pa.string()).fill_null("")
        if pa.types.is_dictionary(table[name].type)
        else table[name]
        for name in table.schema.names
    }
    found: pd.DataFrame = pa.table(columns).combine_chunks().to_pandas()
    return found


def batches(
    folder: Path, written: FilesOfTable, columns: Collection[str]
) -> Iterator[pa.RecordBatch]:
    """Yield a table that was written, some rows at a time."""
    for path in written.parquet:
        with pq.ParquetFile(folder / path) as file:
            yield from file.iter_batches(_READ_ROWS, columns=list(columns), use_threads=False)


def _schema(name: str) -> pa.Schema:
    return pa.schema([_column(each) for each in TABLES[name]], metadata={"title": TITLES[name]})


def _column(each: Field) -> pa.Field:
    said = {key: str(value) for key, value in described(each).items()}
    return pa.field(each.name, _TYPES[each.type], metadata=said)


class _Growing:
    """The files of one table."""

    def __init__(
        self, folder: Path, name: str, said: Mapping[str, str], written: FilesOfTable
    ) -> None:
        self.folder, self.name, self.written = folder, name, written
        plain = _schema(name)
        self.schema = plain.with_metadata({**plain.metadata, **said})
        self.n_in_part = 0
        self.parquet: pq.ParquetWriter | None = None
        self.csv: BinaryIO = (folder / f"{name}.csv").open("wb")
        self.csv.write(",".join(self.schema.names).encode() + b"\r\n")

    def write(self, table: pd.DataFrame) -> None:
        rows = pa.Table.from_pandas(table, schema=self.schema, preserve_index=False)
        self.begin().write_table(rows)
        self.csv.write(_csv_text(rows))
        self.n_in_part += len(rows)

    def begin(self) -> pq.ParquetWriter:
        """Return the Parquet file to write to; a table without rows has one with its head alone."""
        if self.parquet is None or self.n_in_part >= PART_ROWS:
            self.parquet = self._next_part()
        return self.parquet

    def _next_part(self) -> pq.ParquetWriter:
        """Begin a Parquet file; with a second one they move into a folder of the table's name."""
        first = f"{self.name}.parquet"
        if self.parquet is not None:
            self.parquet.close()
        if self.written.parquet == [first]:
            whole = (self.folder / first).rename(self.folder / f".{first}")
            (self.folder / first).mkdir()
            whole.rename(self.folder / _part_of(first, 1))
            self.written.parquet[0] = _part_of(first, 1)
        n = len(self.written.parquet) + 1
        self.written.parquet.append(first if n == 1 else _part_of(first, n))
        self.n_in_part = 0
        return pq.ParquetWriter(self.folder / self.written.parquet[-1], self.schema)

    def close(self) -> None:
        self.csv.close()
        if self.parquet is not None:
            self.parquet.close()


def _part_of(name: str, number: int) -> str:
    return f"{name}/part-{number:04d}.parquet"


def _csv_text(rows: pa.Table) -> bytes:
    """Return rows as RFC 4180 says: comma, CRLF, texts in quotes; point decimal, empty = missing.

    No text holds a line end: closed words, codes, and sentences of this program.
    """
    sink = pa.BufferOutputStream()
    pyarrow.csv.write_csv(rows, sink, pyarrow.csv.WriteOptions(include_header=False))
    text: bytes = sink.getvalue().to_pybytes()
    return text.replace(b"\n", b"\r\n")


def write_workbook(
    path: Path, folder: Path, tables: Mapping[str, FilesOfTable], track: Track
) -> None:
    """Write tables into one workbook, a sheet each."""
    book = Workbook(str(path), {"constant_memory": True, "tmpdir": str(path.parent)})
    book.set_properties({"author": "gaittrack"})
    n_rows = sum(each.n_rows for each in tables.values())
    for _ in track("Writing sheets", _written_rows(book, folder, tables), n_rows):
        pass
    book.close()


def _written_rows(
    book: Workbook, folder: Path, tables: Mapping[str, FilesOfTable]
) -> Iterator[int]:
    """Write the sheets row by row; whatever a text looks like, it is never a formula or a link."""
    for name, written in tables.items():
        sheet = book.add_worksheet(name)
        names = [each.name for each in TABLES[name]]
        for place, column in enumerate(names):
            sheet.write_string(0, place, column)
        writes = {
            "string": sheet.write_string,
            "boolean": sheet.write_boolean,
            "number": sheet.write_number,
            "integer": sheet.write_number,
        }
        write = [writes[each.type] for each in TABLES[name]]
        for row, cells in enumerate(_rows(batches(folder, written, names)), 1):
            for place, value in enumerate(cells):
                if value is not None:
                    write[place](row, place, value)
            yield row


def _rows(found: Iterator[pa.RecordBatch]) -> Iterator[tuple[Any, ...]]:
    for batch in found:
        yield from zip(*(column.to_pylist() for column in batch.columns), strict=True)
