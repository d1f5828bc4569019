"""Where several cycles lie in the samples of a series, and what is read there.

In come fractions of cycles (0 at contact, 1 at the next), one for each, out come places and windows
whose ends lie between samples. A recording over time and the 0-100 % curves of a sheet, one after
the other, look the same from here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gaittrack.trial import BoolArray, FloatArray

IntArray = NDArray[np.intp]
INDEX_SLACK = 1e-6
"""Samples by which rounding may push an instant past the first or the last."""


@dataclass(frozen=True, eq=False, slots=True)
class Series:
    """One quantity over the whole recording, of each leg, or over the curves of all cycles.

    Attributes
    ----------
    what : str
        Which joint or point, as reasons name it.
    n_filled : ndarray of int, shape (n_samples + 1,), or None
        How many samples before each were filled or depend on filled ones; None: none at all.
    """

    values: FloatArray
    what: str
    n_filled: IntArray | None = None


class Instants(NamedTuple):
    """Instants of each cycle: the samples around them, and how far they lie after the first.

    Attributes
    ----------
    lower, upper : ndarray of int, shape (n_cycles, ...)
    share : ndarray, shape (n_cycles, ...)
        0 to 1; NaN where there is no such instant.
    """

    lower: IntArray
    upper: IntArray
    share: FloatArray

    def read(self, values: FloatArray) -> FloatArray:
        """Return the values there, linear between samples; NaN where there are none."""
        before = values.take(self.lower)
        found: FloatArray = before + self.share * (values.take(self.upper) - before)
        return found


class Grid(NamedTuple):
    """Where each cycle lies in the samples.

    Attributes
    ----------
    start, n_steps : ndarray, shape (n_cycles,)
        Position of its start among its samples, and samples from its start to its end.
    first : ndarray of int, shape (n_cycles,)
        Where in the series the samples begin that are its own: of its curve, or of its leg.
    n_samples : int
        Of the recording of a leg, or of each curve.
    """

    start: FloatArray
    n_steps: FloatArray
    first: IntArray
    n_samples: int

    def index_of(self, fraction: FloatArray | float) -> FloatArray:
        """Return the sample position of a fraction of each cycle."""
        return self.start + fraction * self.n_steps

    def fraction_of(self, index: FloatArray | IntArray) -> FloatArray:
        """Return the fraction of each cycle at a sample position."""
        return (index - self.start) / self.n_steps

    def is_outside(self, index: FloatArray) -> BoolArray:
        """Return whether the samples do not reach a position of each cycle."""
        last = self.n_samples - 1
        outside: BoolArray = ~((index >= -INDEX_SLACK) & (index <= last + INDEX_SLACK))
        return outside

    def place(self, index: FloatArray) -> Instants:
        """Return the place at a sample position of each cycle."""
        outside = self.is_outside(index)
        inside = np.where(outside, 0.0, index)
        lower = inside.astype(np.intp)
        share: FloatArray = inside - lower
        is_between = (share > INDEX_SLACK) & (lower < self.n_samples - 1)
        share[outside] = np.nan
        lower += self.first
        return Instants(lower, lower + is_between, share)

    def any_filled(self, track: Series, start: FloatArray, end: FloatArray) -> BoolArray:
        """Return whether samples between two fractions were filled, ``(..., n_cycles)``."""
        if track.n_filled is None:
            return np.zeros(start.shape, dtype=bool)
        lower = np.ceil(self.index_of(start) - INDEX_SLACK)
        upper = np.floor(self.index_of(end) + INDEX_SLACK) + 1
        lower, upper = (
            np.fmin(np.fmax(each, 0), self.n_samples).astype(np.intp) + self.first
            for each in (lower, upper)
        )
        found: BoolArray = (start < end) & (track.n_filled[upper] > track.n_filled[lower])
        return found


@dataclass(frozen=True, eq=False, slots=True)
class Window:
    """A stretch of each cycle, its ends between samples.

    Attributes
    ----------
    start, end : ndarray, shape (n_cycles,)
        Fractions of the cycle; they need not fall on samples.
    first, last : ndarray, shape (n_cycles,)
        Sample positions of start and end.
    n : ndarray of int, shape (n_cycles,)
        Number of its samples: those inside, and the two ends.
    places : Instants
        Of each sample, shape (n_cycles, n_most); past the end it is the end.
    """

    start: FloatArray
    end: FloatArray
    grid: Grid
    first: FloatArray
    last: FloatArray
    n: IntArray
    places: Instants

    def fraction_of(self, place: IntArray) -> FloatArray:
        """Return the fraction of each cycle at which a sample of the window lies."""
        index = np.fmin(np.trunc(self.first) + place, self.last)
        return self.grid.fraction_of(np.where(place > 0, index, self.first))


def window_of(grid: Grid, start: FloatArray, end: FloatArray) -> Window:
    """Return the window between two fractions of each cycle."""
    first, last = ends = grid.index_of(np.array((start, end)))
    at = grid.place(ends)
    is_known = (first < last) & ~np.isnan(at.share[0] + at.share[1])
    inside = np.ceil(np.where(is_known, last, 0.0)) - np.trunc(np.where(is_known, first, 0.0))
    n = np.fmax(inside.astype(np.intp) - 1, 0) + 2
    column = np.arange(max(np.maximum.reduce(n), 3))
    lower, upper, share = (each[..., None] for each in at)
    is_end = column >= (n - 1)[:, None]
    own_lower = np.where(is_end, lower[1], lower[0] + column)
    own_upper = np.where(is_end, upper[1], own_lower)
    own_share = np.where(is_end, share[1], 0.0)
    own_upper[:, 0], own_share[:, 0] = at.upper[0], at.share[0]
    own_share[~is_known] = np.nan
    return Window(start, end, grid, first, last, n, Instants(own_lower, own_upper, own_share))


class Samples(NamedTuple):
    """The samples of a window, of each cycle, with interpolated ends.

    Attributes
    ----------
    values : ndarray, shape (n_cycles, n_most)
        Past the end of a window its last sample is repeated.
    """

    values: FloatArray
    window: Window

    def highest(self) -> FloatArray:
        """Return the largest of each cycle."""
        found: FloatArray = np.maximum.reduce(self.values, axis=1)
        return found

    def lowest(self) -> FloatArray:
        """Return the smallest of each cycle."""
        found: FloatArray = np.minimum.reduce(self.values, axis=1)
        return found


def at_column(values: FloatArray, column: IntArray) -> FloatArray:
    """Return one value of each row; of no meaning beside the rows."""
    n_rows, width = values.shape
    return values.take(np.arange(0, n_rows * width, width) + column, mode="clip")


class Frames(NamedTuple):
    """Frames of the recording that belong to a stretch of each cycle.

    Attributes
    ----------
    at : ndarray of int, shape (n_cycles, n_most)
    are : ndarray of bool, shape (n_cycles, n_most)
        Which of them belong to it.
    """

    at: IntArray
    are: BoolArray

    def seen(self, values: FloatArray) -> tuple[FloatArray, BoolArray]:
        """Return the values there, and which of them belong to the stretch and are known."""
        found: FloatArray = values[self.at]
        return found, self.are & ~np.isnan(found)


def frames_of(lower: FloatArray, upper: FloatArray, n_frames: int) -> Frames:
    """Return the frames from one position of each cycle on and before another."""
    low, high = (np.fmin(np.fmax(f, 0), n_frames).astype(np.intp) for f in (lower, upper))
    at = low[:, None] + np.arange(max(np.maximum.reduce(high - low), 1))
    return Frames(np.fmin(at, max(n_frames - 1, 0)), at < high[:, None])


def lengths_of_ways(forward_m: FloatArray, left_m: FloatArray) -> FloatArray:
    """Return the length of a way on the floor of each cycle, rounded once."""
    return np.array(list(map(math.hypot, forward_m.tolist(), left_m.tolist())))


def means_of_rows(values: FloatArray, are: BoolArray) -> FloatArray:
    """Return the mean of some values of each row, NaN of none, as ``values.mean()`` gives it."""
    n_rows = len(values)
    led = np.concatenate((np.zeros((n_rows, 1)), values), axis=1)
    taken = np.concatenate((np.ones((n_rows, 1), dtype=bool), are), axis=1)
    n = np.add.reduce(taken, axis=1)
    sums = np.add.reduceat(led[taken], np.add.accumulate(n) - n)
    means: FloatArray = sums / np.where(n > 1, n - 1, np.nan)
    return means


def medians_of_rows(values: FloatArray, are: BoolArray) -> FloatArray:
    """Return the median of some values of each row, NaN of none."""
    n = np.add.reduce(are, axis=1)
    ordered = np.sort(np.where(are, values, np.nan), axis=1)
    row, high = np.arange(len(n)), n // 2
    low = np.where(n % 2, high, np.fmax(high - 1, 0))
    medians: FloatArray = (ordered[row, low] + ordered[row, np.fmin(high, values.shape[1] - 1)]) / 2
    return medians
