"""Markers that jump: moved for some frames further than a body moves, or for good.

In come landmark positions as recorded, out go the frames in which a marker is elsewhere, the
markers that jump and never come back (names exchanged on the way, a marker that slipped), and the
noise of each marker. What is looked at is the step from one frame to the next that the speeds
before and after it do not explain.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from gaittrack.errors import Problem
from gaittrack.kinematics.gaps import LONGEST_FILL_S
from gaittrack.quick_numpy import median_of, medians_of
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray

LARGEST_KICK_M_S: Final = 3.0
"""Change of speed from one frame to the next past which a marker jumped; own choice: a foot that
strikes the floor shows 0.2 m/s in smoothed recordings and 1.5 m/s in raw ones."""
LARGEST_KNEE_KICK_M_S: Final = 8.0
"""The same at the knee, which snaps straight; own choice: simulated knees reach 7.7 m/s."""
NOISE_FACTOR: Final = 8.0
"""Multiple of a marker's own median step that counts as a jump at least; own choice: noise alone
reaches 3 in a minute at 100 Hz."""
NOISE_PER_MEDIAN: Final = 1 / (1.538 * np.sqrt(5))
"""SD of one coordinate over the median size of the unexplained step: that step is half a third
difference, of variance 20/4 times the noise's, and 1.538 is the median length of a vector of three
standard normal numbers."""
_KNEE: Final = "knee"
AT_ONCE: Final = 50_000
"""Numbers that are looked at together: more of them leave the processor's near memory."""
ECHO_SHARE: Final = 0.7
"""Share of the step beside it below which a step is its echo: half or a third, by arithmetic."""
TORN_SHARE: Final = 0.1
"""Share of the frames from which on the place jumped to may be the right one; own choice."""
_SAME_M: Final = 1e-7
"""Coordinates closer than this are the same number, turned into metres."""
RETURN_SHARE: Final = 0.5
"""Rest of two jumps, as a share of the larger, up to which the second undoes the first; own choice:
the place jumped to may move by itself."""


@dataclass(frozen=True, slots=True)
class Jumps:
    """What was found in one recording.

    Attributes
    ----------
    away : mapping of landmark to ndarray of bool, shape (n_frames,)
        Frames in which it is elsewhere.
    torn : mapping of landmark to tuple of int
        Landmarks in two places, each for a good part of the frames, with the frames it jumps at.
    noise_m : mapping of landmark to float
        SD of one coordinate from frame to frame; NaN where too little is seen.
    """

    away: Mapping[str, BoolArray]
    torn: Mapping[str, tuple[int, ...]]
    noise_m: Mapping[str, float]


