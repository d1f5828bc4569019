"""A joint-angle sheet before its layout is known: columns, what their names spell, their numbers.

In comes a table; out goes a :class:`Sheet`: column labels (with the words of a row of groups above
them), rows of numbers, rows that carry one fact per column (cycle time, toe-off), and the lists of
steps and problems that the readers of the layouts add to.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from gaittrack.errors import DataError, LayoutError, Problem
from gaittrack.lab_map import SheetMap
from gaittrack.read.sheets.recording_names import names_people
from gaittrack.read.sheets.sheet_question import ASKED, SeenColumn
from gaittrack.read.tables.column_names import (
    ColumnName,
    read_column_name,
    says_plantarflexion_positive,
)
from gaittrack.read.tables.number_cells import (
    is_number,
    is_text,
    number_or_gap,
    to_number,
)
from gaittrack.read.tables.preamble import declared_rate_hz, declared_side, rate_of_columns_hz
from gaittrack.read.tables.row_splitting import Rows
from gaittrack.read.tables.table_numbers import doubt_last_number
from gaittrack.read.tables.table_sniffing import Table, unit_row
from gaittrack.trial import FloatArray, frozen_array
from gaittrack.vocabulary import SIDES, Side

LONGEST_TITLE: Final = 8
"""Words of a line that may be a title; our choice."""
OTHER_UNITS: Final = frozenset(
    "n nm nmm n.m n.mm n/kg nm/kg w w/kg mm cm m m/s mm/s m/s2 m/s^2 deg/s rad/s v mv uv "
    "\u00b5v \u03bcv bw %bw".split()
)
"""Units in a row below the header that no angle has."""


@dataclass(slots=True)
class Sheet:
    """A table on its way to a trial.

    Attributes
    ----------
    where : str
        File name.
    labels : tuple of str
        One per column, unique.
    spelt : tuple of ColumnName
        What each label spells.
    body : tuple of rows
        Rows of numbers, without blank rows and rows of facts.
    body_rows : tuple of int
        Their 1-based rows in the file.
    rate_hz : float or None
        As a person says, with the command or in a map.
    part : mapping of kind to int
        Which of several recordings its name says that is meant; see ``part_names``.
    key_columns : set of int
        Columns that say whose or which recording a row is of.
    in_doubt, pending, words
        What must be asked though reading went on: in words, the keys of a map's [sheet] table
        with "?", and what may stand there.
    facts : tuple of rows
        Rows inside, above or below the numbers whose first cell is words.
    """

    where: str
    table: Table
    sheet_map: SheetMap
    labels: tuple[str, ...]
    spelt: tuple[ColumnName, ...]
    body: Rows
    body_rows: tuple[int, ...]
    facts: Rows
    steps: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    rate_hz: float | None = None
    part: Mapping[str, int] = field(default_factory=dict)
    key_columns: set[int] = field(default_factory=set)
    in_doubt: list[str] = field(default_factory=list)
    pending: dict[str, object] = field(default_factory=dict)
    words: dict[str, Sequence[str]] = field(default_factory=dict)
    _numbers: dict[int, FloatArray] = field(default_factory=dict)
    _numeric: dict[int, bool] = field(default_factory=dict)

    @property
    def above(self) -> Rows:
        """Rows above the header."""
        end = self.table.first if self.table.header is None else self.table.header
        return self.table.rows[:end]

    @property
    def declared_hz(self) -> float | None:
        """The rate that a line above the header, or the names of columns, tell."""
        return declared_rate_hz(self.above) or rate_of_columns_hz(self.table.names)

    @property
    def lone_side(self) -> Side | None:
        """The one side of the sheet, as a map or a line above the header says."""
        told = next((side for side in SIDES if side == self.sheet_map.side), None)
        return told or declared_side(self.above)

    def in_part(self, kind: str, n: int) -> int | None:
        """Return which of several its name says that is meant; None where it says none.

        Raises
        ------
        LayoutError
            There are not so many.
        """
        number = self.part.get(kind)
        if number is not None and number > n > 1:
            raise LayoutError.of("no_such_part", where=self.where, kind=kind, n=n)
        return number

    def ask_for(self, key: str, doubt: str, words: Sequence[str]) -> None:
        """Note that a person must say a key of the map's [sheet] table."""
        self.in_doubt.append(doubt)
        self.pending[key] = ASKED
        self.words[key] = words

    def keep_rows(self, rows: Iterable[int]) -> None:
        """Go on with some of the rows of numbers."""
        kept = list(rows)
        self.take_rows([self.body[row] for row in kept], [self.body_rows[row] for row in kept])

    def take_rows(self, body: Iterable[tuple[str, ...]], places: Iterable[int]) -> None:
        """Go on with other rows of numbers, each with its row in the file."""
        self.body, self.body_rows = tuple(body), tuple(places)
        self._numbers.clear()
        self._numeric.clear()

    def numbers(self, column: int) -> FloatArray:
        """Return a column's numbers, NaN where a cell is empty or missing.

        Raises
        ------
        DataError
            Words or a number that cannot be read for sure.
        """
        if column not in self._numbers:
            self._numbers[column] = self._parsed(column)
        return self._numbers[column]

    def _parsed(self, column: int) -> FloatArray:
        decimal = self.table.decimal
        values = np.array(
            [self._number(row, place, column, decimal) for place, row in enumerate(self.body)]
        )
        if self.table.ends_abruptly and column == len(self.body[-1]) - 1:
            problem = doubt_last_number(values, self.labels[column])
            if problem:
                self.problems.append(problem)
        return frozen_array(values)

    def _number(self, row: Sequence[str], place: int, column: int, decimal: str) -> float:
        cell = row[column] if column < len(row) else ""
        try:
            return to_number(cell, decimal)
        except ValueError as error:
            raise DataError.of(
                "no_number_in_column",
                where=self.where,
                cell=cell,
                row=self.body_rows[place],
                labels=self.labels[column],
                sign="comma" if decimal == "," else "point",
            ) from error

    def texts(self, column: int) -> tuple[str, ...]:
        """Return a column's cells as written."""
        return tuple(row[column] if column < len(row) else "" for row in self.body)

    def seen(
        self, label: str, name: ColumnName, cells: Sequence[str], *, guess: str, is_wanted: bool
    ) -> SeenColumn:
        """Return a column, or a row, as what it is called says, to be asked about."""
        return SeenColumn(
            label,
            np.array([number_or_gap(cell, self.table.decimal) for cell in cells]),
            guess,
            joint="" if name.role == "unclear" else name.joint or "",
            side=name.side or self.lone_side or "",
            sign=name.sign,
            unit=name.unit if name.unit in ("deg", "rad") else "",
            cycle=name.cycle,
            condition=name.rest if name.joint else "",
            is_mean=name.is_mean,
            is_wanted=is_wanted,
        )

    def is_numeric(self, column: int) -> bool:
        """Whether the column holds numbers: more of them than words."""
        if column not in self._numeric:
            cells = self.texts(column)
            self._numeric[column] = sum(map(is_number, cells)) > sum(map(is_text, cells))
        return self._numeric[column]

    def first(self, role: str) -> int | None:
        """Return the first numeric column whose name plays ``role``."""
        for column, name in enumerate(self.spelt):
            if name.role == role and self.is_numeric(column):
                return column
        return None

    def find(self, name: str, key: str) -> int:
        """Return the column that a map names.

        Raises
        ------
        LayoutError
            There is none, or more than one.
        """
        if name in self.labels:
            return self.labels.index(name)
        wanted = plain(name)
        found = [place for place, label in enumerate(self.labels) if plain(label) == wanted]
        if len(found) == 1:
            return found[0]
        raise LayoutError.of(
            "columns_of_map_ambiguous",
            where=self.where,
            key=key,
            name=name,
            n_found=len(found) or "no",
            labels=", ".join(map(repr, self.labels)),
        )

    def named(self, name: str | None, key: str, role: str) -> int | None:
        """Return the column that the map names, else the first that plays ``role``."""
        return self.first(role) if name is None else self.find(name, key)


