"""Short gaps are filled and remembered; long ones stay.

In come marker positions with NaN, out go positions with gaps of at most 0.1 s filled and the mask
of what was filled. Nothing is extrapolated.
"""

from __future__ import annotations

import numpy as np

from gaittrack.late import interpolate
from gaittrack.trial import BoolArray, FloatArray

LONGEST_FILL_S = 0.1
"""Longest gap that is filled; habit of the trade, own choice (no source)."""
_NEIGHBOURS = 6
"""Samples on each side that a fill is fitted to."""


def runs(mask: BoolArray) -> list[tuple[int, int]]:
    """Return (start, stop) of each run of True in a one-dimensional mask; stop is exclusive."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(np.int8), [0]))))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


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
    missing: BoolArray = np.any(np.isnan(positions), axis=1)
    mask = np.zeros(len(missing), dtype=np.bool_)
    if not missing.any():
        return positions, mask
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
        out[start:stop] = interpolate.CubicSpline(near, positions[near])(np.arange(start, stop))
        mask[start:stop] = True
    return out, mask
