"""Which way an ankle angle seems to be positive, told by where the foot pushes off.

In comes the angle of one side, over marked cycles, over one cycle, beside its knee or alone; out
goes 1 when dorsiflexion seems positive, -1 when negative, 0 when nothing tells.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Side

ASYMMETRY = 1.25
"""How much faster one direction must be to tell push-off from its return; our choice."""


PUSH_OFF_DEG = 4.0
"""How far the ankle falls from late stance to toe-off at least where it pushes off; our choice."""

LEAST_SWING_DEG = 25.0
"""A knee that bends less tells no swing; our choice."""
SheetCycle = tuple[int, int, int]
"""Rows of a contact, the toe-off and the next contact."""
SheetCycles = Mapping[Side | None, Sequence[SheetCycle]]


def stance_vote(values: FloatArray, cycles: Sequence[SheetCycle]) -> int:
    """Return 1 when dorsiflexion seems positive, -1 when negative, 0 when nothing tells.

    From the end of stance and toe-off of marked cycles.
    """
    drops = []
    for start, off, end in cycles:
        stance, swing = off - start, end - off
        late = values[start + round(0.55 * stance) : start + round(0.85 * stance) + 1]
        after = values[off - round(0.05 * stance) : off + round(0.1 * swing) + 1]
        if late.size and after.size and np.isfinite(late).any() and np.isfinite(after).any():
            drops.append(float(np.nanmean(late) - np.nanmean(after)))
    drop = float(np.median(drops)) if drops else 0.0
    return 1 if drop > PUSH_OFF_DEG else -1 if drop < -PUSH_OFF_DEG else 0


def push_off_vote(values: FloatArray, over_cycle: bool) -> int:
    """Return as :func:`stance_vote`, where no cycles are marked."""
    finite = values[np.isfinite(values)]
    if finite.size < 20 or np.ptp(finite) < 8:
        return 0
    if over_cycle:
        n = len(values) - 1
        stance = values[round(0.35 * n) : round(0.5 * n) + 1]
        push_off = values[round(0.6 * n) : round(0.68 * n) + 1]
        drop = float(np.mean(stance) - np.mean(push_off))
        return 1 if drop > PUSH_OFF_DEG else -1 if drop < -PUSH_OFF_DEG else 0
    steps = np.diff(values)
    steps = steps[np.isfinite(steps)]
    down, up = (float(end) for end in np.abs(np.percentile(steps, (1, 99))))
    return 1 if down > ASYMMETRY * up else -1 if up > ASYMMETRY * down else 0


def vote_beside_knee(ankle: FloatArray, knee: FloatArray) -> int:
    """Return as :func:`stance_vote`, from the swings of the knee of the same leg.

    Where a knee bends most in swing the foot has just pushed off; a quarter of a cycle before, the
    ankle was most dorsiflexed.
    """
    peaks = _swing_peaks(knee)
    if len(peaks) < 2:
        return 0
    period = float(np.median(np.diff(peaks)))
    drops = []
    for peak in peaks:
        late = ankle[max(0, round(peak - 0.30 * period)) : max(0, round(peak - 0.20 * period)) + 1]
        after = ankle[max(0, round(peak - 0.10 * period)) : peak + 1]
        if peak > 0.3 * period and np.isfinite(late).any() and np.isfinite(after).any():
            drops.append(float(np.nanmean(late) - np.nanmean(after)))
    drop = float(np.median(drops)) if drops else 0.0
    return 1 if drop > PUSH_OFF_DEG else -1 if drop < -PUSH_OFF_DEG else 0


def _swing_peaks(knee: FloatArray) -> list[int]:
    """Return where a knee is bent most, once for each time that it bends far."""
    if not np.isfinite(knee).any() or np.nanmax(knee) - np.nanmin(knee) < LEAST_SWING_DEG:
        return []
    far = np.nanmin(knee) + 0.65 * (np.nanmax(knee) - np.nanmin(knee))
    edges = np.flatnonzero(np.diff(np.concatenate(([False], knee > far, [False])).astype(int)))
    spans = zip(edges[::2], edges[1::2], strict=True)
    return [int(start + np.nanargmax(knee[start:stop])) for start, stop in spans]
