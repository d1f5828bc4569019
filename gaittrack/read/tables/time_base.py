"""From a column of times or frame numbers to one rate and evenly spaced frames.

In come the numbers of a time or a frame column; out goes a :class:`TimeBase`: the rate, and the row
of each frame. Times are often rounded to a millisecond, so the rate is the mean from first to last,
never a difference of neighbours. Frames that were left out come back as gaps.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gaittrack.errors import DataError, LayoutError, Problem
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

SLOWEST_HZ, FASTEST_HZ = 10.0, 2000.0
"""Rates outside are not taken for a recording of walking; our choice."""
RATE_AGREES = 0.01
"""A told rate within this share of the found one agrees with it; our choice."""
FRACTION_ALLOWED = 0.3
"""Rows may lie this far, in frames, from an even time base when frames are left out; our choice."""
MOST_GAP_FRAMES = 10
"""A table may leave out at most this many times its own rows; our choice."""


@dataclass(frozen=True, eq=False, slots=True)
class TimeBase:
    """Evenly spaced frames.

    Attributes
    ----------
    frame_of_row : ndarray of int, shape (n_rows,)
        Which frame, from 0, each row of the table is.
    first_frame : int
        Number that the table gives to its first frame; 1 without a frame column.
    start_s : float
        What the time column says at the first frame; NaN without one.
    unit_s : float
        Seconds in one unit of the time column; NaN without one.
    step : str
        How the rate was found.
    """

    rate_hz: float
    frame_of_row: NDArray[np.intp]
    n_frames: int
    first_frame: int
    start_s: float
    unit_s: float
    step: str
    problems: tuple[Problem, ...] = ()

    def spread(self, values: FloatArray) -> FloatArray:
        """Put the rows' values on the frames, NaN where the table left a frame out."""
        full = np.full((self.n_frames, *values.shape[1:]), np.nan)
        full[self.frame_of_row] = values
        return full


def find_time_base(
    n_rows: int,
    *,
    where: str,
    time: FloatArray | None = None,
    time_unit: str = "",
    frame: FloatArray | None = None,
    told_hz: float | None = None,
    declared_hz: float | None = None,
) -> TimeBase:
    """Find rate and frames.

    Parameters
    ----------
    where : str
        File for messages.
    time : ndarray, shape (n_rows,), optional
        Seconds or milliseconds.
    time_unit : {"s", "ms", ""}
        As the header says; "" is found from the values.
    frame : ndarray, shape (n_rows,), optional
        Whole numbers.
    told_hz : float, optional
        As a person says, with the command or in a map: comes first when given, and where the file
        says otherwise that is told.
    declared_hz : float, optional
        As a line above the header says; only asked where there is no time.

    Raises
    ------
    DataError
        Times or frames that do not rise evenly; no rate at all.
    LayoutError
        Times of which nothing tells whether they are seconds or milliseconds.
    """
    if told_hz is not None and not (math.isfinite(told_hz) and told_hz > 0):
        raise DataError.of("told_rate_is_none", where=where, told_hz=told_hz)
    if time is None and told_hz is None and declared_hz is None:
        raise DataError.of("no_time_column_no_rate", where=where)
    axis = frame if frame is not None else time
    rows = np.arange(n_rows) if axis is None else _frames(axis, where, whole=frame is not None)
    n_frames = int(rows[-1]) + 1
    first = 1 if frame is None else int(frame[0])
    start_s = unit_s = math.nan
    problems: tuple[Problem, ...] = ()
    if time is None:
        rate, step, problems = _rate_without_time(told_hz, declared_hz, where)
    else:
        unit_s = _unit_s(time, rows, time_unit, told_hz, where)
        start_s = float(time[0]) * unit_s
        rate, step, problems = _rate(time, rows, unit_s, told_hz, where)
        if n_frames > n_rows:
            problems = (*problems, _left_out(n_frames - n_rows, where))
    return TimeBase(
        rate_hz=rate,
        frame_of_row=rows,
        n_frames=n_frames,
        first_frame=first,
        start_s=start_s,
        unit_s=unit_s,
        step=step,
        problems=problems,
    )


