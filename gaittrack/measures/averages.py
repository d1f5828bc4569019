"""How the strides of a walk become one number, by the word of a measure's definition."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from gaittrack.quick_numpy import mean_of, median_of
from gaittrack.trial import FloatArray

AVERAGES: Final[Mapping[str, Callable[[FloatArray], float]]] = {
    "mean": mean_of,
    "median": median_of,
}
"""By ``Measure.walk_value``."""
