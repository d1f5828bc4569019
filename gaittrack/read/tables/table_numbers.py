"""All numbers of a table at once.

In comes a table; out goes one array, NaN where a cell is empty. A cell that cannot be read for sure
stops the reading.
"""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np

from gaittrack.errors import DataError, Problem
from gaittrack.read.tables.number_cells import number_or_gap, to_number
from gaittrack.read.tables.table_sniffing import Table
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

JUMP = 5.0
"""How many times the largest step of a column its very last number may jump; our choice."""


def numbers_or_gaps(table: Table) -> FloatArray:
    """Return the numbers of a table, shape (n_rows, width), NaN for whatever is none."""
    rows = (table.rows[place] for place in range(table.first, table.last))
    return np.array(
        [
            [number_or_gap(cell, table.decimal) for cell in row[: table.width]]
            + [math.nan] * (table.width - len(row))
            for row in rows
            if any(row)
        ]
    )


def number_matrix(
    table: Table, where: str, beside: Collection[int] = ()
) -> tuple[FloatArray, tuple[Problem, ...]]:
    """Return the numbers of a table.

    Parameters
    ----------
    where : str
        File for messages.
    beside : collection of int
        Columns that nobody uses: what is no number in them is a gap.

    Returns
    -------
    tuple of (ndarray, shape (n_rows, width), problems)

    Raises
    ------
    DataError
        A cell that is neither a number nor empty.
    """
    rows = [(place, table.rows[place]) for place in range(table.first, table.last)]
    values = np.array([_row(row, table, place, where, beside) for place, row in rows if any(row)])
    last = table.rows[table.last - 1]
    problem = None
    if table.ends_abruptly and len(last) == table.width:
        problem = doubt_last_number(values[:, -1], f"column {table.width}")
    return values, (problem,) if problem else ()


def _row(
    row: tuple[str, ...], table: Table, place: int, where: str, beside: Collection[int]
) -> list[float]:
    cells = row[: table.width]
    if table.decimal == "." and len(cells) == table.width:
        try:
            numbers = list(map(float, cells))
        except ValueError:
            numbers = []
        if numbers and math.isfinite(sum(numbers)) and "_" not in "".join(cells):
            return numbers
    numbers = [
        number_or_gap(cell, table.decimal)
        if column in beside
        else _cell(cell, table.decimal, place, column, where)
        for column, cell in enumerate(cells)
    ]
    return numbers + [math.nan] * (table.width - len(cells))


def _cell(cell: str, decimal: str, place: int, column: int, where: str) -> float:
    try:
        return to_number(cell, decimal)
    except ValueError as error:
        raise DataError.of(
            "no_number_in_cell",
            where=where,
            cell=cell,
            place=place + 1,
            column=column + 1,
            sign="comma" if decimal == "," else "point",
        ) from error


def doubt_last_number(values: FloatArray, where: str) -> Problem | None:
    """Make the last number of a file without a final line end a gap when it jumps.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Changed in place.
    where : str
        Column for the message.

    Returns
    -------
    Problem or None
        None when the number was kept.
    """
    steps = np.abs(np.diff(values))
    if len(steps) < 4 or not np.isfinite(steps[-1]) or not np.isfinite(steps[:-1]).any():
        return None
    if steps[-1] <= JUMP * max(float(np.nanmax(steps[:-1])), 1e-9):
        return None
    values[-1] = math.nan
    return Problem("warning", Reason("last_number_jumps"), where)


def is_cut(table: Table) -> bool:
    """Whether the last number has fewer decimals than all above it, and no line end."""
    *above, last = [row for row in table.rows[table.first : table.last] if any(row)]
    if not table.ends_abruptly or not above:
        return False
    cells = [row[len(last) - 1] for row in above if len(row) >= len(last)]
    usual = {len(cell.partition(table.decimal)[2]) for cell in cells}
    return len(usual) == 1 and len(last[-1].partition(table.decimal)[2]) < usual.pop()
