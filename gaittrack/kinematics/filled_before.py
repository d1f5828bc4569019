"""Stretches of a marker that nobody saw: filled over before the file was written.

In come landmarks as they were read, out comes a problem for each that moves along an exact cubic
for a while, as a spline or a line over a gap does and no camera sees. What is rounded or low-passed
after it was filled does not show it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from gaittrack.errors import Problem, Spoiled
from gaittrack.kinematics.gaps import LONGEST_FILL_S, runs
from gaittrack.quick_numpy import lengths_of, median_of
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

LEAST_BENT_M: Final = 1e-6
"""Fourth difference up to which a cubic is exact: numbers are stored to a ten millionth."""
LEAST_SHARE: Final = 0.01
"""The same as a share of the marker's usual one, which noise makes 100 times as large."""
LEAST_USUAL_M: Final = 2e-5
"""Usual fourth difference below which nothing tells a cubic from a smooth movement."""
LEAST_SPEED_M_S: Final = 0.2
"""Slower markers lie still: there every number may be the same."""
_BESIDE: Final = 4


def filled_problems(
    points: Mapping[str, FloatArray], labels: Mapping[str, str], rate_hz: float
) -> list[Problem]:
    """Return a problem for each landmark with moving stretches that are exact cubics.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)
        Metres, as read; gaps as NaN.
    labels : mapping of landmark to str
        What the file calls it.

    Notes
    -----
    As long as gaps that are filled here, or shorter, is not told.
    """
    keys = list(points)
    if not keys or len(points[keys[0]]) <= 2 * _BESIDE:
        return []
    shortest = LONGEST_FILL_S * rate_hz
    along = _bent(np.stack([points[key][:, 0] for key in keys]))
    is_cubic = np.abs(along) < LEAST_BENT_M
    found = []
    for place in np.flatnonzero(is_cubic.sum(axis=1) > shortest - _BESIDE).tolist():
        spans = _exact(points[keys[place]], rate_hz, shortest)
        if spans:
            found.append(_problem(keys[place], labels, spans, rate_hz))
    return found


def _bent(values: FloatArray) -> FloatArray:
    """Return the fourth differences along the last axis."""
    steps = np.diff(values)
    bent: FloatArray = steps[..., 3:] - steps[..., :-3] - 3 * (steps[..., 2:-1] - steps[..., 1:-2])
    return bent


def _exact(xyz: FloatArray, rate_hz: float, shortest: float) -> list[tuple[int, int]]:
    """Return first and last frame of each stretch that moves along an exact cubic."""
    bent = np.abs(_bent(xyz.T)).max(axis=0)
    usual = median_of(bent[~np.isnan(bent)])
    if not usual > LEAST_USUAL_M:
        return []
    exact = bent < max(LEAST_BENT_M, LEAST_SHARE * usual)
    speeds = lengths_of(np.diff(xyz, axis=0)) * rate_hz
    return [
        (start + 1, stop + _BESIDE - 1)
        for start, stop in runs(exact)
        if stop - start + 2 > shortest and median_of(speeds[start:stop]) > LEAST_SPEED_M_S
    ]


def _problem(
    key: str, labels: Mapping[str, str], spans: list[tuple[int, int]], rate_hz: float
) -> Problem:
    longest = max(stop - start for start, stop in spans) / rate_hz
    reason = Reason("filled_before", names=(key,), n=len(spans), longest_s=round(longest, 2))
    doubts = tuple(Spoiled(key, frames=span) for span in spans)
    return Problem("warning", reason, labels.get(key, key), doubts=doubts)
