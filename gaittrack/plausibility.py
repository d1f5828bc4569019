"""Tell whether the cycles of a file look like walking.

In come the cycles of one file, out come warnings: no cycles, or a cadence, a speed or steps that no
walk has. Most often the recording rate or the length unit is wrong then.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from gaittrack.cycles import Cycle
from gaittrack.errors import Problem

CADENCE_RANGE_STEPS_MIN: Final = (20.0, 200.0)
"""Cadence outside is no walk; own choice, wide on purpose (no source)."""
HIGHEST_SPEED_M_S: Final = 3.0
"""Faster is no walk: adults change to running near 2 m/s (common practice, no source)."""
HIGHEST_WALK_RATIO_M_MIN: Final = 0.012
"""Step length over cadence, in metres per step/min. Near 0.0065 over the range of free walking
(Sekiya et al. 1996, J Hum Mov Stud 30:241; from memory); nearly twice that is a walk played too
slowly, such as one at half its frame rate. Much shorter steps occur in patients and are no sign of
a wrong rate."""

_ASK_RATE: Final = "Is the recording rate right? Give the true one with --rate."


def doubts(cycles: Sequence[Cycle], where: str) -> list[Problem]:
    """Return warnings about cycles that do not look like a walk.

    Parameters
    ----------
    cycles : sequence of Cycle
        Of one file, kept and rejected ones.
    where : str
        The file's name.

    Returns
    -------
    list of Problem
        Empty for an ordinary walk. Cycles without a time or a speed say nothing.
    """
    found = _without_cycles(cycles, where)
    cadence = 120 / _median([cycle.duration_s for cycle in cycles])
    speed_m_s = _median([cycle.speed_m_s for cycle in cycles])
    lowest, highest = CADENCE_RANGE_STEPS_MIN
    if cadence < lowest or cadence > highest:
        what = f"A cadence of {cadence:.0f} steps/min, expected {lowest:.0f} to {highest:.0f}."
        found.append(Problem("warning", what, where, _ASK_RATE))
    if speed_m_s > HIGHEST_SPEED_M_S:
        what = (
            f"A speed of {speed_m_s:.1f} m/s, expected at most {HIGHEST_SPEED_M_S:.0f} in walking."
        )
        action = f"{_ASK_RATE} Is the length unit right?"
        found.append(Problem("warning", what, where, action))
    if 60 * speed_m_s / cadence**2 > HIGHEST_WALK_RATIO_M_MIN:
        what = (
            f"The walk is too slow for its steps: {60 * speed_m_s / cadence:.2f} m long at "
            f"{cadence:.0f} steps/min."
        )
        found.append(Problem("warning", what, where, _ASK_RATE))
    return found


def _without_cycles(cycles: Sequence[Cycle], where: str) -> list[Problem]:
    if any(cycle.is_kept for cycle in cycles):
        return []
    if not cycles:
        return [Problem("warning", "No gait cycle was found.", where, "Nothing was measured.")]
    reasons = dict.fromkeys(reason for cycle in cycles for reason in cycle.reject_reasons)
    action = f"Nothing was measured: {'; '.join(map(str, reasons))}."
    return [Problem("warning", "No gait cycle was kept.", where, action)]


def _median(values: Sequence[float]) -> float:
    """Return the median of the numbers above 0, NaN when there are none."""
    known = [value for value in values if math.isfinite(value) and value > 0]
    return float(np.median(known)) if known else math.nan
