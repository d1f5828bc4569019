"""Write the tables of an export as one folder: CSV, Parquet, XLSX, descriptor and README.

In come tables, an anonymity report and what to say of them, out comes a folder that is whole or not
there. Only columns of the dictionary are written; text can never become a formula.
"""

from __future__ import annotations

import csv
import json
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
from xlsxwriter import Workbook

from gaittrack.cohort.allow_list import allowed, reasons_table
from gaittrack.cohort.dictionary import TABLES, TITLES
from gaittrack.cohort.package_words import (
    WORKBOOK,
    PackageFacts,
    described,
    descriptor,
    dictionary_rows,
    readme,
)
from gaittrack.cohort.release.finishing import PackageRelease, finish
from gaittrack.cohort.tracking import Track, untracked
from gaittrack.errors import StudyError
from gaittrack.table_cells import safe_text

MOST_SHEET_ROWS: Final = 1_048_575
"""Rows of an XLSX sheet (2**20) less the header; larger tables are in CSV and Parquet only."""
NOT_IN_WORKBOOK: Final = ("curves",)


def write_package(
    out: Path,
    tables: Mapping[str, pd.DataFrame],
    facts: PackageFacts,
    track: Track = untracked,
    *,
    release: PackageRelease,
) -> tuple[dict[str, int], str]:
    """Write an export.

    Parameters
    ----------
    out : Path
        New, or an empty folder.
    tables : mapping of table name to DataFrame
        Columns that the dictionary does not have are left out; the table ``reasons`` is added.

    Returns
    -------
    dict of table name to int
        Rows written.
    str
        Hash of the export.

    Raises
    ------
    StudyError
        The folder is not empty or cannot be written; then nothing is there.
    """
    plain = {name: allowed(name, table) for name, table in tables.items()}
    plain |= {"reasons": allowed("reasons", reasons_table(plain))}
    ready = {name: safe_text(table) for name, table in plain.items()}
    in_sheets = {
        name: table
        for name, table in ready.items()
        if name not in NOT_IN_WORKBOOK and len(table) <= MOST_SHEET_ROWS
    }
    with _whole_folder(out) as folder:
        for name, table in ready.items():
            _write_csv(folder / f"{name}.csv", table)
            _write_parquet(folder / f"{name}.parquet", table, name, facts)
        _write_workbook(folder / WORKBOOK, in_sheets, track)
        _write_csv(folder / "dictionary.csv", safe_text(dictionary_rows(ready)))
        text = json.dumps(descriptor(ready, in_sheets, facts), indent=1, allow_nan=False)
        _write_text(folder / "datapackage.json", text + "\n")
        _write_text(folder / "README.md", readme(ready, in_sheets, facts))
        own = finish(folder, release)
    return {name: len(table) for name, table in ready.items()}, own


def refuse_filled(out: Path) -> None:
    """Refuse a target that is a file or holds something.

    Raises
    ------
    StudyError
        Nothing is overwritten.
    """
    if out.is_symlink() or out.is_file() or (out.is_dir() and any(out.iterdir())):
        raise StudyError.of("export_place_taken", where=out)


@contextmanager
def _whole_folder(out: Path) -> Iterator[Path]:
    """Give a folder beside the target that takes its place when all went well."""
    refuse_filled(out)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        part = Path(tempfile.mkdtemp(prefix=f".{out.name}.", suffix=".part", dir=out.parent))
        try:
            yield part
            if out.is_dir():
                out.rmdir()
            part.rename(out)
        finally:
            shutil.rmtree(part, ignore_errors=True)
    except OSError as error:
        raise StudyError.of(
            "export_cannot_written", where=out, why=error.strerror or error
        ) from error


def _write_text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="")


def _write_csv(path: Path, table: pd.DataFrame) -> None:
    """Write as RFC 4180 says: comma, CRLF, quotes where needed; point decimal, empty = missing."""
    plain = table.copy()
    for name in plain.columns:
        if plain[name].dtype == "boolean":
            plain[name] = plain[name].map({True: "true", False: "false"}).astype("string")
    text = plain.to_csv(index=False, lineterminator="\r\n", quoting=csv.QUOTE_MINIMAL)
    _write_text(path, text)


def _write_parquet(path: Path, table: pd.DataFrame, name: str, facts: PackageFacts) -> None:
    columns = pa.Table.from_pandas(table, preserve_index=False)
    fields = {field.name: field for field in TABLES[name]}
    schema = pa.schema(
        [
            column.with_metadata({k: str(v) for k, v in described(fields[column.name]).items()})
            for column in columns.schema
        ],
        metadata={
            "title": TITLES[name],
            "software_version": facts.software_version,
            "settings_hash": facts.settings_hash,
        },
    )
    pq.write_table(columns.cast(schema), path)


def _write_workbook(path: Path, tables: Mapping[str, pd.DataFrame], track: Track) -> None:
    book = Workbook(str(path), {"constant_memory": True})
    book.set_properties({"author": "gaittrack"})
    n_rows = sum(len(table) for table in tables.values())
    for _ in track("Writing sheets", _written_rows(book, tables), n_rows):
        pass
    book.close()


def _written_rows(book: Workbook, tables: Mapping[str, pd.DataFrame]) -> Iterator[int]:
    """Write the sheets row by row; whatever a text looks like, it is never a formula or a link."""
    for name, table in tables.items():
        sheet = book.add_worksheet(name)
        for place, column in enumerate(table.columns):
            sheet.write_string(0, place, str(column))
        write = [
            sheet.write_string
            if isinstance(kind, pd.StringDtype)
            else sheet.write_boolean
            if kind == "boolean"
            else sheet.write_number
            for kind in table.dtypes
        ]
        for row, cells in enumerate(table.itertuples(index=False, name=None), 1):
            for place, value in enumerate(cells):
                if not _is_missing(value):
                    write[place](row, place, value)
            yield row


def _is_missing(value: Any) -> bool:
    return value is pd.NA or value is None or bool(value != value)
