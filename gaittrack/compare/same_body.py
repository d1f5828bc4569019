"""Whether the walks of a comparison are of one body, and their markers tremble alike.

In come the walks of two conditions, out comes why they cannot be compared, or nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np

from gaittrack.compare.walks import WalkRecord
from gaittrack.kinematics.marker_noise import LEAST_NOISE_M, noise_of_leg
from gaittrack.kinematics.segments import SAME_PERSON_M, other_body
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Side

NOISE_RATIO: Final = 2.0
"""Ratio of the noise of two conditions past which their rates are not compared; own choice."""


def why_other_body(walks: Sequence[WalkRecord]) -> Reason | None:
    """Return which walk is of another body than most, as its segments show."""
    known = [walk.segments_m for walk in walks if walk.segments_m]
    names = dict.fromkeys(name for each in known for name in each)
    middle = {
        name: float(np.median([each[name] for each in known if name in each])) for name in names
    }
    for walk in walks:
        if apart := other_body(walk.segments_m, middle, SAME_PERSON_M):
            return Reason("other_body", walk=walk.file_name, lengths=apart)
    return None


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
