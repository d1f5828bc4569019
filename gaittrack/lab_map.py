"""A laboratory's own map: which of its labels and columns mean what.

A small TOML file, written once and given with ``--map``. Everything in it is optional; a laboratory
may have several, and a file takes the one that fits it (``map_fit.py``)::

    standing_only = ["left_knee_medial", "right_knee_medial"]   # not missed in a walk

    [fits]                       # all that is said must hold; else the names alone decide
    labels = ["STICK"]           # labels or columns that the file holds
    files = ["room_b_*"]         # names of files, * for anything
    device = ["ROOM B"]          # what recorded the file, as its header says it
    prefix = "B_"                # stands before each label of [landmarks]

    [landmarks]                  # landmark = label in the file
    left_heel = "MARK 06"

    [sheet]                      # how to read a joint-angle sheet
    layout = "time_series"       # or 0-100 % curves: "cycles" (one column each),
                                 # "cycles_in_rows", "cycles_stacked" (one below the other)
    delimiter = ";"
    decimal = ","
    encoding = "cp1252"
    header_row = 3               # 1-based
    unit = "deg"                 # or "rad"
    length_unit = "mm"           # or "cm", "m": marker text tables
    rate_hz = 100.0
    time_column = "t"            # or: frame_column = "Frame"
    percent_column = "pct"       # cycles: the column that runs from 0 to 100
    cycle_column = "stride"      # cycles_stacked: which cycle a row belongs to; or "none"
    condition_column = "worn"    # cycles_stacked: which condition; or "none"
    workbook_sheet = "walk 1"
    block = 1                    # which of several tables of numbers, counted from the top
    person_number = 1            # which of several people, by their order in the sheet
    trial_column = "recording"   # time series of several recordings: the column that names them
    trial = "3"                  # and which one it is; without such a column, by order
    side = "left"                # of all columns that name none
    value_column = "angle"       # cycles_stacked, the joint in a column of its own
    header_numbers = "points"    # cycles_in_rows, columns 1 to 100: or "percent"

    [[columns]]                  # one table per column that is wanted
    name = "ANK_L"               # cycles_in_rows: the words at the row's start
    joint = "ankle"              # or "ignore": as if this table were not there
    side = "left"
    sign = 1                     # -1 when the sheet counts plantarflexion positive
    zero_deg = 0.0               # 90 when the sheet calls a right-angled ankle 90
    cycle = "1"                  # cycles only: which cycle this column is
    cycle_time_s = 1.12          # cycles only
    toe_off_percent = 61.0       # cycles only
    mean = false                 # cycles only: the column is an average curve
    condition = "with brace"

    [[event_columns]]            # time series only: a column that is not 0 at the event
    name = "IC_L"
    side = "left"
    kind = "initial_contact"

"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, cast

from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_unknown
from gaittrack.vocabulary import EVENT_KINDS, JOINTS, LANDMARKS, SIDES, EventKind, Joint, Side

_KINDS: Mapping[type, str] = {
    str: 'words in quotation marks: "words"',
    bool: "true or false",
    float: "a number with a decimal point, without a unit",
    int: "a whole number, without a unit",
}
"""How values are asked for, the first that is allowed."""
NOT_WANTED = "ignore"
"""In the place of a joint: the column is not wanted."""
NO_COLUMN = "none"
"""In the place of a cycle or condition column: there is none."""
_TABLES = {"standing_only", "fits", "landmarks", "sheet", "columns", "event_columns"}
LAYOUTS = ("time_series", "cycles", "cycles_in_rows", "cycles_stacked")
"""Layouts of joint-angle sheets."""


@dataclass(frozen=True, slots=True)
class ColumnMap:
    """What one column of a joint-angle sheet holds; fields as in the module's example."""

    name: str
    joint: Joint
    side: Side
    sign: float = 1.0
    zero_deg: float = 0.0
    cycle: str = ""
    cycle_time_s: float = math.nan
    toe_off_percent: float = math.nan
    mean: bool = False
    condition: str = ""


@dataclass(frozen=True, slots=True)
class EventColumnMap:
    """A column of a time-series sheet that is not zero where an event is."""

    name: str
    side: Side
    kind: EventKind


