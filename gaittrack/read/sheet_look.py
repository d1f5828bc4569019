"""A sheet as it is shown to whoever says what its columns are.

In comes a file with the laboratory's maps; out goes a :class:`SheetLook`: its columns with their
first numbers and the guess about each, and what only a person can know.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from gaittrack.errors import GaitTrackError, LayoutError, SheetDoubtError
from gaittrack.lab_map import LabMap
from gaittrack.part_names import on_disk
from gaittrack.plain_files import bytes_of
from gaittrack.read.in_child import WORKER
from gaittrack.read.sheets.angle_sheet import open_file, read_open
from gaittrack.read.sheets.sheet_asking import Asked, what_is_asked
from gaittrack.read.sheets.sheet_question import SeenColumn
from gaittrack.read.sheets.which_map import map_for_table
from gaittrack.read.tables.table_sniffing import Table
from gaittrack.trial import Provenance

FIRST_NUMBERS = 4
"""So many numbers of each column are shown; our choice."""
ROWS_ABOVE, ROWS_BELOW = 8, 5
"""So many rows are shown above the first numbers, and from them on; our choice."""
_LAYOUT = "layout: "


@dataclass(frozen=True, slots=True)
class SheetLook:
    """What is seen of a sheet.

    Attributes
    ----------
    names : tuple of str
        The columns, by which a map knows the sheet.
    columns : tuple of SeenColumn
        Those and the rows that may be angles; only their first numbers.
    doubts : tuple of str
        What could not be decided, in words; empty where it can be read as it is.
    keys : mapping
        Keys of a map's [sheet] table; "?" where a person must say.
    words : mapping of key to words
        What may stand for a "?".
    rows : tuple of (int, tuple of str)
        Around the first numbers as they stand in the file, each with its number there.
    header : int
        Number of the row that names the columns; 0 where none does.
    """

    names: tuple[str, ...]
    columns: tuple[SeenColumn, ...]
    doubts: tuple[str, ...]
    keys: Mapping[str, object]
    words: Mapping[str, Sequence[str]]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    header: int


def look_at_sheet(path: Path, maps: Sequence[LabMap]) -> SheetLook:
    """Look at a sheet, in the worker process.

    Raises
    ------
    BadFileError
        It cannot be read as a sheet.
    """
    look: SheetLook = WORKER.call(look_here, str(path.absolute()), tuple(maps), where=path.name)
    return look


def look_here(path: str, maps: Sequence[LabMap]) -> SheetLook:
    """Look at a sheet, in this process.

    Raises
    ------
    BadFileError
        As in :func:`look_at_sheet`.
    """
    place = Path(path)
    content = bytes_of(on_disk(place))
    try:
        lab_map = map_for_table(place, content, maps).lab_map
    except LayoutError:
        lab_map = LabMap()
    sheet = open_file(place, content, lab_map, None)
    doubts: tuple[str, ...] = ()
    asked: object = None
    try:
        read_open(sheet, Provenance(place.name, "", ""))
    except SheetDoubtError as error:
        asked, doubts = error.asked, (error.what,)
    except GaitTrackError as error:
        doubts = (error.what,)
    if not isinstance(asked, Asked):
        layout = next((s for s in sheet.steps if s.startswith(_LAYOUT)), f"{_LAYOUT}?")
        told = sheet.sheet_map.layout or layout.removeprefix(_LAYOUT).replace(" ", "_")
        asked = what_is_asked(sheet, [], keys={"layout": told})
    columns = tuple(replace(one, values=one.values[:FIRST_NUMBERS]) for one in asked.columns)
    doubts = tuple(asked.doubts) or doubts
    table = sheet.table
    header = 0 if table.header is None else table.header + 1
    keys, words = dict(asked.keys), dict(asked.words)
    return SheetLook(sheet.labels, columns, doubts, keys, words, _first_rows(table), header)


def _first_rows(table: Table) -> tuple[tuple[int, tuple[str, ...]], ...]:
    start = max(0, table.first - ROWS_ABOVE)
    shown = enumerate(table.rows[start : table.first + ROWS_BELOW], start + 1)
    return tuple((number, tuple(row)) for number, row in shown if any(row))
