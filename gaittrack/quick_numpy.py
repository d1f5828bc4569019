"""What numpy gives, to the last digit, in a fraction of its time.

In come values of one recording, out come medians, quantiles and lengths. A file asks for some
hundred of them, each of a step or a few hundred frames: there numpy takes ten times as long to find
out what it was given as to reckon. Of many values it sorts more than is asked for.
``ufunc.reduce`` is as quick for sums and extremes.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from gaittrack.trial import BoolArray, FloatArray

_MANY: Final = 2000
"""So many values are quicker parted than sorted."""
_FEW: Final = 100
"""Fewer values in each of several rows are quicker sorted than parted."""


def mean_of(values: FloatArray) -> float:
    """Return ``values.mean()``."""
    return float(np.add.reduce(values) / len(values))


def median_of(values: FloatArray) -> float:
    """Return ``np.median(values)`` of one row of values; NaN of none."""
    n = len(values)
    if not n:
        return math.nan
    if n >= _MANY:
        return _median_of_many(values)
    ordered = values.copy()
    ordered.sort()
    last: float = ordered.item(-1)
    if math.isnan(last):
        return last
    high: float = ordered.item(n // 2)
    return high if n % 2 else (ordered.item(n // 2 - 1) + high) / 2


def _median_of_many(values: FloatArray) -> float:
    """Return the median of values parted in the middle, which costs a quarter of sorting them."""
    half = len(values) // 2
    parted = np.partition(values, half)
    if np.isnan(np.add.reduce(parted[half:])):  # what is unknown is sorted to the end
        return math.nan
    high: float = parted.item(half)
    return high if len(values) % 2 else (float(np.maximum.reduce(parted[:half])) + high) / 2


def medians_of(values: FloatArray, *, axis: int) -> FloatArray:
    """Return ``np.median(values, axis=axis)``."""
    rows = np.moveaxis(values, axis, -1).copy(order="C")
    half, is_odd = rows.shape[-1] // 2, rows.shape[-1] % 2
    if rows.shape[-1] < _FEW:
        rows.sort()
        middle = rows[..., half] if is_odd else (rows[..., half - 1] + rows[..., half]) / 2
        return np.asarray(np.where(np.isnan(rows[..., -1]), np.nan, middle))
    rows.partition(half)
    high = rows[..., half]
    middle = high if is_odd else (np.maximum.reduce(rows[..., :half], axis=-1) + high) / 2
    is_known = ~np.isnan(np.add.reduce(rows[..., half:], axis=-1))  # NaN is sorted to the end
    return np.asarray(np.where(is_known, middle, np.nan))


def gaps_of(points: FloatArray) -> BoolArray:
    """Return ``np.isnan(points).any(axis=-1)`` of points whose coordinates are finite or NaN."""
    total = points[..., 0] + points[..., 1]
    total += points[..., 2]
    return np.isnan(total)


def known_of(values: FloatArray) -> FloatArray:
    """Return ``values[~np.isnan(values)]`` of one row of values, itself where all are known."""
    return values[~np.isnan(values)] if math.isnan(np.add.reduce(values)) else values


def medians_of_runs(values: FloatArray, spans: ArrayLike) -> FloatArray:
    """Return ``np.median(values[start:stop], axis=0)`` of each span, all of them at once.

    Parameters
    ----------
    values : ndarray, shape (n, …)
    spans : array_like, shape (n_spans, 2)
        Start and stop of each; none of them empty.

    Returns
    -------
    ndarray, shape (n_spans, …)
    """
    starts, stops = np.array(spans, dtype=np.intp).reshape(-1, 2).T
    counts = stops - starts
    places = starts[:, None] + np.arange(counts.max(initial=1))
    padded = values[np.minimum(places, len(values) - 1)]
    padded[places >= stops[:, None]] = np.nan  # sorted to the end, past what is there
    ordered = np.sort(np.moveaxis(padded, 1, 0), axis=0)
    spans_of = np.arange(len(counts))
    last, high, low = (ordered[at, spans_of] for at in (counts - 1, counts // 2, (counts - 1) // 2))
    is_known = ~np.isnan(last)
    return np.asarray(np.where(is_known, (low + high) / 2, np.nan))


def quantiles_of(values: FloatArray, *shares: float) -> tuple[float, ...]:
    """Return ``np.quantile(values, shares)`` of one row of values without gaps."""
    if len(shares) == 1 and len(values) >= _MANY:
        return (_at_share_of_many(values, shares[0]),)
    ordered = np.sort(values)
    return tuple(_at_share(ordered, share) for share in shares)


def _at_share_of_many(values: FloatArray, share: float) -> float:
    before = int((len(values) - 1) * share)
    parted = np.partition(values, before)
    if before + 1 < len(values):
        parted[before + 1] = np.minimum.reduce(parted[before + 1 :])
    return _at_share(parted, share)


def _at_share(ordered: FloatArray, share: float) -> float:
    place = (len(ordered) - 1) * share
    before = int(place)
    part = place - before
    low: float = ordered.item(before)
    high: float = ordered.item(min(before + 1, len(ordered) - 1))
    return high - (high - low) * (1 - part) if part >= 0.5 else low + (high - low) * part


def lengths_of(vectors: FloatArray) -> FloatArray:
    """Return ``np.linalg.norm(vectors, axis=-1)``."""
    squares = vectors * vectors
    total = squares[..., 0]
    for axis in range(1, vectors.shape[-1]):
        total += squares[..., axis]
    lengths: FloatArray = np.sqrt(total)
    return lengths
