"""Everything that is in doubt about a sheet, as one question.

In come a sheet and what stopped its reading, out comes the error that asks for that and for all
that would be asked next.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from gaittrack.errors import LayoutError
from gaittrack.part_names import part_of, with_part
from gaittrack.read.sheets.sheet_columns import Sheet, plain
from gaittrack.read.sheets.sheet_doubts import all_doubts
from gaittrack.read.sheets.sheet_question import ASKED, MOST_COLUMNS_LISTED, SeenColumn, ask
from gaittrack.read.tables.preamble import declared_unit

_TOLD = (
    "layout", "unit", "rate_hz", "side", "time_column", "frame_column", "percent_column",
    "cycle_column", "condition_column", "value_column", "header_numbers", "workbook_sheet",
    "block", "person_number", "trial_column", "trial", "header_row", "encoding", "delimiter",
    "decimal",
)  # fmt: skip
"""Keys of a map's [sheet] table that are handed on as they were told."""
KIND_OF: Final = {
    "workbook_sheet": "sheet",
    "block": "table",
    "person_number": "person",
    "trial": "trial",
}
"""What a recording is one of (``part_names``), by the key of a map that says which."""
_NEVER_ANGLES = ("time", "frame", "percent", "cycle_time", "event", "spread", "other_plane")
"""Roles of columns that are offered as angles in no case."""


def question(
    sheet: Sheet,
    doubts: Sequence[str],
    *,
    seen: Sequence[SeenColumn] | None = None,
    kind: str = "columns",
    doubtful: Collection[str] = (),
    words: Mapping[str, Sequence[str]] | None = None,
    keys: Mapping[str, object] | None = None,
    **unknown: object,
) -> LayoutError:
    """Return the question to ask.

    Parameters
    ----------
    doubts, seen, doubtful, words, keys, **unknown
        As :func:`what_is_asked`.
    """
    if seen is None and not any(column.is_wanted for column in seen_columns(sheet)):
        names = ", ".join(map(repr, sheet.labels[:MOST_COLUMNS_LISTED]))
        return LayoutError.of("no_column_of_angles", where=sheet.where, names=names)
    told = {**(keys or {}), **unknown}
    asked = what_is_asked(sheet, doubts, seen=seen, doubtful=doubtful, words=words, keys=told)
    error = ask(sheet.where, asked.doubts, asked.columns, asked.keys, kind=kind, words=asked.words)
    error.asked = asked
    return error


@dataclass(frozen=True, slots=True)
class Asked:
    """What a person must say of a sheet.

    Attributes
    ----------
    doubts : tuple of str
        In words.
    keys : mapping
        Keys of the map's [sheet] table as found, "?" where a person must say.
    words : mapping of key to words
        What may stand for a "?".
    """

    doubts: tuple[str, ...]
    columns: tuple[SeenColumn, ...]
    keys: Mapping[str, object]
    words: Mapping[str, Sequence[str]]


def what_is_asked(
    sheet: Sheet,
    doubts: Sequence[str],
    *,
    seen: Sequence[SeenColumn] | None = None,
    doubtful: Collection[str] = (),
    words: Mapping[str, Sequence[str]] | None = None,
    keys: Mapping[str, object],
) -> Asked:
    """Return everything that is in doubt.

    Parameters
    ----------
    doubts : sequence of str
        What stopped the reading.
    seen : sequence of SeenColumn, optional
        The columns or rows that may be angles; those of the sheet when None.
    doubtful : collection of str
        Names of columns whose sign or neutral a person must say.
    words : mapping of key to words, optional
        What may stand for a "?" of the [sheet] table.
    keys : mapping
        Keys of the map's [sheet] table to set, "?" where a person must say.
    """
    told = {**found(sheet), **sheet.pending, **keys}
    columns, more, is_unit_asked = all_doubts(
        seen_columns(sheet) if seen is None else list(seen),
        layout=told["layout"],
        unit=sheet.sheet_map.unit,
        header_unit=declared_unit(sheet.above, ("deg", "rad")),
    )
    columns = [
        replace(column, sign=None, zero_deg=None) if column.name in doubtful else column
        for column in columns
    ]
    if is_unit_asked:
        told["unit"] = ASKED
    if _lacks_rate(sheet, told["layout"]):
        more.append("frames per second (rate_hz, or --rate HZ)")
        told["rate_hz"] = ASKED
    said = tuple(dict.fromkeys((*sheet.in_doubt, *doubts, *more)))
    return Asked(said, tuple(columns), told, {**sheet.words, **(words or {})})


