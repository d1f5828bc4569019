"""What a correction changed: walk values before and after.

In come two measurings of one trial, out comes one line per measure and side that differs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from gaittrack.measured_walk import MeasuredWalk
from gaittrack.measures import MEASURES, walk_values
from gaittrack.measures.measure import Measure
from gaittrack.reasons import Reason
from gaittrack.vocabulary import SIDES, Side


@dataclass(frozen=True, slots=True)
class WalkValue:
    """The value of one measure and side of one walk.

    Attributes
    ----------
    value : float
        NaN when no stride defines it.
    n_strides : int
        Strides that define it.
    reason : Reason or None
        The most frequent reason why strides do not.
    labels : tuple of Reason
        Of the strides that do.
    """

    value: float
    n_strides: int
    reason: Reason | None
    labels: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class ChangedValue:
    """One measure of one side that a correction changed."""

    measure: Measure
    side: Side
    before: WalkValue
    after: WalkValue


def changed_values(before: MeasuredWalk, after: MeasuredWalk) -> list[ChangedValue]:
    """Return the measures that differ between two measurings of one trial.

    Returns
    -------
    list of ChangedValue
        In the order of ``MEASURES``: those whose printed value or number of strides differs.
    """
    old, new = _values(before), _values(after)
    found = []
    for measure in MEASURES:
        for side in SIDES:
            key = measure.name, side
            pair = old.get(key, _NO_STRIDE), new.get(key, _NO_STRIDE)
            if _differs(measure, *pair):
                found.append(ChangedValue(measure, side, *pair))
    return found


_Values = dict[tuple[str, str], WalkValue]
_NO_STRIDE = WalkValue(math.nan, 0, Reason("no_stride_counted"))


def _values(walk: MeasuredWalk) -> _Values:
    rows: Any = walk_values(walk.rows).to_dict("records")
    return {
        (row["measure"], row["side"]): WalkValue(
            float(row["value"]),
            int(row["n_defined"]),
            max(row["reasons"], key=row["reasons"].get, default=None),
            row["labels"],
        )
        for row in rows
    }


def _differs(measure: Measure, before: WalkValue, after: WalkValue) -> bool:
    printed = [f"{one.value:.{measure.decimals}f}" for one in (before, after)]
    return printed[0] != printed[1] or before.n_strides != after.n_strides
