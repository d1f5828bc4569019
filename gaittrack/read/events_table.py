"""Events given in a table of their own, with ``--events``.

In comes a CSV file, one event a row; out go events of source ``file``. Every fault names its row.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import cast, get_args

from gaittrack.errors import BadFileError, DataError, LayoutError
from gaittrack.plain_files import MOST_TYPED_BYTES, bytes_of
from gaittrack.read.tables.column_names import read_column_name
from gaittrack.read.tables.number_cells import find_decimal, is_missing, to_number
from gaittrack.read.tables.row_splitting import split_rows
from gaittrack.read.tables.text_decoding import decode_text
from gaittrack.trial import Event
from gaittrack.vocabulary import CONTACT_TYPES, ContactType, EventKind, Side


def read_events_csv(
    path: Path, *, rate_hz: float | None = None, first_frame: int = 1, sha256: str = ""
) -> tuple[Event, ...]:
    """Read a table of events.

    Parameters
    ----------
    path : Path
        CSV with a header: ``time_s`` or ``time_ms`` from the first stored frame, or ``frame``;
        ``side``; ``kind`` (initial contact, toe-off, as spelt); optionally ``contact``.
    rate_hz : float, optional
        Needed for a frame column.
    first_frame : int
        Number of the first stored frame, for a frame column.
    sha256 : str
        Hash that the bytes have, where it is known.

    Returns
    -------
    tuple of Event
        In time order.

    Raises
    ------
    BadFileError
        The file cannot be opened, or its bytes are others.
    LayoutError
        A column is missing.
    DataError
        A cell cannot be read; the message names its row.
    """
    try:
        content = bytes_of(path, most_bytes=MOST_TYPED_BYTES)
    except OSError as error:
        raise BadFileError.of(
            "events_table_cannot_opened", where=path.name, why=error.strerror
        ) from error
    if sha256 and hashlib.sha256(content).hexdigest() != sha256:
        raise BadFileError.of("bytes_are_others", where=path.name)
    text, _ = decode_text(content, where=path.name)
    header = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = next((mark for mark in ";\t,|" if mark in header), ",")
    rows = split_rows(text, delimiter, where=path.name)
    filled = [(number, row) for number, row in enumerate(rows, 1) if any(row)]
    if not filled:
        raise LayoutError.of("no_header_row", where=path.name)
    table = _Events(path.name, filled[0][1], [row for _, row in filled[1:]])
    events = [table.event(number, row, rate_hz, first_frame) for number, row in filled[1:]]
    _refuse_repeats(events, [number for number, _ in filled[1:]], path.name)
    return tuple(sorted(events, key=lambda event: event.time_s))


class _Events:
    """The columns of an events table."""

    def __init__(self, where: str, header: Sequence[str], rows: Sequence[tuple[str, ...]]) -> None:
        self.where = where
        names = [read_column_name(cell) for cell in header]
        plain = ["".join(filter(str.isalpha, cell.lower())) for cell in header]
        roles = [name.role for name in names]
        self.time = roles.index("time") if "time" in roles else None
        self.frame = roles.index("frame") if "frame" in roles else None
        self.side = self._find(plain, header, ("side", "limb", "foot", "leg"))
        self.kind = self._find(plain, header, ("kind", "event", "events", "type", "eventkind"))
        named_contact = [place for place, word in enumerate(plain) if word.startswith("contact")]
        self.contact = named_contact[0] if named_contact else None
        if self.time is None and self.frame is None:
            raise self._missing("time_s", header)
        in_ms = self.time is not None and names[self.time].unit == "ms"
        self.seconds = 0.001 if in_ms else 1.0
        column = self.time if self.time is not None else self.frame
        cells = [(row[column],) for row in rows if column is not None and column < len(row)]
        self.decimal = find_decimal(cells, where=where) if cells else "."

    def _find(self, plain: Sequence[str], header: Sequence[str], words: Sequence[str]) -> int:
        for place, word in enumerate(plain):
            if word in words:
                return place
        raise self._missing(words[0], header)

    def _missing(self, name: str, header: Sequence[str]) -> LayoutError:
        return LayoutError.of(
            "no_column_among", where=self.where, name=name, header=", ".join(map(repr, header))
        )

    def event(
        self, number: int, row: Sequence[str], rate_hz: float | None, first_frame: int
    ) -> Event:
        """Return the event of one row."""
        side = self._side(number, _cell(row, self.side))
        kind = self._kind(number, _cell(row, self.kind))
        contact = None if kind == "toe_off" else self._contact(number, row)
        return Event(self._time(number, row, rate_hz, first_frame), side, kind, "file", contact)

    def _time(
        self, number: int, row: Sequence[str], rate_hz: float | None, first_frame: int
    ) -> float:
        column = self.time if self.time is not None else self.frame
        cell = _cell(row, column)
        try:
            value = to_number(cell, self.decimal)
        except ValueError as error:
            raise self._bad(number, f"{cell!r} is no time") from error
        if self.time is not None:
            value *= self.seconds
        elif rate_hz is None:
            raise LayoutError.of("frames_need_rate", where=self.where)
        else:
            value = (value - first_frame) / rate_hz
        if not value >= 0:
            raise self._bad(number, f"{cell!r} is no time after the first stored frame")
        return value

    def _side(self, number: int, cell: str) -> Side:
        side = read_column_name(cell).side
        if side is None:
            raise self._bad(number, f"{cell!r} is neither left nor right")
        return side

    def _kind(self, number: int, cell: str) -> EventKind:
        kind = read_column_name(cell.replace("_", " ")).event
        if kind is None:
            raise self._bad(number, f"{cell!r} is neither initial contact nor toe-off")
        return kind

    def _contact(self, number: int, row: Sequence[str]) -> ContactType | None:
        """Return the contact type that a row gives; None: it is told from the foot, if seen."""
        cell = "" if self.contact is None else _cell(row, self.contact).lower()
        if is_missing(cell):
            return None
        if cell not in get_args(ContactType):
            raise self._bad(number, f"{cell!r} is none of {', '.join(CONTACT_TYPES)}")
        return cast(ContactType, cell)

    def _bad(self, number: int, what: str) -> DataError:
        return DataError.of("at_row", where=self.where, number=number, what=what)


def _cell(row: Sequence[str], column: int | None) -> str:
    return row[column] if column is not None and column < len(row) else ""


def _refuse_repeats(events: Sequence[Event], numbers: Sequence[int], where: str) -> None:
    seen: dict[tuple[float, str, str], int] = {}
    for event, number in zip(events, numbers, strict=True):
        key = (event.time_s, event.side, event.kind)
        if key in seen:
            raise DataError.of("rows_same_event", where=where, seen=seen[key], number=number)
        seen[key] = number
