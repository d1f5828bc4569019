"""Short gaps are filled and remembered; long ones stay.

In come marker positions with NaN, out go positions with gaps of at most 0.1 s filled and the mask
of what was filled. Nothing is extrapolated.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gaittrack.late import lapack
from gaittrack.trial import BoolArray, FloatArray

IntArray = NDArray[np.intp]

LONGEST_FILL_S = 0.1
"""Longest gap that is filled; habit of the trade, own choice (no source)."""
_NEIGHBOURS = 6
"""Samples on each side that a fill is fitted to."""


def runs(mask: BoolArray) -> list[tuple[int, int]]:
    """Return (start, stop) of each run of True in a one-dimensional mask; stop is exclusive."""
    led = np.zeros(len(mask) + 2, dtype=bool)
    led[1:-1] = mask
    edges = (led[1:] != led[:-1]).nonzero()[0].tolist()
    return list(zip(edges[::2], edges[1::2], strict=True))


def fill_short_gaps(
    positions: FloatArray, *, rate_hz: float, longest_s: float = LONGEST_FILL_S
) -> tuple[FloatArray, BoolArray]:
    """Fill the short inner gaps of one point.

    Parameters
    ----------
    positions : ndarray, shape (n_frames, 3)
        Metres; a frame with any NaN counts as missing.
    longest_s : float
        Longest gap that is filled.

    Returns
    -------
    filled : ndarray, shape (n_frames, 3)
        A cubic spline through up to six samples on each side; longer gaps stay NaN.
    mask : ndarray of bool, shape (n_frames,)
        True where a sample was filled.
    """
    mask = np.zeros(len(positions), dtype=np.bool_)
    if not np.isnan(np.add.reduce(positions, axis=None)):
        return positions, mask
    missing: BoolArray = np.any(np.isnan(positions), axis=1)
    out = positions.copy()
    out[missing] = np.nan
    longest = int(round(longest_s * rate_hz))
    for start, stop in runs(missing):
        if start == 0 or stop == len(missing) or stop - start > longest:
            continue
        near = np.arange(max(0, start - _NEIGHBOURS), min(len(missing), stop + _NEIGHBOURS))
        near = near[~missing[near]]
        if (near < start).sum() < 2 or (near >= stop).sum() < 2:
            continue
        out[start:stop] = _bridge(near, positions[near], start, stop)
        mask[start:stop] = True
    return out, mask


def _bridge(frames: IntArray, places: FloatArray, start: int, stop: int) -> FloatArray:
    """Return the cubic spline through four places or more, in one of the gaps between them.

    What ``scipy.interpolate.CubicSpline`` gives, which takes a fifth of a second to load.
    """
    steps = np.diff(frames).astype(np.float64)
    slopes = np.diff(places, axis=0) / steps[:, None]
    first, last = steps[0] + steps[1], steps[-1] + steps[-2]
    above, below = np.concatenate(([first], steps[:-1])), np.concatenate((steps[1:], [last]))
    middle = np.concatenate(([steps[1]], 2 * (steps[:-1] + steps[1:]), [steps[-2]]))
    known = np.empty_like(places)
    known[0] = (steps[0] + 2 * first) * steps[1] * slopes[0] + steps[0] ** 2 * slopes[1]
    known[0] /= first
    known[1:-1] = 3 * (steps[1:, None] * slopes[:-1] + steps[:-1, None] * slopes[1:])
    known[-1] = steps[-1] ** 2 * slopes[-2] + (2 * last + steps[-1]) * steps[-2] * slopes[-1]
    known[-1] /= last
    *_, rates, _ = lapack.dgtsv(below, middle, above, known)
    before = int(np.searchsorted(frames, start)) - 1
    step, slope, rate = steps[before], slopes[before], rates[before]
    bend = (rate + rates[before + 1] - 2 * slope) / step
    way = (np.arange(start, stop) - frames[before])[:, None].astype(np.float64)
    bridge: FloatArray = places[before] + rate * way
    bridge += ((slope - rate) / step - bend) * (way * way)
    bridge += bend / step * (way * way * way)
    return bridge
