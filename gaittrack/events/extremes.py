"""Turning points of a curve that are larger than noise.

In comes a curve, out come its alternating maxima and minima, to a fraction of a frame.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gaittrack.trial import FloatArray

_EDGE_SHARE = 0.15
"""Share of the full size by which the curve must have turned at the ends of a recording."""


@dataclass(frozen=True, slots=True)
class Extreme:
    """A turning point: frame (may lie between two) and whether it is a maximum."""

    frame: float
    is_maximum: bool


def extremes(curve: FloatArray, *, size: float, edge: int) -> list[Extreme]:
    """Find alternating maxima and minima.

    Parameters
    ----------
    curve : ndarray, shape (n_frames,)
        Without NaN.
    size : float
        Smallest rise or fall between neighbours that counts.
    edge : int
        A first or last turning point counts from this many frames inside the recording on, when
        the curve has turned there by a share of ``size``.

    Returns
    -------
    list of Extreme
        In order of frame.
    """
    found: list[tuple[int, bool]] = []
    high = low = 0
    values = curve.tolist()
    highest = lowest = values[0]
    rising: bool | None = None
    for frame, value in enumerate(values):
        if value > highest:
            high, highest = frame, value
        if value < lowest:
            low, lowest = frame, value
        if rising is not False and highest - value > size:
            found.append((high, True))
            rising, low, lowest = False, frame, value
        elif rising is not True and value - lowest > size:
            found.append((low, False))
            rising, high, highest = True, frame, value
    if rising is not None:
        found.append((high, True) if rising else (low, False))
    kept = [(frame, top) for frame, top in found if _is_inside(curve, frame, size, edge)]
    return [Extreme(_between_frames(curve, frame), top) for frame, top in kept]


def _is_inside(curve: FloatArray, frame: int, size: float, edge: int) -> bool:
    """Whether the curve was seen to turn on both sides of a frame."""
    if frame < edge or frame > len(curve) - 1 - edge:
        return False
    before = np.abs(curve[: frame + 1] - curve[frame]).max()
    after = np.abs(curve[frame:] - curve[frame]).max()
    return bool(min(before, after) > _EDGE_SHARE * size)


def _between_frames(curve: FloatArray, frame: int) -> float:
    """Return the top of the parabola through a frame and its neighbours."""
    if frame == 0 or frame == len(curve) - 1:
        return float(frame)
    left, middle, right = curve[frame - 1 : frame + 2].tolist()
    bend = left - 2 * middle + right
    return float(frame) if bend == 0 else frame + min(max(0.5 * (left - right) / bend, -1.0), 1.0)


def peak_near(curve: FloatArray, first: int, stop: int) -> float | None:
    """Return the highest local maximum of ``curve`` in frames ``first`` to ``stop`` (exclusive).

    Returns
    -------
    float or None
        To a fraction of a frame; None when the curve has no inner maximum there.
    """
    frames = np.arange(max(first, 1), min(stop, len(curve) - 1))
    if not len(frames):
        return None
    middle = curve[frames]
    frames = frames[(middle >= curve[frames - 1]) & (middle > curve[frames + 1])]
    if not len(frames):
        return None
    return _between_frames(curve, int(frames[np.argmax(curve[frames])]))
