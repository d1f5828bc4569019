"""Rows of a table over time, or over a cycle, that have more or fewer cells than the others.

In comes a table; out goes what to tell of such rows. Where cells are missing at the end of a row,
they are gaps. Where one was lost or doubled in the middle, all behind it would stand in other
columns: its numbers fit what stood there just before better once they are moved, and the table is
refused.
"""

from __future__ import annotations

from collections import Counter
from typing import Final

import numpy as np

from gaittrack.errors import DataError, Problem
from gaittrack.read.tables.number_cells import to_number
from gaittrack.read.tables.table_sniffing import Table
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

_MOST_TOLD: Final = 5
_SMALLEST: Final = 1e-9
"""Range of a column that hardly changes."""


def row_length_problems(table: Table, where: str) -> tuple[Problem, ...]:
    """Return what to know of rows with another number of cells.

    Parameters
    ----------
    table : Table
        Runs row by row through a recording or a cycle. In a workbook no cell can be lost.

    Raises
    ------
    DataError
        Numbers of a row stand in other columns than theirs.
    """
    body = [(n, table.rows[n]) for n in range(table.first, table.last) if any(table.rows[n])]
    lengths = Counter(len(row) for _, row in body)
    if len(lengths) == 1 or not table.delimiter:
        return ()
    usual = lengths.most_common(1)[0][0]
    rows = {n: _without_empty_end(row, usual) for n, row in body}
    odd = [n for n, cells in rows.items() if len(cells) != usual]
    if not odd:
        return ()
    numbers = {n: _numbers(cells, table.decimal) for n, cells in rows.items()}
    moved = _moved(numbers, usual)
    if moved:
        n_cells = len(rows[moved[0]])
        raise DataError.of(
            "row_lost_a_cell", where=where, rows=_told(moved), n_cells=n_cells, usual=usual
        )
    odd = [n for n in odd if len(rows[n]) != table.width]  # that lacks but an empty place
    if not odd:
        return ()
    return (Problem("info", Reason("rows_of_other_length", n=len(odd), rows=_told(odd)), where),)


def _without_empty_end(row: tuple[str, ...], usual: int) -> tuple[str, ...]:
    """Return the cells of a row; empty ones behind the last column are what some programs write."""
    return row[:usual] if len(row) > usual and not any(row[usual:]) else row


def _told(places: list[int]) -> str:
    shown = ", ".join(str(place + 1) for place in places[:_MOST_TOLD])
    return shown + (" …" if len(places) > _MOST_TOLD else "")


def _numbers(cells: tuple[str, ...], decimal: str) -> FloatArray:
    found = np.full(len(cells), np.nan)
    for place, cell in enumerate(cells):
        try:
            found[place] = to_number(cell, decimal)
        except ValueError:
            continue  # who reads the cell says so
    return found


def _moved(numbers: dict[int, FloatArray], usual: int) -> list[int]:
    """Return the rows whose numbers fit better where they do not stand."""
    whole = np.array([each for each in numbers.values() if len(each) == usual])
    ranges = np.array([_range_of(column) for column in whole.T])
    last = whole[0].copy()
    found = []
    for place, own in numbers.items():
        if len(own) != usual and _misfit(own, last, ranges) > _least_moved(own, last, ranges):
            found.append(place)
            continue
        n = min(len(own), usual)
        last[:n] = np.where(np.isnan(own[:n]), last[:n], own[:n])
    return found


def _range_of(column: FloatArray) -> float:
    known = column[~np.isnan(column)]
    return max(float(np.ptp(known)), _SMALLEST) if len(known) else np.inf


def _least_moved(own: FloatArray, last: FloatArray, ranges: FloatArray) -> float:
    """Return how ill a row fits the last one when cells that were lost, or doubled, are seen to."""
    n, usual = len(own), len(last)
    gap = np.full(max(usual - n, 0), np.nan)
    surplus = max(n - usual, 0)
    tries = (np.r_[own[:k], gap, own[k + surplus :]] for k in range(min(n, usual)))
    return min((_misfit(each, last, ranges) for each in tries), default=np.inf)


def _misfit(own: FloatArray, last: FloatArray, ranges: FloatArray) -> float:
    """Return how far numbers are from the last ones, in ranges of their columns."""
    n = min(len(own), len(last))
    apart = np.abs(own[:n] - last[:n]) / ranges[:n]
    return float(np.nansum(np.minimum(apart, 1.0)))
