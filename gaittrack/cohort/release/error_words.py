"""The measurement error of each measure, in the words of a data dictionary and as a table.

In comes a measure, out comes what is known of its error before any value is.
"""

from __future__ import annotations

import math
from typing import Any, Final

import pandas as pd

from gaittrack.cohort.tables.reason_cells import packed
from gaittrack.compare.measurement_error.marker_errors import (
    HOWS,
    MARKER_GROUPS,
    SPEED_MEASURE,
    Handling,
    How,
    OwnErrors,
    find_error,
)
from gaittrack.measures import MEASURES
from gaittrack.measures.measure import Measure

_LARGE: Final = 1e6
"""Larger than any value: an error that grows with it is another then."""


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


def errors_table(own: OwnErrors | None) -> pd.DataFrame:
    """Return one row per measure and handling of the markers: the error in use.

    Parameters
    ----------
    own : OwnErrors or None
        The laboratory's own figures.
    """
    rows = [_error_row(measure, how, own) for measure in MEASURES for how in HOWS]
    return pd.DataFrame(rows)


def _error_row(measure: Measure, how: How, own: OwnErrors | None) -> dict[str, Any]:
    handling = Handling(how, frozenset(() if how == "untouched" else MARKER_GROUPS))
    plain, braced, of_large_values = (
        find_error(measure.name, handling, values, braced=worn, own=own)
        for values, worn in (
            ((0.0, 0.0), (False, False)),
            ((0.0, 0.0), (True, False)),
            ((_LARGE, _LARGE), (False, False)),
        )
    )
    return {
        "measure_id": measure.name,
        "how": how,
        "unit": measure.unit,
        "measurement_error": plain.error,
        "measurement_error_braced": braced.error,
        "is_least": plain.error < of_large_values.error,
        "placement_sd": plain.placement.own,
        "measurement_error_source": packed(plain.source),
        "is_proposal": plain.is_proposal,
        "is_own": plain.is_own,
    }