@dataclass(frozen=True, slots=True)
class SheetMap:
    """How to read a joint-angle sheet; None means "find by looking"."""

    layout: str | None = None
    delimiter: str | None = None
    decimal: str | None = None
    encoding: str | None = None
    header_row: int | None = None
    unit: str | None = None
    length_unit: str | None = None
    rate_hz: float | None = None
    time_column: str | None = None
    frame_column: str | None = None
    percent_column: str | None = None
    cycle_column: str | None = None
    condition_column: str | None = None
    workbook_sheet: str | None = None
    block: int | None = None
    person_number: int | None = None
    trial_column: str | None = None
    trial: str | None = None
    side: Side | None = None
    value_column: str | None = None
    header_numbers: str | None = None
    columns: tuple[ColumnMap, ...] = ()
    event_columns: tuple[EventColumnMap, ...] = ()


_DEVICE = "device: "


def device_name(words: str) -> str:
    """Return the name under which a file is known by the device that its header names."""
    return f"{_DEVICE}{' '.join(words.split())}"


def is_device(name: str) -> bool:
    """Tell whether a name is of a device, not of a label or column."""
    return name.startswith(_DEVICE)


def name_of_device(name: str) -> str:
    """Return the words of a device from :func:`device_name`."""
    return name.removeprefix(_DEVICE)


@dataclass(frozen=True, slots=True)
class Fits:
    """Which files a map is for, where the names in it do not tell; all that is given must hold.

    Attributes
    ----------
    labels : tuple of str
        Labels or columns that the file holds, and :func:`device_name` of what recorded it.
    files : tuple of str
        Patterns of file names; one of them is enough.
    """

    labels: tuple[str, ...] = ()
    files: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LabMap:
    """A laboratory's own names: landmark → label, and how its sheets are laid out.

    Attributes
    ----------
    path : str
        Of its file.
    name : str
        Under which a study keeps it; empty for one that was given for this measuring.
    standing_only : frozenset of str
        Landmarks whose markers are worn only while standing.
    """

    landmarks: Mapping[str, str] = field(default_factory=dict)
    sheet: SheetMap = field(default_factory=SheetMap)
    path: str = ""
    name: str = ""
    fits: Fits = field(default_factory=Fits)
    standing_only: frozenset[str] = frozenset()

    @property
    def title(self) -> str:
        """What people call it."""
        return self.name or Path(self.path).stem or "map"


GivenMap = LabMap | os.PathLike[str] | str
GivenMaps = GivenMap | Iterable[GivenMap] | None
"""A map, the path of its file, or several of them."""


def lab_maps_of(given: GivenMaps) -> tuple[LabMap, ...]:
    """Return maps that are given as they are, by the paths of their files, or not at all.

    Raises
    ------
    LayoutError
        As :func:`read_lab_map`.
    """
    if given is None:
        return ()
    several = [given] if isinstance(given, LabMap | os.PathLike | str) else list(given)
    return tuple(each if isinstance(each, LabMap) else read_lab_map(Path(each)) for each in several)


def read_lab_map(path: Path) -> LabMap:
    """Read a map file.

    Parameters
    ----------
    path : Path
        TOML file as in the example at the top of this module.

    Raises
    ------
    LayoutError
        The file is missing, is not TOML, or holds a key or word that is not known; the message
        lists what is allowed.
    """
    table = read_toml(path, "map file", "Give a TOML file.")
    where = path.name
    refuse_unknown(table, _TABLES, where)
    fits = dict(table.get("fits", {}))
    prefix = str(fits.pop("prefix", ""))
    landmarks = {key: f"{prefix}{value}" for key, value in table.get("landmarks", {}).items()}
    refuse_unknown(landmarks, set(LANDMARKS), f"{where} [landmarks]")
    standing_only = table.get("standing_only", [])
    _texts(standing_only, f"{where} standing_only")
    refuse_unknown(dict.fromkeys(standing_only), set(LANDMARKS), f"{where} standing_only")
    sheet = _fields_of(SheetMap, table.get("sheet", {}), f"{where} [sheet]")
    _one_of(sheet.get("layout"), (None, *LAYOUTS), f"{where} [sheet] layout")
    _one_of(sheet.get("unit"), (None, "deg", "rad"), f"{where} [sheet] unit")
    _one_of(sheet.get("length_unit"), (None, "m", "cm", "mm"), f"{where} [sheet] length_unit")
    _one_of(sheet.get("decimal"), (None, ".", ","), f"{where} [sheet] decimal")
    _one_of(sheet.get("side"), (None, *SIDES), f"{where} [sheet] side")
    _one_of(
        sheet.get("header_numbers"), (None, "percent", "points"), f"{where} [sheet] header_numbers"
    )
    sheet["columns"] = tuple(
        _column(row, f"{where} [[columns]] {number}")
        for number, row in enumerate(table.get("columns", ()), 1)
        if not (isinstance(row, Mapping) and row.get("joint") == NOT_WANTED)
    )
    sheet["event_columns"] = tuple(
        _event_column(row, f"{where} [[event_columns]] {number}")
        for number, row in enumerate(table.get("event_columns", ()), 1)
    )
    return LabMap(
        landmarks=_each_once(landmarks, f"{where} [landmarks]"),
        sheet=SheetMap(**sheet),
        path=str(path),
        fits=_fits(fits, f"{where} [fits]"),
        standing_only=frozenset(standing_only),
    )