def find_jumps(points: Mapping[str, FloatArray], rate_hz: float) -> Jumps:
    """Find the jumps of each landmark.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)
        Metres, any axes.
    """
    keys = list(points)
    if not keys or len(points[keys[0]]) < 4:
        return Jumps({}, {}, dict.fromkeys(keys, float("nan")))
    stack = np.stack([points[key] for key in keys])
    parts = np.array_split(stack, -(-stack.size // AT_ONCE))
    kicks, coarseness = map(np.concatenate, zip(*map(_looked_at, parts), strict=True))
    seen = ~np.isnan(stack[..., 0])
    typical = _medians(kicks)
    largest = [LARGEST_KNEE_KICK_M_S if _KNEE in key else LARGEST_KICK_M_S for key in keys]
    limits = np.fmax(np.array(largest) / (2 * rate_hz), NOISE_FACTOR * typical)
    whole = seen.all(axis=1)
    suspect = ~whole | (np.fmax.reduce(kicks, axis=1) > limits)
    away: dict[str, BoolArray] = {}
    torn: dict[str, tuple[int, ...]] = {}
    for place in np.flatnonzero(suspect & (seen.sum(axis=1) >= 4)):
        edges, hidden, is_torn = _sort_out(stack[place], seen[place], limits[place], rate_hz)
        if is_torn:
            torn[keys[place]] = edges
        elif hidden.any():
            away[keys[place]] = hidden
    noise = np.maximum(NOISE_PER_MEDIAN * typical, coarseness)
    return Jumps(away, torn, dict(zip(keys, noise.tolist(), strict=True)))


def _looked_at(stack: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the sizes of what speeds do not explain of steps, and the coarseness of each row."""
    steps = np.diff(stack, axis=1)
    kicks = _kicks(steps)
    return np.sqrt(np.einsum("ijk,ijk->ij", kicks, kicks)), _coarseness(steps)


def _coarseness(steps: FloatArray) -> FloatArray:
    """Return the SD that rounding gives a coordinate: what never moves by less, is written so."""
    sizes = np.abs(steps)
    least = np.where(sizes > _SAME_M, sizes, np.inf).min(axis=(1, 2))
    return np.where(np.isfinite(least), least, 0.0) / math.sqrt(12.0)


def _kicks(steps: FloatArray) -> FloatArray:
    """Return the steps that the speeds on both sides do not explain, (…, n_frames - 1, 3)."""
    kicks = np.empty_like(steps)
    kicks[..., 1:-1, :] = steps[..., 1:-1, :] - (steps[..., :-2, :] + steps[..., 2:, :]) / 2
    kicks[..., 0, :] = steps[..., 0, :] - steps[..., 1, :]
    kicks[..., -1, :] = steps[..., -1, :] - steps[..., -2, :]
    return kicks


def _medians(kicks: FloatArray) -> FloatArray:
    """Return the median of each row, NaN apart; NaN where nothing is known."""
    known = ~np.isnan(kicks)
    if known.all():
        return medians_of(kicks, axis=1)
    rows = [row[own] for row, own in zip(kicks, known, strict=True)]
    return np.array([median_of(row) for row in rows])


def _sort_out(
    xyz: FloatArray, seen: BoolArray, limit_m: float, rate_hz: float
) -> tuple[tuple[int, ...], BoolArray, bool]:
    """Return one landmark's jumps, the frames in which it is elsewhere, and whether it is torn."""
    frames = np.flatnonzero(seen)
    waits = np.diff(frames)
    speeds = np.diff(xyz[frames], axis=0) / waits[:, None]
    speeds_beside = np.concatenate((speeds[1:2], (speeds[:-2] + speeds[2:]) / 2, speeds[-2:-1]))
    kicks = (speeds - speeds_beside) * waits[:, None]
    sizes = np.sqrt(np.einsum("ij,ij->i", kicks, kicks))
    is_edge = (sizes > limit_m * waits) & (waits <= LONGEST_FILL_S * rate_hz + 1)
    is_edge[1:] &= sizes[1:] >= ECHO_SHARE * sizes[:-1]
    is_edge[:-1] &= sizes[:-1] >= ECHO_SHARE * sizes[1:]
    edges = np.flatnonzero(is_edge)
    places = _places(kicks[edges])
    of_frame = np.repeat(places, np.diff([0, *(edges + 1), len(frames)]))
    counts = np.bincount(of_frame)
    home = int(counts.argmax())
    elsewhere = np.zeros(len(seen), dtype=np.bool_)
    elsewhere[frames[of_frame != home]] = True
    others = np.delete(counts, home)
    is_torn = bool(others.size) and others.max() > TORN_SHARE * len(frames)
    return tuple(int(frames[edge + 1]) for edge in edges), elsewhere, is_torn


def _places(jumps: FloatArray) -> list[int]:
    """Return the place after each jump, by number; one that undoes others comes back."""
    places, offsets, last = [0], [np.zeros(3)], 0
    for jump in jumps:
        size = float(np.linalg.norm(jump))
        now = offsets[last] + jump
        away = [float(np.linalg.norm(now - offset)) for offset in offsets]
        near = int(np.argmin(away))
        if near == last or away[near] > RETURN_SHARE * size:
            offsets.append(now)
            near = len(offsets) - 1
        last = near
        places.append(last)
    return places


def without_jumps(points: Mapping[str, FloatArray], jumps: Jumps) -> dict[str, FloatArray]:
    """Return the points, NaN where they are elsewhere."""
    return {
        key: np.where(jumps.away[key][:, None], np.nan, xyz) if key in jumps.away else xyz
        for key, xyz in points.items()
    }


def torn_reasons(jumps: Jumps, rate_hz: float) -> dict[str, Reason]:
    """Return why landmarks that jump for good are left out."""
    return {
        key: Reason("jumps_for_good", at_s=tuple(round(frame / rate_hz, 2) for frame in frames[:4]))
        for key, frames in jumps.torn.items()
    }


def jump_problems(jumps: Jumps, labels: Mapping[str, str], rate_hz: float) -> list[Problem]:
    """Return what to say of the frames that count as missing, one per landmark."""
    return [
        Problem(
            "warning",
            Reason(
                "marker_jumps",
                n=int(hidden.sum()),
                from_s=round(float(np.flatnonzero(hidden)[0] / rate_hz), 2),
                to_s=round(float(np.flatnonzero(hidden)[-1] / rate_hz), 2),
            ),
            labels[key],
        )
        for key, hidden in jumps.away.items()
    ]
