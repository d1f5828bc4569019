"""How much the markers tremble that the speed of a falling foot is taken from.

In comes the noise of each landmark, out comes that of the noisiest one of a leg.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from gaittrack.vocabulary import Side

LEAST_NOISE_M: Final = 0.0012
"""Noise of a marker up to which a rate is moved by less than its error; own measurement on six
recordings: 1 mm added moves none of them by more than that, 2 mm one, 4 mm four."""
OF_LEG: Final = ("knee", "ankle", "heel", "toe", "metatarsal_5", "metatarsal_2", "metatarsal_1")
"""Landmarks below the thigh, without their side."""


def noise_of_leg(noise_m: Mapping[str, float], side: Side) -> float:
    """Return the largest noise of a landmark below the thigh; NaN where none is known."""
    keys = [f"{side}_{name}" for name in OF_LEG]
    known = [noise_m[key] for key in keys if noise_m.get(key, float("nan")) >= 0]
    return max(known, default=float("nan"))