def open_sheet(table: Table, sheet_map: SheetMap, where: str) -> Sheet:
    """Return the sheet of a table."""
    rows = [place for place in range(table.first, table.last) if any(table.rows[place])]
    rows, facts = _split_facts(table, rows)
    names, used = _labels(table, rows)
    rows = rows[used:]
    units = unit_row(table)
    spelt = tuple(
        _with_unit(read_column_name(name), units[place] if place < len(units) else "")
        for place, name in enumerate(names)
    )
    outside = [
        row for row in (*table.rows[: table.header or 0], *table.rows[table.last :]) if any(row)
    ]
    labels = unique(names)
    spelt = tuple(
        replace(name, role="time", unit="s") if place in table.clocks else name
        for place, name in enumerate(spelt)
    )
    if any(says_plantarflexion_positive(" ".join(filter(None, row))) for row in outside):
        spelt = tuple(map(_with_plantarflexion_positive, spelt))
    return Sheet(
        where,
        table,
        sheet_map,
        labels,
        spelt,
        tuple(table.rows[place] for place in rows),
        tuple(place + 1 for place in rows),
        (*facts, *outside),
        list(table.steps),
        key_columns={column for column, label in enumerate(labels) if names_people(label)},
    )


def _with_plantarflexion_positive(name: ColumnName) -> ColumnName:
    """Turn an ankle whose own name says no direction."""
    is_so = name.role == "angle" and name.joint == "ankle" and not name.says_sign
    return replace(name, sign=-1.0) if is_so else name


