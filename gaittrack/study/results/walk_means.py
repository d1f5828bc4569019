"""What is kept of a walk's strides: a table of what all measures say, and the walk values of each.

In comes a :class:`MeasuredWalk`, out come its rows taken apart into columns, and the rows of
``trial_mean``.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from itertools import chain, repeat
from typing import Any, Final, NamedTuple

import numpy as np

from gaittrack.measured_walk import MeasuredWalk, RefusedFile, Result
from gaittrack.measures import MEASURES, Row, walk_records_of
from gaittrack.reasons import Reason, as_plain
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Side

NAMES: Final = tuple(measure.name for measure in MEASURES)


class StrideTable(NamedTuple):
    """What all measures say of each stride, line by line in the order of ``MEASURES``.

    Attributes
    ----------
    values : ndarray, shape (n_strides, n_measures)
    """

    cycles: tuple[str, ...]
    sides: tuple[Side, ...]
    values: FloatArray
    reasons: list[tuple[Reason | None, ...]]
    labels: list[tuple[tuple[Reason, ...], ...]]

    @classmethod
    def of(cls, walk: MeasuredWalk) -> StrideTable:
        """Take the rows of a walk apart, which come stride by stride.

        Raises
        ------
        ValueError
            They do not.
        """
        n = len(MEASURES)
        columns: Sequence[Any] = list(zip(*walk.rows, strict=True)) or [()] * len(Row._fields)
        measures, sides, cycles, values, _, reasons, labels, *_ = columns
        starts = range(0, len(walk.rows), n)
        if measures != NAMES * len(starts) or cycles != tuple(
            chain.from_iterable(repeat(name, n) for name in cycles[::n])
        ):
            raise ValueError("rows of a walk are to come stride by stride, with every measure")
        return cls(
            cycles[::n],
            sides[::n],
            np.array(values, dtype=float).reshape(-1, n),
            [reasons[start : start + n] for start in starts],
            [labels[start : start + n] for start in starts],
        )


def mean_rows(result: Result) -> list[tuple[Any, ...]]:
    """Return ``MEAN_COLUMNS`` of the rows of ``trial_mean``: the walk value of each measure."""
    if isinstance(result, RefusedFile):
        return []
    return [
        (
            *(row["side"], row["measure"], number_of(row["value"])),
            *(row["n_defined"], row["n_not_defined"]),
            json.dumps([{"reason": as_plain(why), "n": n} for why, n in row["reasons"].items()]),
        )
        for row in walk_records_of(result.rows)
    ]


def number_of(value: float) -> float | None:
    """Return a number as it is stored; None for what is not defined."""
    return float(value) if math.isfinite(value) else None
