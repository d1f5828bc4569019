"""Whether the walks of a comparison are of one body and one clock, and their markers tremble alike.

In come the walks of two conditions, out comes why they cannot be compared, or nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import numpy as np

from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.kinematics.marker_noise import LEAST_NOISE_M, noise_of_leg
from gaittrack.kinematics.segments import SAME_PERSON_M, other_body
from gaittrack.reasons import Reason
from gaittrack.vocabulary import SIDES, Side

NOISE_RATIO: Final = 2.0
"""Ratio of the noise of two conditions past which their rates are not compared; own choice."""
PACE_MEASURES: Final = ("cadence_steps_min", "stride_length_m")
"""All that walks have to hold, for whether they are of one clock."""
LEAST_FASTER: Final = math.log(1.5)
"""Ratio of cadences past which steps of the same length contradict; own choice: over a doubling of
free walking speed cadence and step each grow by some 40 %."""
LEAST_FASTER_AS_RATES: Final = math.log(1.15)
LIKE_RATES: Final = math.log(1.08)
"""The same where frame rates differ in the ratio of the cadences, and how near that must be."""
LIKE_STEPS: Final = math.log(1.12)


def why_not_of_one_person(
    own: Sequence[WalkRecord], reference: Sequence[WalkRecord]
) -> Reason | None:
    """Return why nothing of two conditions can be compared; None when nothing speaks against it."""
    return why_other_body(own, reference) or why_paces_contradict(own, reference)


def why_other_body(own: Sequence[WalkRecord], reference: Sequence[WalkRecord]) -> Reason | None:
    """Return which walk is of another body than most of either condition, as its segments show."""
    for others in (reference, own):
        middle = _middle_m(others)
        for walk in (*reference, *own):
            if apart := other_body(walk.segments_m, middle, SAME_PERSON_M):
                return Reason("other_body", walk=walk.file_name, lengths=apart)
    return None


def _middle_m(walks: Sequence[WalkRecord]) -> dict[str, float]:
    """Return the median length of each segment."""
    known = [walk.segments_m for walk in walks if walk.segments_m]
    names = dict.fromkeys(name for each in known for name in each)
    return {
        name: float(np.median([each[name] for each in known if name in each])) for name in names
    }


def why_paces_contradict(
    own: Sequence[WalkRecord], reference: Sequence[WalkRecord]
) -> Reason | None:
    """Return that one condition is the other played faster: a frame rate is wrong.

    People who walk faster take longer steps; here cadence differs and the length of steps does not.
    """
    paces = [_pace(walks) for walks in (reference, own)]
    cadence, step_m = (paces[1][at] / paces[0][at] for at in (0, 1))
    rates = [_median(walk.rate_hz for walk in walks) for walks in (reference, own)]
    is_like_rates = abs(math.log(cadence * rates[0] / rates[1])) < LIKE_RATES
    least = LEAST_FASTER_AS_RATES if is_like_rates else LEAST_FASTER
    if not (abs(math.log(cadence)) > least and abs(math.log(step_m)) < LIKE_STEPS):
        return None
    told = [round(pace[0]) for pace in paces]
    return Reason("paces_contradict", reference=told[0], own=told[1])


def _pace(walks: Sequence[WalkRecord]) -> tuple[float, float]:
    """Return cadence (steps/min) and length of a step (m) of a condition; NaN where not known."""
    cadence = _median(value for walk in walks for value in _strides_of(walk, PACE_MEASURES[0]))
    stride_m = _median(value for walk in walks for value in _strides_of(walk, PACE_MEASURES[1]))
    return cadence, stride_m / 2


def _strides_of(walk: WalkRecord, measure: str) -> Iterator[float]:
    for side in SIDES:
        if (measure, side) in walk.tables:
            yield from walk.tables[measure, side].values


def _median(values: Iterable[float]) -> float:
    known = [value for value in values if math.isfinite(value)]
    return float(np.median(known)) if known else math.nan


def why_noise_differs(
    own: Iterable[WalkRecord], reference: Iterable[WalkRecord], side: Side
) -> Reason | None:
    """Return that one condition's markers tremble so much more that rates are not alike."""
    noises = [_noise_m(walks, side) for walks in (reference, own)]
    least, most = min(noises), max(noises)
    if not (most > LEAST_NOISE_M and most > NOISE_RATIO * least):
        return None
    told = [round(1000 * noise, 1) for noise in noises]
    return Reason("marker_noise_differs", reference_mm=told[0], own_mm=told[1])


def _noise_m(walks: Iterable[WalkRecord], side: Side) -> float:
    """Return the largest noise of a marker that a rate is made of; NaN where none is known."""
    known = [noise_of_leg(walk.noise_m, side) for walk in walks]
    return max((noise for noise in known if noise >= 0), default=float("nan"))
