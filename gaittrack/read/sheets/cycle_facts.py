"""Cycle time and toe-off that a sheet gives beside its 0–100 % curves.

In come rows or columns that name them; out goes, for each curve, its cycle time in seconds and its
toe-off in per cent, NaN where the sheet does not say or does not say in which unit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from gaittrack.errors import DataError, Problem
from gaittrack.read.sheets.angle_plausibility import Trace
from gaittrack.read.sheets.sheet_columns import Sheet
from gaittrack.read.tables.column_names import ColumnName, read_column_name
from gaittrack.read.tables.number_cells import is_number, is_text, to_number
from gaittrack.reasons import Reason

SHORTEST_CYCLE_S, LONGEST_CYCLE_S = 0.3, 8.0
"""Cycle times outside are not believed; our choice, running to very slow walking."""
EARLIEST_TOE_OFF, LATEST_TOE_OFF = 35.0, 95.0
"""Toe-off outside, in per cent, is not believed; our choice."""


@dataclass(slots=True)
class CycleFacts:
    """Where a sheet gives cycle time and toe-off.

    Attributes
    ----------
    rows : list of (ColumnName, row)
        Rows that name one of the two.
    columns : dict of column to ColumnName
        Columns that name one of the two.
    """

    sheet: Sheet
    rows: list[tuple[ColumnName, Sequence[str]]] = field(default_factory=list)
    columns: dict[int, ColumnName] = field(default_factory=dict)

    @classmethod
    def of_columns(cls, sheet: Sheet) -> CycleFacts:
        """Return the facts of a sheet with a header of columns."""
        facts = cls(sheet)
        for row in sheet.facts:
            name = read_column_name(" ".join(cell for cell in row if is_text(cell)))
            if _is_fact(name) and any(map(is_number, row)):
                facts.rows.append((name, row))
        facts.columns = {column: name for column, name in enumerate(sheet.spelt) if _is_fact(name)}
        return facts

    @classmethod
    def of_rows(cls, sheet: Sheet, header: Sequence[str]) -> CycleFacts:
        """Return the facts of a sheet with one curve per row."""
        names = {column: read_column_name(cell) for column, cell in enumerate(header)}
        return cls(
            sheet, columns={column: name for column, name in names.items() if _is_fact(name)}
        )

    def apply(self, trace: Trace, column: int) -> None:
        """Give a curve that stands in ``column`` the facts of the rows and of constant columns."""
        for name, row in self.rows:
            cells = [cell for cell in row if is_number(cell)]
            if name.side not in (None, trace.side):
                continue
            lone = len(cells) == 1
            cell = cells[0] if lone else row[column] if column < len(row) else ""
            self._set(trace, name, cell, trace.name)
        self.apply_block(trace, 0, len(self.sheet.body))

    def apply_row(self, trace: Trace, row: Sequence[str]) -> None:
        """Give a curve that stands in a row the facts of its own row."""
        for column, name in self.columns.items():
            if name.side in (None, trace.side):
                self._set(trace, name, row[column] if column < len(row) else "", trace.name)

    def apply_block(self, trace: Trace, start: int, stop: int) -> None:
        """Give a curve that stands in rows ``start:stop`` the facts of these rows."""
        for column, name in self.columns.items():
            if name.side not in (None, trace.side):
                continue
            cells = {cell for cell in self.sheet.texts(column)[start:stop] if cell}
            if len(cells) > 1:
                raise DataError.of(
                    "column_changes_within_one_cycle",
                    where=self.sheet.where,
                    labels=self.sheet.labels[column],
                )
            for cell in cells:
                self._set(trace, name, cell, self.sheet.labels[column])

    def _set(self, trace: Trace, name: ColumnName, cell: str, where: str) -> None:
        """Set what is not set yet; the map's values stay."""
        try:
            value = to_number(cell, self.sheet.table.decimal)
        except ValueError:
            self._not_used(where, Reason("fact_is_no_number", cell=cell))
            return
        if math.isnan(value):
            return
        if name.role == "cycle_time" and math.isnan(trace.cycle_time_s):
            trace.cycle_time_s = self._cycle_time(value, name.unit, where)
        elif name.event == "toe_off" and math.isnan(trace.toe_off_percent):
            trace.toe_off_percent = self._toe_off(value, name.unit, trace.cycle_time_s, where)

    def _cycle_time(self, value: float, unit: str, where: str) -> float:
        in_ms = unit == "ms" or (not unit and value > 100)
        seconds = value / 1000 if in_ms else value
        if SHORTEST_CYCLE_S <= seconds <= LONGEST_CYCLE_S:
            return seconds
        self._not_used(where, Reason("no_such_cycle_time", value=value, unit=unit))
        return math.nan

    def _toe_off(self, value: float, unit: str, cycle_time_s: float, where: str) -> float:
        if unit in ("s", "ms"):
            percent = 100 * (value / 1000 if unit == "ms" else value) / cycle_time_s
        else:
            percent = value
        if EARLIEST_TOE_OFF <= percent <= LATEST_TOE_OFF:
            return percent
        self._not_used(
            where,
            Reason("toe_off_not_clear", value=value, unit=unit)
            if unit
            else Reason("toe_off_without_unit", value=value),
        )
        return math.nan

    def _not_used(self, where: str, reason: Reason) -> None:
        problem = Problem("warning", reason, where)
        if problem not in self.sheet.problems:
            self.sheet.problems.append(problem)


def _is_fact(name: ColumnName) -> bool:
    return not name.rest and (name.role == "cycle_time" or name.event == "toe_off")
