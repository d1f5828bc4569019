"""Write the tables of an export as one folder: CSV, Parquet, XLSX, descriptor and README.

In come tables, an anonymity report and what to say of them, out comes a folder that is whole or not
there. Only columns of the dictionary are written; text can never become a formula.
"""

from __future__ import annotations

import csv
import json
import re
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
from xlsxwriter import Workbook

from gaittrack.cohort.dictionary import PRIMARY_KEYS, TABLES, TITLES, allowed
from gaittrack.cohort.field import Field
from gaittrack.cohort.tracking import Track, untracked
from gaittrack.errors import StudyError

PROFILES: Final = "https://datapackage.org/profiles/2.0"
"""Data Package version 2; the descriptor names its profile by address, nothing is fetched."""
WORKBOOK: Final = "cohort.xlsx"
MOST_SHEET_ROWS: Final = 1_048_575
"""Rows of an XLSX sheet (2**20) less the header; larger tables are in CSV and Parquet only."""
NOT_IN_WORKBOOK: Final = ("curves",)
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "\0")
_CONTROL: Final = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class PackageFacts:
    """What an export says of itself.

    Attributes
    ----------
    name : str
        Of the package: lower case letters, digits, hyphens.
    release : str
    software_version, settings_hash, notice : str
    least_alike, smallest_group, n_groups_below : int
        From the anonymity report.
    alike_by : tuple of str
        What the people of a group share.
    selection : str
        Of people and visits, in words; empty when everything is in it.
    override_reason : str
        Why it was exported although groups are too small; empty when none is.
    """

    name: str
    release: str
    software_version: str
    settings_hash: str
    notice: str
    least_alike: int
    smallest_group: int
    n_groups_below: int
    alike_by: tuple[str, ...]
    selection: str = ""
    override_reason: str = ""


def write_package(
    out: Path,
    tables: Mapping[str, pd.DataFrame],
    facts: PackageFacts,
    track: Track = untracked,
) -> None:
    """Write an export.

    Parameters
    ----------
    out : Path
        New, or an empty folder.
    tables : mapping of table name to DataFrame
        Columns that the dictionary does not have are left out.
    facts : PackageFacts
    track : Track

    Raises
    ------
    StudyError
        The folder is not empty or cannot be written; then nothing is there.
    """
    ready = {name: safe_text(allowed(name, table)) for name, table in tables.items()}
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
        descriptor = json.dumps(_descriptor(ready, in_sheets, facts), indent=1, allow_nan=False)
        _write_text(folder / "datapackage.json", descriptor + "\n")
        _write_text(folder / "README.md", _readme(ready, in_sheets, facts))


def refuse_filled(out: Path) -> None:
    """Refuse a target that is a file or holds something.

    Raises
    ------
    StudyError
        Nothing is overwritten.
    """
    if out.is_symlink() or out.is_file() or (out.is_dir() and any(out.iterdir())):
        raise StudyError(
            "There is something already.",
            where=str(out),
            action="Name a new or empty folder for the export.",
        )


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
        raise StudyError(
            f"The export cannot be written ({error.strerror or error}).",
            where=str(out),
            action="Check the permissions and the room on the disk; nothing was written.",
        ) from error


