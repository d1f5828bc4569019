"""Low-pass filtering that keeps the timing and leaves gaps alone.

In come positions with NaN where a marker was not seen, out go the same, low-passed with a
zero-lag fourth-order Butterworth filter (second order run forwards and backwards).
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from gaittrack.kinematics.butterworth import low_pass_section, run
from gaittrack.kinematics.gaps import runs
from gaittrack.trial import FloatArray

ANGLE_CUTOFF_HZ = 6.0
"""Angles, clearance and positions; the trade's habit (4-20 Hz in doi:10.3390/app15042177)."""
RATE_CUTOFF_HZ = 15.0
"""Contacts, the knee's speed in loading, when the foot has landed; own choice."""
FALL_CUTOFF_HZ = 20.0
"""Speed of the falling foot. Of a slap's peak 6 Hz keep about half, 15 Hz 86 %, 20 Hz 95 %; see
tests/golden/rate_estimators.py."""
FALL_TIMING_CUTOFF_HZ = 8.0
"""When the foot falls fastest: the highest of a noisy speed is too high, the speed at an instant
that was found without it is not; see tests/golden/rate_estimators.py."""
TOE_OFF_CUTOFF_HZ = 8.0
"""Toe-off by position; own choice, tuned on force plates (see tests/golden)."""
_DUAL_PASS: float = (math.sqrt(2) - 1) ** 0.25
"""A second-order filter run twice is 3 dB down at the wanted cut-off when it is designed for
cutoff / 0.802, on the warped scale of a sampled filter: Robertson and Dowling 2003, J Electromyogr
Kinesiol 13:569 (from memory)."""
_LEAST_FRAMES = 4
_HIGHEST_SHARE = 0.9
"""Share of half the frame rate above which a cut-off is not applied."""


@lru_cache(maxsize=64)
def _section(cutoff_hz: float, rate_hz: float) -> tuple[FloatArray, FloatArray]:
    """Return the filter and the state it is in after a steady value of 1."""
    return low_pass_section(_design_hz(cutoff_hz, rate_hz), rate_hz)


def _design_hz(cutoff_hz: float, rate_hz: float) -> float:
    """Return the cut-off of the single pass; the warping matters near half the frame rate."""
    warped = math.tan(math.pi * cutoff_hz / rate_hz)
    return rate_hz / math.pi * math.atan(warped / _DUAL_PASS)


def can_filter(cutoff_hz: float, rate_hz: float) -> bool:
    """Whether the cut-off lies far enough below half the frame rate to be applied."""
    return cutoff_hz / _DUAL_PASS < _HIGHEST_SHARE * rate_hz / 2


def low_pass(values: FloatArray, *, cutoff_hz: float, rate_hz: float, axis: int = 0) -> FloatArray:
    """Low-pass over time.

    Parameters
    ----------
    values : ndarray
        NaN where nothing was recorded; each stretch between gaps is filtered on its own.
    cutoff_hz : float
        Frequency at which the result is 3 dB down.
    axis : int
        That of the frames.

    Returns
    -------
    ndarray
        Same shape; unchanged when the frame rate is too low for the cut-off
        (see :func:`can_filter`). Stretches of fewer than four frames become NaN.
    """
    if not can_filter(cutoff_hz, rate_hz):
        return values
    rows = values.swapaxes(axis, -1)
    is_whole = rows.shape[-1] >= _LEAST_FRAMES and not np.isnan(np.add.reduce(values, axis=None))
    filtering = _filter_block if is_whole else _filter_stretches
    return np.ascontiguousarray(filtering(rows, cutoff_hz, rate_hz).swapaxes(axis, -1))


def _filter_stretches(values: FloatArray, cutoff_hz: float, rate_hz: float) -> FloatArray:
    """Filter each stretch between gaps; rows with the same gaps together."""
    rows = values.reshape(-1, values.shape[-1])
    seen = ~np.isnan(rows)
    out = np.full(rows.shape, np.nan)
    alike: dict[bytes, list[int]] = {}
    for row, mask in enumerate(seen):
        alike.setdefault(mask.tobytes(), []).append(row)
    for together in alike.values():
        for start, stop in runs(seen[together[0]]):
            if stop - start >= _LEAST_FRAMES:
                block = rows[together, start:stop]
                out[together, start:stop] = _filter_block(block, cutoff_hz, rate_hz)
    return out.reshape(values.shape)


def _filter_block(block: FloatArray, cutoff_hz: float, rate_hz: float) -> FloatArray:
    """Filter along the last axis forwards and backwards, the ends padded by odd reflection.

    As ``scipy.signal.sosfiltfilt``, which reckons the steady state anew each time.
    """
    n = block.shape[-1]
    pad = min(n - 1, int(round(2 * rate_hz / cutoff_hz)))
    section, steady = _section(cutoff_hz, rate_hz)
    there = np.empty((*block.shape[:-1], n + 2 * pad))
    inner = there[..., pad : pad + n]
    inner[...] = block
    np.subtract(2 * inner[..., :1], inner[..., pad:0:-1], out=there[..., :pad])
    np.subtract(2 * inner[..., -1:], inner[..., -2 : -pad - 2 : -1], out=there[..., pad + n :])
    rows = there.reshape(-1, n + 2 * pad)
    run(section, rows, steady * rows[:, :1, None])
    back = np.ascontiguousarray(rows[:, ::-1])
    run(section, back, steady * back[:, :1, None])
    filtered: FloatArray = back.reshape(there.shape)[..., ::-1][..., pad : pad + n]
    return filtered


def velocity(values: FloatArray, rate_hz: float) -> FloatArray:
    """Return the central-difference rate of change per second along the first axis.

    As ``numpy.gradient``, which takes ten times as long for the few hundred frames of a step.
    """
    frame_s = 1.0 / rate_hz
    change = np.empty_like(values)
    inner = change[1:-1]
    np.subtract(values[2:], values[:-2], out=inner)
    inner /= 2.0 * frame_s
    change[0], change[-1] = (values[1] - values[0]) / frame_s, (values[-1] - values[-2]) / frame_s
    return change
