"""What several cycles show of a track: values at instants and in windows.

In come tracks and fractions of the cycles, out come values; a cycle in which there is a gap, or a
filled sample where it matters, is refused with the reason.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from gaittrack.measures.reading import OpenCycles
from gaittrack.measures.recording import Read
from gaittrack.measures.samples import (
    Frames,
    Grid,
    Instants,
    IntArray,
    Samples,
    Series,
    Window,
    frames_of,
    window_of,
)
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray


class SampledCycles(OpenCycles):
    """Cycles and where they lie in the samples of every track."""

    def __init__(
        self,
        grid: Grid,
        zones: tuple[FloatArray, FloatArray],
        joined: Callable[[frozenset[Read]], Read],
    ) -> None:
        super().__init__(len(grid.start), joined)
        self.grid, self._zones = grid, zones
        self._windows: dict[tuple[Series, Window], tuple[Samples, bool]] = {}
        self._places: dict[float, tuple[FloatArray | float, Instants]] = {}

    def window(self, start: FloatArray | float, end: FloatArray | float) -> Window:
        """Return the window between two fractions of each cycle."""
        everywhere = np.zeros_like(self.grid.start)
        return window_of(self.grid, start + everywhere, end + everywhere)

    def values_in(self, track: Series, window: Window, *, refuse_filled: bool = False) -> Samples:
        """Return the samples of a window, with interpolated ends.

        A cycle is refused in which the window is empty, has a gap, reaches past the recording or
        has a filled sample within 50 ms of an event; with ``refuse_filled`` any filled sample.
        """
        key = track, window
        if key not in self._windows:
            found = window.places.read(track.values)
            is_whole = not any(np.isnan(np.add.reduce(found, axis=1)).tolist())
            self._windows[key] = Samples(found, window), is_whole and track.n_filled is None
        samples, is_sound = self._windows[key]
        if not is_sound:
            why = partial(self._refuse_in, track, samples, refuse_filled)
            self.once((*key, refuse_filled), why)
        return samples

    def value_at(self, track: Series, fraction: FloatArray | float) -> FloatArray:
        """Return the value at a fraction of each cycle, linear between samples.

        A cycle is refused in which nothing was recorded there, or the instant belongs to an event
        and a sample within 50 ms of that event was filled.
        """
        key = fraction if isinstance(fraction, float) else id(fraction)
        if key not in self._places:
            self._places[key] = fraction, self.grid.place(self.grid.index_of(fraction))
        values = self._places[key][1].read(track.values)
        if any(np.isnan(values).tolist()):
            self._refuse_at(track, self.grid.index_of(fraction))
        if track.n_filled is not None:
            start, end = self._zones
            belongs = (start <= fraction) & (fraction <= end)
            is_filled = belongs & self.grid.any_filled(track, start, end)
            self._refuse(track, np.logical_or.reduce(is_filled, axis=0), "filled_gap")
        return values

    def samples_between(self, start: FloatArray | float, end: FloatArray | float) -> Frames:
        """Return the samples after one fraction of each cycle and up to another, as in tracks."""
        lower, upper = (np.trunc(self.grid.index_of(each)) + 1 for each in (start, end))
        at, are = frames_of(lower, upper, self.grid.n_samples)
        return Frames(at + self.grid.first[:, None], are)

    def fraction_of_sample(self, at: IntArray, shift: FloatArray) -> FloatArray:
        """Return the fraction of each cycle some part of a sample past one of its track."""
        return self.grid.fraction_of(at - self.grid.first + shift)

    def _refuse_in(self, track: Series, samples: Samples, refuse_filled: bool) -> None:
        values, window = samples
        self._refuse(track, ~(window.first < window.last), "no_samples")
        self._refuse_at(track, window.first)
        self._refuse_at(track, window.last)
        self._refuse(track, np.isnan(np.add.reduce(values, axis=1)), "gap")
        if track.n_filled is not None:
            start, end = window.start[None], window.end[None]
            if not refuse_filled:
                start, end = np.maximum(start, self._zones[0]), np.minimum(end, self._zones[1])
            is_filled = self.grid.any_filled(track, start, end)
            self._refuse(track, np.logical_or.reduce(is_filled, axis=0), "filled_gap")

    def _refuse_at(self, track: Series, index: FloatArray) -> None:
        self._refuse(track, self.grid.is_outside(index), "not_reached")
        self._refuse(track, np.isnan(self.grid.place(index).read(track.values)), "gap")

    def _refuse(self, track: Series, where: BoolArray, code: str) -> None:
        if any(where.tolist()):
            self.refuse(where, Reason(code, of=track.what))