def _split_facts(table: Table, rows: list[int]) -> tuple[list[int], list[tuple[str, ...]]]:
    """Take rows that begin with words out of a body whose other rows begin with numbers."""
    starts_with_words = [is_text(table.rows[place][0]) for place in rows]
    if 2 * sum(starts_with_words) >= len(rows):
        return rows, []
    kept = [place for place, words in zip(rows, starts_with_words, strict=True) if not words]
    facts = [table.rows[p] for p, words in zip(rows, starts_with_words, strict=True) if words]
    return kept, facts


def _with_unit(name: ColumnName, unit: str) -> ColumnName:
    word = unit.strip("[]()").lower().replace("\u00b0", "deg")
    word = {"degrees": "deg", "degree": "deg", "radians": "rad", "sec": "s", "percent": "%"}.get(
        word, word
    )
    if word in OTHER_UNITS and name.role in ("angle", "unclear", "value", "unknown"):
        return replace(name, role="other_plane")
    if name.unit or word not in ("deg", "rad", "s", "ms", "%"):
        return name
    role = name.role
    if role == "unknown" and not name.rest and word in ("s", "ms"):
        role = "time"
    return replace(name, unit=word, role=role)


def _labels(table: Table, rows: Sequence[int]) -> tuple[list[str], int]:
    """Return the columns' names and how many rows of the body turned out to belong to them."""
    names = list(table.names)
    if table.header is None:
        return names, 0
    numbering = _cycle_numbers(table, rows)
    used = int(bool(numbering) and table.first in rows)
    if numbering:
        names = [
            f"{name} cycle {number}" if number and column else name
            for column, (name, number) in enumerate(zip(_filled(names), numbering, strict=True))
        ]
    for place in range(table.header - 1, max(-1, table.header - 3), -1):
        names = _grouped_names(names, table.rows[place])
    return _titled_names(names, table.rows[: table.header]), used


def _titled_names(names: list[str], above: Rows) -> list[str]:
    """Put the one title that names a joint before columns that only name their side."""
    spelt = [read_column_name(name) for name in names]
    if any(name.joint or name.role == "joint" for name in spelt):
        return names
    cells = [next(filter(None, row)) for row in above if len(list(filter(None, row))) == 1]
    told = {cell: read_column_name(cell) for cell in cells}
    titles = [cell for cell, name in told.items() if name.role == "angle" and name.side is None]
    if len(titles) != 1 or len(titles[0].split()) > LONGEST_TITLE:
        return names
    return [
        f"{titles[0]} {name}" if spell.side and spell.role == "unknown" else name
        for name, spell in zip(names, spelt, strict=True)
    ]


def _cycle_numbers(table: Table, rows: Sequence[int]) -> list[str]:
    """Return the first row of the body when it only numbers the cycles: "", 1, 2, 3, 1, 2, 3."""
    if len(rows) < 3:
        return []
    first = table.rows[table.first]
    leads = not is_number(first[0]) and is_number(table.rows[rows[1]][0])
    cells = [*first, *[""] * (table.width - len(first))]
    whole = all(cell.isdigit() for cell in cells[1:] if cell)
    named = table.names[1:]
    stand_for_several = "" in named or len(set(named)) < len(named)
    return cells if leads and whole and stand_for_several else []


def _filled(cells: Sequence[str]) -> list[str]:
    filled, latest = [], ""
    for cell in cells:
        latest = cell or latest
        filled.append(latest)
    return filled


def _grouped_names(names: list[str], row: Sequence[str]) -> list[str]:
    """Put the words of a row of groups before the names that need them."""
    cells = [*row[: len(names)], *[""] * (len(names) - len(row))]
    words = [cell for cell in cells if is_text(cell)]
    if not words or len(row) > len(names) or cells[0] and len(words) <= 2:
        return names
    spelt = [read_column_name(name) for name in names]
    groups = [read_column_name(cell) for cell in cells if is_text(cell)]
    lacks_side = not any(name.side for name in spelt) and any(group.side for group in groups)
    lacks_joint = not any(name.joint for name in spelt) and any(group.joint for group in groups)
    repeated = max(Counter(name for name in names if name).values(), default=0) > 1
    if not (lacks_side or lacks_joint or (repeated and len(words) > 1)):
        return names
    return [
        name if spell.role in ("time", "frame", "percent") else f"{group} {name}".strip()
        for group, name, spell in zip(_filled(cells), names, spelt, strict=True)
    ]


def unique(names: Sequence[str]) -> tuple[str, ...]:
    """Return names of which none is empty or repeats."""
    seen: Counter[str] = Counter()
    labels = []
    for place, name in enumerate(names):
        label = name or f"column {place + 1}"
        seen[label] += 1
        labels.append(label if seen[label] == 1 else f"{label} ({seen[label]})")
    return tuple(labels)


def plain(name: str) -> str:
    """Return a column's name as names are compared."""
    return re.sub(r"\s+", " ", name).strip().lower()
