"""The measurement error of each measure, in the words of a data dictionary.

In comes a measure, out comes what is known of its error before any value is.
"""

from __future__ import annotations

import math

from gaittrack.compare.marker_errors import (
    HOWS,
    MARKER_GROUPS,
    SPEED_MEASURE,
    Handling,
    find_error,
)
from gaittrack.measures.measure import Measure


def error_words(measure: Measure) -> str:
    """Return the measurement error of a measure in words, as far as it is known without values."""
    said: dict[str, str] = {}
    sources: dict[str, None] = {}
    for how in HOWS:
        groups = frozenset(() if how == "untouched" else MARKER_GROUPS)
        found = find_error(measure.name, Handling(how, groups), (0.0, 0.0))
        if math.isnan(found.error):
            return str(found.source)
        least = "at least " * (measure.name == SPEED_MEASURE or measure.unit == "deg/s")
        said[how] = f"{least}{found.error:.3g}"
        sources[str(found.source)] = None
    if len(set(said.values())) == 1:
        return f"{said[HOWS[0]]} ({'; '.join(sources)})"
    return f"{'; '.join(f'{how}: {each}' for how, each in said.items())} ({'; '.join(sources)})"
