"""Whether markers were low-passed before they came here, as many exports are.

In come the landmarks of a recording as they were read, out comes how little is left of the quick
part of their movement. A foot that falls is slower in such a file, whatever is done with it here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.marker_noise import OF_LEG
from gaittrack.quick_numpy import median_of
from gaittrack.trial import FloatArray

SLOW_BAND_HZ: Final = (9.0, 12.0)
QUICK_BAND_HZ: Final = (16.0, 20.0)
LEAST_QUICK_SHARE: Final = 0.1
"""Movement in the quick band over that in the slow one below which the markers were low-passed.
Own measurement: 0.19 and more in 180 made-up and recorded walks as the cameras saw them, at most
0.09 after a 6 Hz filter, 0.04 to 0.19 after one of 10 Hz."""
MIDDLE_BAND: Final = (0.55, 0.7)
TOP_BAND: Final = (0.8, 0.95)
"""Shares of half the frame rate."""
LEAST_TOP_SHARE: Final = 0.2
"""Noise in the top band over that in the middle one below which a marker was low-passed. Own
measurement: 0.66 and more in each raw marker, 0.01 to 0.03 after any such filter, 0.17 to 0.4 in a
recording that came smoothed otherwise."""
LOW_CUT_SHARE: Final = 0.4
"""Own choice: a cut-off of 20 Hz leaves 0.4, one of 30 Hz 0.1."""
_SHORTEST_S: Final = 1.0


def smoothed_before(points: Mapping[str, FloatArray], rate_hz: float) -> frozenset[str]:
    """Return which markers of feet, ankles and knees were low-passed before.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)
        Not smoothed here; gaps as NaN.

    Returns
    -------
    frozenset of str
        All of them where most have lost the quick part of their movement, else those whose noise
        falls as behind a filter; none where too little is seen, or the frame rate is too low.
    """
    if rate_hz < 2 * QUICK_BAND_HZ[1]:
        return frozenset()
    own = {key: xyz for key, xyz in points.items() if key.endswith(OF_LEG)}
    bands = _bands_of(own, rate_hz)
    shares = [quick / slow for slow, quick, *_ in bands.values() if slow > 0]
    if shares and median_of(np.array(shares)) < LEAST_QUICK_SHARE:
        return frozenset(own)
    return frozenset(key for key, found in bands.items() if _falls(found, rate_hz))


def _falls(bands: Sequence[float], rate_hz: float) -> bool:
    """Tell whether noise falls towards half the frame rate as behind a filter that is low.

    Behind its cut-off a Butterworth filter run both ways leaves the fourth power of
    cot(pi f / rate): with less than that in the quick band, the cut-off is higher.
    """
    _, quick, middle, top = bands
    if not top < LEAST_TOP_SHARE * middle:
        return False
    tangents = [
        math.tan(math.pi * hz / rate_hz)
        for hz in (sum(QUICK_BAND_HZ) / 2, sum(MIDDLE_BAND) * rate_hz / 4)
    ]
    return quick > LOW_CUT_SHARE * middle * (tangents[1] / tangents[0]) ** 4


def _bands_of(points: Mapping[str, FloatArray], rate_hz: float) -> dict[str, list[float]]:
    """Return the amplitudes in the slow, quick, middle and top band, of the longest stretch.

    Of positions; reckoned from their second differences, since the way walked hides all else.
    Markers that are seen alike are reckoned together.
    """
    alike: dict[tuple[int, int], list[str]] = {}
    for key, xyz in points.items():
        longest = max(runs(~np.isnan(xyz[:, 0])), key=lambda run: run[1] - run[0], default=(0, 0))
        if longest[1] - longest[0] >= _SHORTEST_S * rate_hz:
            alike.setdefault(longest, []).append(key)
    found: dict[str, list[float]] = {}
    for (start, stop), keys in alike.items():
        stack = np.stack([points[key][start:stop].T for key in keys])
        found |= dict(zip(keys, _bands(stack, rate_hz).tolist(), strict=True))
    return found


def _bands(places: FloatArray, rate_hz: float) -> FloatArray:
    """Return the amplitudes of each marker in each band; ``places`` (n_markers, 3, n_frames)."""
    bent = np.diff(places, 2)
    spectrum = np.fft.rfft(bent * np.hanning(bent.shape[-1]))[..., 1:]
    hz = np.fft.rfftfreq(bent.shape[-1], 1 / rate_hz)[1:]
    parts = spectrum.real**2 + spectrum.imag**2
    power = parts.sum(axis=1) / np.sin(np.pi * hz / rate_hz) ** 4
    half = rate_hz / 2
    ends = (
        SLOW_BAND_HZ,
        QUICK_BAND_HZ,
        *((a * half, b * half) for a, b in (MIDDLE_BAND, TOP_BAND)),
    )
    spans = [np.searchsorted(hz, pair) for pair in ends]
    means: FloatArray = np.stack([power[:, a:b].mean(axis=1) for a, b in spans], axis=1)
    return np.sqrt(means, out=means)
