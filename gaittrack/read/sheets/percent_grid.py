"""The 0–100 % axis of a curve.

In come columns of a sheet; out goes which of them is per cent of a cycle, and curves on evenly
spaced points from 0 to 100 %.
"""

from __future__ import annotations

import numpy as np

from gaittrack.errors import DataError, TruncatedFileError
from gaittrack.read.sheets.sheet_columns import Sheet
from gaittrack.trial import FloatArray

FEWEST_POINTS = 10
"""A curve with fewer points is refused; our choice."""


def percent_by_numbers(sheet: Sheet) -> int | None:
    """Return an unnamed, cycle or time column whose numbers run from 0 to 100 (or 0 to 1)."""
    for column, name in enumerate(sheet.spelt):
        if name.role not in ("unknown", "cycle", "time", "frame") or name.rest:
            continue
        if not sheet.is_numeric(column) or name.role == "frame":
            continue
        values = sheet.numbers(column)
        if len(values) < FEWEST_POINTS or values[0] != 0 or not (np.diff(values) > 0).all():
            continue
        if values[-1] == 100 or (values[-1] == 1 and name.unit != "s"):
            return column
    return None


def percent_restarting(sheet: Sheet) -> int | None:
    """Return an unnamed or cycle column that runs from 0 to 100 more than once."""
    for column, name in enumerate(sheet.spelt):
        if name.role not in ("unknown", "cycle", "percent") or not sheet.is_numeric(column):
            continue
        values = sheet.numbers(column)
        falls = np.flatnonzero(np.diff(values) < 0)
        if values[0] == 0 and values[-1] in (1, 100) and falls.size and (
            values[falls + 1] == 0
        ).all():  # fmt: skip
            return column
    return None


def on_grid(values: FloatArray, grid: FloatArray | None, where: str) -> FloatArray:
    """Put a curve on evenly spaced points from 0 to 100 %, both ends included.

    Parameters
    ----------
    values : ndarray, shape (n,)
    grid : ndarray, shape (n,), or None
        Per cent (or fraction) of each value; None: they are spread evenly.

    Returns
    -------
    ndarray
        ``values``, with NaN for a missing first or last point.

    Raises
    ------
    DataError
        Too few points or uneven ones.
    TruncatedFileError
        The curve ends before 100 %.
    """
    if len(values) < FEWEST_POINTS:
        raise DataError.of(
            "curve_points_least_needed",
            where=where,
            n_values=len(values),
            fewest_points=FEWEST_POINTS,
        )
    if grid is None:
        return values
    percent = grid * 100 if grid[-1] <= 1.5 else grid
    step = float((percent[-1] - percent[0]) / (len(percent) - 1))
    even = percent[0] + step * np.arange(len(percent))
    rounding = 0.501 if (percent == np.rint(percent)).all() else 0.06
    if not np.isfinite(step) or step <= 0 or not np.abs(percent - even).max() <= rounding:
        raise DataError.of("per_cent_not_evenly_spaced", where=where)
    before, after = round(percent[0] / step), round((100 - percent[-1]) / step)
    if percent[0] < -0.5 or percent[-1] > 100.5 or before > 1 or after > 1:
        kind = TruncatedFileError if after > 1 else DataError
        raise kind(
            f"A curve runs from {percent[0]:g} to {percent[-1]:g} %, not from 0 to 100 %.",
            where=where,
            action="Export the whole cycle.",
        )
    return np.concatenate((np.full(before, np.nan), values, np.full(after, np.nan)))
