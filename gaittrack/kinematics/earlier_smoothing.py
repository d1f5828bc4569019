"""Whether markers were low-passed before they came here, as many exports are.

In come the landmarks of a recording as they were read, out comes how little is left of the quick
part of their movement. A foot that falls is slower in such a file, whatever is done with it here.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Final, NamedTuple

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
_SHORTEST_S: Final = 1.0


def are_smoothed(points: Mapping[str, FloatArray], rate_hz: float) -> bool:
    """Tell whether the markers of feet, ankles and knees were low-passed before.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)
        Not smoothed here; gaps as NaN.

    Returns
    -------
    bool
        False as well where too little is seen, or the frame rate is too low to tell.
    """
    if rate_hz < 2 * QUICK_BAND_HZ[1]:
        return False
    own = [xyz for key, xyz in points.items() if key.endswith(OF_LEG)]
    shares: list[float] = []
    for n_looked_at, xyz in enumerate(own, 1):
        share = _quick_share(xyz, rate_hz)
        shares += [] if share is None else [share]
        n_below = sum(share < LEAST_QUICK_SHARE for share in shares)
        n_most = len(shares) + len(own) - n_looked_at
        if 2 * max(n_below, len(shares) - n_below) > n_most:  # whatever the rest show
            return 2 * n_below > n_most
    return bool(shares) and median_of(np.array(shares)) < LEAST_QUICK_SHARE


def _quick_share(xyz: FloatArray, rate_hz: float) -> float | None:
    """Return the amplitude in the quick band over that in the slow one, of the longest stretch.

    Of positions; reckoned from their second differences, since the way walked hides all else.
    """
    stretches = runs(~np.isnan(xyz[:, 0]))
    start, stop = max(stretches, key=lambda run: run[1] - run[0], default=(0, 0))
    if stop - start < _SHORTEST_S * rate_hz:
        return None
    bent = np.diff(xyz[start:stop], 2, axis=0)
    looking = _looking(len(bent), rate_hz)
    spectrum = np.fft.rfft(bent * looking.window, axis=0)
    slow, quick = (
        ((np.abs(spectrum[of_band]) ** 2).sum(axis=1) / weights).mean()
        for of_band, weights in looking.bands
    )
    return float(np.sqrt(quick / slow)) if slow > 0 else None


class _Looking(NamedTuple):
    """How a stretch of so many frames is looked at: its window, bins and weights of both bands."""

    window: FloatArray
    bands: tuple[tuple[slice, FloatArray], ...]


@lru_cache(maxsize=8)
def _looking(n_frames: int, rate_hz: float) -> _Looking:
    hz = np.fft.rfftfreq(n_frames, 1 / rate_hz)
    edges = [np.searchsorted(hz, band).tolist() for band in (SLOW_BAND_HZ, QUICK_BAND_HZ)]
    bands = [slice(first, stop) for first, stop in edges]
    weights = [np.sin(np.pi * hz[of_band] / rate_hz) ** 4 for of_band in bands]
    return _Looking(np.hanning(n_frames)[:, None], tuple(zip(bands, weights, strict=True)))