def _fits(table: Mapping[str, Any], where: str) -> Fits:
    refuse_unknown(table, {"labels", "files", "prefix", "device"}, where)
    for key, value in table.items():
        _texts(value, f"{where} {key}")
    labels = (*table.get("labels", ()), *map(device_name, table.get("device", ())))
    return Fits(labels, tuple(table.get("files", ())))


def _texts(value: object, where: str) -> None:
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        raise LayoutError.of(
            "wrong_kind", where=where, value=value, kind='a list of words: ["one", "two"]'
        )


def _each_once(landmarks: Mapping[str, str], where: str) -> dict[str, str]:
    """Return landmarks of which no two have one label."""
    labels = list(landmarks.values())
    if twice := sorted({label for label in labels if labels.count(label) > 1}):
        raise LayoutError.of("label_twice_in_map", where=where, twice=", ".join(twice))
    return dict(landmarks)


def _column(row: Mapping[str, Any], where: str) -> ColumnMap:
    values = _fields_of(ColumnMap, row, where)
    _needs(values, ("name", "joint", "side"), where)
    _one_of(values["joint"], JOINTS, f"{where} joint")
    _one_of(values["side"], SIDES, f"{where} side")
    return ColumnMap(**values)


def _event_column(row: Mapping[str, Any], where: str) -> EventColumnMap:
    values = _fields_of(EventColumnMap, row, where)
    _needs(values, ("name", "side", "kind"), where)
    _one_of(values["side"], SIDES, f"{where} side")
    _one_of(values["kind"], EVENT_KINDS, f"{where} kind")
    return EventColumnMap(**values)


def _fields_of(kind: type[Any], row: object, where: str) -> dict[str, Any]:
    if not isinstance(row, Mapping):
        raise LayoutError.of("no_table_in_map", where=where)
    refuse_unknown(row, {item.name for item in fields(kind)} - {"columns", "event_columns"}, where)
    given = dict(cast(Mapping[str, Any], row))
    if str(given.get("layout")).startswith("cycles") and given.get("rate_hz") == "?":
        del given["rate_hz"]
    for item in fields(kind):
        if item.name in given:
            place = f"{where} {item.name}"
            given[item.name] = _of_kind(given[item.name], str(item.type), place)
    return given


def _of_kind(value: object, annotation: str, where: str) -> object:
    """Return a value as the kind that is needed, a number in quotation marks too; or refuse it."""
    if value == "?":
        raise LayoutError.of("map_still_holds_question_mark", where=where)
    words = annotation.split()
    if isinstance(value, str) and re.fullmatch(r"-?\d+(\.\d+)?", value):
        if "float" in words:
            return float(value)
        if "int" in words and value.isdigit():
            return int(value)
    allowed: tuple[type, ...] = (str,)
    if "bool" in words:
        allowed = (bool,)
    elif "int" in words:
        allowed = (int,)
    elif "float" in words:
        allowed = (int, float)
    elif where.endswith((" cycle", " trial")) and type(value) is int:
        return str(value)
    wrong_flag = isinstance(value, bool) and allowed != (bool,)
    if value is not None and (wrong_flag or not isinstance(value, allowed)):
        kind = next(words for one, words in _KINDS.items() if one in allowed)
        raise LayoutError.of("wrong_kind", where=where, value=value, kind=kind)
    return value


def _needs(values: Mapping[str, Any], keys: tuple[str, ...], where: str) -> None:
    missing = [key for key in keys if key not in values]
    if missing:
        raise LayoutError.of("keys_missing", where=where, missing=", ".join(missing))


def _one_of(value: object, allowed: tuple[object, ...], where: str) -> None:
    if value not in allowed:
        words = ", ".join(str(word) for word in allowed if word is not None)
        raise LayoutError.of("word_not_known", where=where, value=value, words=words)
