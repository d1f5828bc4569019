"""Reading one quantity over one cycle.

In comes a track: a series with the position of the cycle in it, read by fraction of the cycle (0 at
contact, 1 at the next). A recording over time and a 0-100 % curve of a sheet look the same from
here. Out come values and windows with ends between samples. Gaps, and filled samples where they
matter, end in :class:`NotDefined`, whose reason stands beside the value.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray

_INDEX_SLACK = 1e-6


class NotDefined(Exception):  # noqa: N818 - a result, not an error; it never leaves this room
    """The cycle does not show the quantity, for a reason."""

    def __init__(self, reason: Reason) -> None:
        self.reason = reason
        super().__init__(reason)


@dataclass(eq=False, slots=True)
class CycleSamples:
    """One quantity and where the cycle lies in it.

    Attributes
    ----------
    values : ndarray, shape (n_samples,)
        The whole recording, or the whole curve.
    start_index, n_steps : float
        Sample position of the cycle's start, and samples from its start to its end.
    filled : ndarray of bool, shape (n_samples,), or None
        Samples that were filled or depend on filled ones; None when there are none.
    zones : tuple of (float, float)
        Fractions of the cycle that lie within 50 ms of an event.
    what : str
        Which joint or point, as reasons name it.
    kept : dict
        Windows read so far, since several measures read the same one.
    """

    values: FloatArray
    start_index: float
    n_steps: float
    filled: BoolArray | None
    zones: tuple[tuple[float, float], ...]
    what: str
    kept: dict[tuple[float, float, bool], FloatArray] = field(default_factory=dict)

    def index_of(self, fraction: float) -> float:
        """Return the sample position of a fraction of the cycle."""
        return self.start_index + fraction * self.n_steps

    def fraction_of(self, index: float) -> float:
        """Return the fraction of the cycle at a sample position."""
        return (index - self.start_index) / self.n_steps


def value_at(track: CycleSamples, fraction: float) -> float:
    """Return the value at a fraction of the cycle, linear between samples.

    Raises
    ------
    NotDefined
        Nothing was recorded there, or the instant belongs to an event and a sample within 50 ms of
        that event was filled.
    """
    value = _between_samples(track, track.index_of(fraction))
    if track.filled is not None:
        for start, end in track.zones:
            if start <= fraction <= end:
                _refuse_filled(track, start, end)
    return value


def values_in(
    track: CycleSamples, start: float, end: float, *, refuse_filled: bool = False
) -> FloatArray:
    """Return the samples between two fractions of the cycle, with interpolated ends.

    Parameters
    ----------
    start, end : float
        Fractions of the cycle; they need not fall on samples.
    refuse_filled : bool
        Refuse any filled sample, not only those within 50 ms of an event.

    Returns
    -------
    ndarray, shape (n,)

    Raises
    ------
    NotDefined
        The window is empty, has a gap, reaches past the recording or has a refused sample.
    """
    key = (start, end, refuse_filled)
    values = track.kept.get(key)
    if values is None:
        values = _read_window(track, start, end)
        if track.filled is not None:
            for zone_start, zone_end in ((start, end),) if refuse_filled else track.zones:
                _refuse_filled(track, max(start, zone_start), min(end, zone_end))
        track.kept[key] = values
    return values


def fraction_of_sample(track: CycleSamples, start: float, end: float, place: int) -> float:
    """Return the fraction of the cycle at which a sample of :func:`values_in` lies."""
    first = track.index_of(start)
    index = min(int(first) + place, track.index_of(end)) if place else first
    return track.fraction_of(index)


def _read_window(track: CycleSamples, start: float, end: float) -> FloatArray:
    first, last = track.index_of(start), track.index_of(end)
    if not first < last:
        raise NotDefined(Reason("no_samples", of=track.what))
    lower, upper = int(first) + 1, math.ceil(last)
    values = np.empty(upper - lower + 2)
    values[0], values[-1] = _between_samples(track, first), _between_samples(track, last)
    values[1:-1] = track.values[lower:upper]
    if math.isnan(np.add.reduce(values)):
        raise NotDefined(Reason("gap", of=track.what))
    return values


def _between_samples(track: CycleSamples, index: float) -> float:
    values = track.values
    last = len(values) - 1
    if not -_INDEX_SLACK <= index <= last + _INDEX_SLACK:
        raise NotDefined(Reason("not_reached", of=track.what))
    lower = int(index)
    share = index - lower
    value: float = values.item(lower)
    if share > _INDEX_SLACK and lower < last:
        value += share * (values.item(lower + 1) - value)
    if math.isnan(value):
        raise NotDefined(Reason("gap", of=track.what))
    return value


def _refuse_filled(track: CycleSamples, start: float, end: float) -> None:
    if track.filled is None or not start < end:
        return
    lower = max(math.ceil(track.index_of(start) - _INDEX_SLACK), 0)
    upper = math.floor(track.index_of(end) + _INDEX_SLACK) + 1
    if track.filled[lower:upper].any():
        raise NotDefined(Reason("filled_gap", of=track.what))
