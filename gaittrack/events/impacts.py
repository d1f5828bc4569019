"""Where an end of the foot is stopped from falling.

In come its heights, out come its impacts: the peaks of its upward acceleration, each with how much
of a fall it ends.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.smoothing import low_pass, velocity
from gaittrack.trial import FloatArray

CUTOFF_HZ = 12.0
"""The acceleration is smoothed once more: at 15 Hz alone 1 mm of marker noise moves one contact in
fourteen by more than 25 ms in made-up walks, so one in forty; recorded ones move by 1 ms."""
LEAST_M_S2 = 1.0
"""Smallest peak of the upward acceleration that is taken for an impact; own choice."""
CLEAR_M_S = 0.04
"""Least loss of falling speed that is a clear stop; own choice, above what noise makes."""


class Impact(NamedTuple):
    """One peak of the upward acceleration.

    Attributes
    ----------
    frame, exact_frame : int, float
        Of the peak, whole and to a fraction.
    height_m_s2 : float
        How high the peak is.
    began : int
        Frame from which the acceleration has been upward; alike for peaks of one stop.
    fall_stopped_m_s : float
        How much of its fall the end loses while the acceleration is upward.
    """

    frame: int
    exact_frame: float
    height_m_s2: float
    began: int
    fall_stopped_m_s: float


def find_impacts(heights: FloatArray, rate_hz: float) -> list[list[Impact]]:
    """Return the clear impacts of each column of heights, in time order."""
    rises = velocity(heights, rate_hz)
    accelerations = low_pass(velocity(rises, rate_hz), cutoff_hz=CUTOFF_HZ, rate_hz=rate_hz)
    return [
        _impacts(accelerations[:, column], rises[:, column], rate_hz)
        for column in range(heights.shape[1])
    ]


def _impacts(acceleration: FloatArray, rise: FloatArray, rate_hz: float) -> list[Impact]:
    inner = acceleration[1:-1]
    is_peak = (inner >= acceleration[:-2]) & (inner > acceleration[2:]) & (inner >= LEAST_M_S2)
    peaks = np.flatnonzero(is_peak) + 1
    gained = np.concatenate(([0.0], np.cumsum(acceleration))) / rate_hz
    starts, stops = np.array(runs(acceleration > 0), dtype=np.intp).reshape(-1, 2).T
    fall_stopped = np.minimum(gained[stops] - gained[starts], -rise[starts])
    stop_of = np.searchsorted(starts, peaks, side="right") - 1
    is_clear = fall_stopped[stop_of] >= CLEAR_M_S
    peaks, stop_of = peaks[is_clear], stop_of[is_clear]
    left, middle, right = (acceleration[peaks + step] for step in (-1, 0, 1))
    shift = 0.5 * (left - right) / (left - 2 * middle + right)  # a peak bends
    columns = (peaks, peaks + shift, middle, starts[stop_of], fall_stopped[stop_of])
    return list(map(Impact, *(column.tolist() for column in columns)))