def which_recording(sheet: Sheet) -> LayoutError:
    """Return the question which of several recordings is meant, where nothing else is in doubt."""
    told = {key: getattr(sheet.sheet_map, key) for key in _TOLD}
    seen = [
        column for column in seen_columns(sheet) if sheet.sheet_map.columns and column.is_wanted
    ]
    doubts = list(sheet.in_doubt)
    for key in [key for key in sheet.pending if key in KIND_OF][:1]:
        named = {**part_of(sheet.where), KIND_OF[key]: len(sheet.words[key])}
        example = with_part(Path(sheet.where), named).name
        doubts.append(f"or give one by its name, as {example}")
    return ask(sheet.where, doubts, seen, told | sheet.pending, words=sheet.words)


def seen_columns(sheet: Sheet) -> list[SeenColumn]:
    """Return the columns as they may be asked about, with what their names or a map say."""
    numeric = [sheet.is_numeric(c) and c not in sheet.key_columns for c in range(len(sheet.labels))]
    has_angle = sheet.first("angle") is not None
    return [_seen(sheet, c, is_numeric, has_angle) for c, is_numeric in enumerate(numeric)]


def _seen(sheet: Sheet, column: int, is_numeric: bool, has_angle: bool) -> SeenColumn:
    name, label = sheet.spelt[column], sheet.labels[column]
    cells = sheet.texts(column) if is_numeric else ()
    words = " ".join(word for word in (name.side, name.joint) if word)
    role = "" if name.role in ("unknown", "unclear") else name.role.replace("_", " ")
    roles = ("angle", "unclear", "value")
    may_be = name.role in roles if has_angle else name.role not in _NEVER_ANGLES
    guess = words or role or ("" if is_numeric else "words")
    is_wanted = is_numeric and may_be
    seen = sheet.seen(label, name, cells, guess=guess, is_wanted=is_wanted)
    return _as_told(sheet, seen) if sheet.sheet_map.columns else seen


def _as_told(sheet: Sheet, seen: SeenColumn) -> SeenColumn:
    """Return a column as the map says; the columns it does not name are not wanted."""
    for told in sheet.sheet_map.columns:
        if plain(told.name) == plain(seen.name):
            return replace(
                seen,
                joint=told.joint,
                side=told.side,
                sign=told.sign,
                zero_deg=told.zero_deg,
                cycle=told.cycle,
                condition=told.condition,
                is_mean=told.mean,
                is_wanted=True,
            )
    return replace(seen, is_wanted=False)


def _lacks_rate(sheet: Sheet, layout: object) -> bool:
    """Whether nothing tells the rate of angles that run, or may run, over time."""
    is_told = sheet.rate_hz is not None or sheet.declared_hz is not None
    has_time = sheet.sheet_map.time_column is not None or sheet.first("time") is not None
    return layout in (ASKED, "time_series") and not (is_told or has_time)


def found(sheet: Sheet) -> dict[str, object]:
    """Return the map's [sheet] keys as found or told."""
    table = sheet.table
    keys: dict[str, object] = {key: getattr(sheet.sheet_map, key) for key in _TOLD}
    keys["rate_hz"] = sheet.rate_hz
    if not sheet.pending.keys() & {"workbook_sheet", "block"}:
        keys["header_row"] = None if table.header is None else table.header + 1
    keys["decimal"] = table.decimal
    if table.encoding != "workbook":
        keys["delimiter"] = table.delimiter
        keys["encoding"] = table.encoding
    return keys
