"""Tell whether the cycles of a file look like walking.

In come the cycles of one file, out come warnings: no cycles, or a cadence, a speed or steps that no
walk has. Most often the recording rate or the length unit is wrong then.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from gaittrack.cycles import Cycle
from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import EVERYTHING
from gaittrack.reasons import Reason

CADENCE_RANGE_STEPS_MIN: Final = (20.0, 200.0)
"""Cadence outside is no walk; own choice, wide on purpose (no source)."""
HIGHEST_SPEED_M_S: Final = 3.0
"""Faster is no walk: adults change to running near 2 m/s (common practice, no source)."""
HIGHEST_WALK_RATIO_M_MIN: Final = 0.012
"""Step length over cadence, in metres per step/min. Near 0.0065 over the range of free walking
(Sekiya et al. 1996, J Hum Mov Stud 30:241; from memory); nearly twice that is a walk played too
slowly, such as one at half its frame rate. Much shorter steps occur in patients and are no sign of
a wrong rate."""


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
    return [
        *_without_cycles(cycles, where),
        *(
            Problem("warning", reason, where, (Spoiled(EVERYTHING),))
            for reason in _of_no_walk(cycles)
        ),
    ]


def _of_no_walk(cycles: Sequence[Cycle]) -> Iterator[Reason]:
    cadence = 120 / _median([cycle.duration_s for cycle in cycles])
    speed_m_s = _median([cycle.speed_m_s for cycle in cycles])
    lowest, highest = CADENCE_RANGE_STEPS_MIN
    if cadence < lowest or cadence > highest:
        limits = {"lowest": round(lowest), "highest": round(highest)}
        yield Reason("cadence_of_no_walk", cadence=round(cadence), **limits)
    if speed_m_s > HIGHEST_SPEED_M_S:
        yield Reason(
            "speed_of_no_walk",
            speed_m_s=round(speed_m_s, 1),
            highest_m_s=round(HIGHEST_SPEED_M_S),
        )
    if 60 * speed_m_s / cadence**2 > HIGHEST_WALK_RATIO_M_MIN:
        step_m = round(60 * speed_m_s / cadence, 2)
        yield Reason("too_slow_for_steps", step_m=step_m, cadence=round(cadence))


def _without_cycles(cycles: Sequence[Cycle], where: str) -> list[Problem]:
    if any(cycle.is_kept for cycle in cycles):
        return []
    if not cycles:
        return [Problem("warning", Reason("no_cycle_found"), where)]
    reasons = dict.fromkeys(reason for cycle in cycles for reason in cycle.reject_reasons)
    return [Problem("warning", Reason("no_cycle_kept", reasons=tuple(reasons)), where)]


def _median(values: Sequence[float]) -> float:
    """Return the median of the numbers above 0, NaN when there are none."""
    known = [value for value in values if math.isfinite(value) and value > 0]
    return float(np.median(known)) if known else math.nan