def _rate(
    time: FloatArray, rows: NDArray[np.intp], unit_s: float, told_hz: float | None, where: str
) -> tuple[float, str, tuple[Problem, ...]]:
    if len(time) < 2:
        if told_hz is None:
            raise DataError.of("single_row_without_rate", where=where)
        return told_hz, f"{told_hz:g} Hz as told", ()
    found = float(rows[-1] / ((time[-1] - time[0]) * unit_s))
    unit = "ms" if unit_s < 1 else "s"
    if told_hz is None:
        return found, f"time in {unit}: {found:.2f} Hz, mean from first to last row", ()
    return told_hz, f"{told_hz:g} Hz as told", _told_otherwise(found, told_hz, where)


def _rate_without_time(
    told_hz: float | None, declared_hz: float | None, where: str
) -> tuple[float, str, tuple[Problem, ...]]:
    """Return the rate where no time tells it: as somebody says, else as the file declares."""
    if told_hz is None:
        rate = float(declared_hz or 0)
        return rate, f"{rate:g} Hz from a line above the header", ()
    step = f"{told_hz:g} Hz as told"
    if declared_hz is None:
        return told_hz, step, (Problem("info", Reason("rate_as_told", told_hz=told_hz), where),)
    return told_hz, step, _told_otherwise(declared_hz, told_hz, where)


def _told_otherwise(found: float, told_hz: float, where: str) -> tuple[Problem, ...]:
    if abs(found - told_hz) <= RATE_AGREES * told_hz:
        return ()
    reason = Reason("told_rate_differs", found_hz=round(found, 2), told_hz=told_hz)
    return (Problem("warning", reason, where),)


def _left_out(count: int, where: str) -> Problem:
    return Problem("warning", Reason("frames_left_out", n=count), where)


def _frames(axis: FloatArray, where: str, *, whole: bool) -> NDArray[np.intp]:
    """Return the frame of each row; gaps of whole frames are allowed."""
    name = "frame" if whole else "time"
    steps = np.diff(axis)
    bad = np.flatnonzero(~(steps > 0))
    if not np.isfinite(axis).all() or bad.size:
        row = int(bad[0]) + 2 if bad.size else int(np.flatnonzero(~np.isfinite(axis))[0]) + 1
        raise DataError.of("column_does_not_rise_row", where=where, name=name, row=row)
    n = len(axis)
    if n < 2:
        return np.zeros(n, dtype=np.intp)
    if whole:
        frames = axis - axis[0]
        step = float(np.median(steps))
        frames = frames / step
    else:
        frames = _time_in_frames(axis, steps)
    nearest: NDArray[np.intp] = np.rint(frames).astype(np.intp)
    even = np.abs(frames - nearest).max() <= (0.01 if whole else FRACTION_ALLOWED)
    if not even or (np.diff(nearest) < 1).any() or nearest[-1] > MOST_GAP_FRAMES * n:
        raise DataError.of("column_not_evenly_spaced", where=where, name=name)
    return nearest


def _time_in_frames(time: FloatArray, steps: FloatArray) -> FloatArray:
    """Return time in frames; rows that stand several frames apart count as that many."""
    elapsed = time - time[0]
    plain = elapsed * (len(time) - 1) / elapsed[-1]
    if np.abs(plain - np.arange(len(time))).max() < 0.5:
        return np.arange(len(time), dtype=np.float64)
    usual = float(np.median(steps))
    near = steps[steps < 1.6 * usual]
    interval = float(near.mean())
    counted = np.concatenate(([0.0], np.cumsum(np.rint(steps / interval))))
    return np.asarray(elapsed / elapsed[-1] * counted[-1])


def _unit_s(
    time: FloatArray, rows: NDArray[np.intp], unit: str, told_hz: float | None, where: str
) -> float:
    """Return the seconds in one unit of the time column."""
    if len(time) < 2:
        return {"ms": 0.001}.get(unit, 1.0)
    per_unit = float(rows[-1] / (time[-1] - time[0]))
    fits_s = SLOWEST_HZ <= per_unit <= FASTEST_HZ
    fits_ms = SLOWEST_HZ <= per_unit * 1000 <= FASTEST_HZ
    if unit == "s" and fits_s or (not unit and fits_s and not fits_ms):
        return 1.0
    if unit == "ms" and fits_ms or (not unit and fits_ms and not fits_s and per_unit < 0.9):
        return 0.001
    if told_hz is not None:
        return 1.0 if abs(math.log(per_unit / told_hz)) < math.log(30) else 0.001
    said = f"the header says {unit}" if unit else "no unit is given"
    raise LayoutError.of(
        "times_give_no_rate",
        where=where,
        per_unit=1 / per_unit,
        said=said,
        slowest_hz=SLOWEST_HZ,
        fastest_hz=FASTEST_HZ,
    )