def safe_text(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table whose text cells no spreadsheet takes for a formula.

    Numbers stay numbers, also negative ones. Text that begins with ``= + - @``, a tab, a line end
    or NUL gets an apostrophe before it; control characters are taken out.
    """
    safe = table.copy()
    for name in safe.columns:
        if isinstance(safe[name].dtype, pd.StringDtype):
            safe[name] = safe[name].map(_escaped, na_action="ignore").astype("string")
    return safe


def _escaped(text: str) -> str:
    starts = text.startswith(_FORMULA_STARTS) or text.lstrip().startswith(_FORMULA_STARTS[:4])
    return _CONTROL.sub("", f"'{text}" if starts else text)


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
    described = {field.name: field for field in TABLES[name]}
    schema = pa.schema(
        [
            column.with_metadata({k: str(v) for k, v in _described(described[column.name]).items()})
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


def dictionary_rows(tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Return the data dictionary: one row per table and column."""
    rows = [
        {
            "table": name,
            "column": field.name,
            "type": field.type,
            "definition": field.definition,
            "unit_ucum": field.unit,
            "source": field.source,
            "floor": field.floor,
            "levels": "; ".join(field.levels),
        }
        for name in tables
        for field in TABLES[name]
    ]
    return pd.DataFrame(rows, dtype="string").replace("", pd.NA)


def _described(field: Field) -> dict[str, Any]:
    found: dict[str, Any] = {"name": field.name, "type": field.type}
    found["description"] = field.definition
    found |= {
        key: getattr(field, key) for key in ("unit", "source", "floor") if getattr(field, key)
    }
    return found


def _schema(name: str) -> dict[str, Any]:
    fields = []
    for field in TABLES[name]:
        levels = {"constraints": {"enum": list(field.levels)}} if field.levels else {}
        fields.append(_described(field) | levels)
    schema: dict[str, Any] = {"$schema": f"{PROFILES}/tableschema.json", "fields": fields}
    schema["missingValues"] = [""]
    if name in PRIMARY_KEYS:
        schema["primaryKey"] = list(PRIMARY_KEYS[name])
    if TABLES[name][0].name == "export_id" and name != "people":
        reference = {"resource": "people", "fields": ["export_id"]}
        schema["foreignKeys"] = [{"fields": ["export_id"], "reference": reference}]
    return schema


_TYPES: Final = {
    "csv": "text/csv",
    "parquet": "application/vnd.apache.parquet",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def _resource(name: str, path: str, **more: Any) -> dict[str, Any]:
    ending = path.rpartition(".")[2]
    suffix = "" if ending == "csv" else f"-{ending}"
    encoding = {"encoding": "utf-8"} if ending == "csv" else {}
    return {
        "$schema": f"{PROFILES}/dataresource.json",
        "name": f"{name.replace('_', '-')}{suffix}" if suffix else name,
        "type": "table",
        "path": path,
        "title": TITLES[name],
        "format": ending,
        "mediatype": _TYPES[ending],
        **encoding,
        **more,
        "schema": _schema(name),
    }


def _descriptor(
    tables: Mapping[str, pd.DataFrame],
    in_sheets: Mapping[str, pd.DataFrame],
    facts: PackageFacts,
) -> dict[str, Any]:
    sheets = {name: {"dialect": {"sheetName": name}} for name in in_sheets}
    return {
        "$schema": f"{PROFILES}/datapackage.json",
        "name": facts.name,
        "title": "Walking with and without an ankle-foot orthosis: a cohort",
        "description": facts.notice,
        "version": facts.software_version,
        "resources": [
            *(_resource(name, f"{name}.csv") for name in tables),
            *(_resource(name, f"{name}.parquet") for name in tables),
            *(_resource(name, WORKBOOK, **sheets[name]) for name in in_sheets),
        ],
        "gaittrack": {key: value for key, value in asdict(facts).items() if key != "notice"},
    }


def _readme(
    tables: Mapping[str, pd.DataFrame],
    in_sheets: Mapping[str, pd.DataFrame],
    facts: PackageFacts,
) -> str:
    listed = [f"- `{name}` ({len(table)} rows): {TITLES[name]}." for name, table in tables.items()]
    left_out = [name for name in tables if name not in in_sheets]
    without = f" but {', '.join(left_out)} (long for a sheet)" if left_out else ""
    alike = (
        f"Fewest people who share {', '.join(facts.alike_by).replace('_', ' ')}: "
        f"{facts.smallest_group}; asked for: {facts.least_alike} ({facts.release} release)."
    )
    if facts.override_reason:
        alike += (
            f" {facts.n_groups_below} groups are smaller. Exported nevertheless; reason given: "
            f"{' '.join(facts.override_reason.split())}"
        )
    selected = f"Only a part of the study was selected: {facts.selection}."
    parts = [
        "# Cohort export",
        facts.notice,
        "## Tables",
        f"Each table as `.csv` (UTF-8) and `.parquet`; all in `{WORKBOOK}`{without}. What every "
        "column means, with unit and source: `dictionary.csv` and `datapackage.json`.",
        "\n".join(listed),
        "## People",
        "Ids are random and made for this export only; dates, names, files and free text are left "
        "out. The data stay personal data: a person's walk can tell who it is. Do not try to find "
        "out who anybody is, and do not pass the data on under other terms.",
        "What was found at an examination stands in `visits`. Height, mass and time since onset "
        "can be seen or asked: they are in the table `bodies`, in bands, only if that was asked "
        "for, and count among what people share.",
        *([selected] if facts.selection else []),
        alike,
        "## How it was made",
        f"gaittrack {facts.software_version}; settings {facts.settings_hash}. Read speed "
        "beside every angle: speed alone changes them. An empty cell is a missing value; the "
        "reason stands in `missing_reason`.",
    ]
    return "\n\n".join(parts) + "\n"
