"""What all measures say of a walk's strides, and the rows of ``trial_mean`` that are kept of it.

In comes a :class:`MeasuredWalk`, whose rows are taken apart into columns once; out come walk
values, to the last digit those of :func:`gaittrack.measures.walk_values`.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import chain, repeat
from typing import Any, Final, NamedTuple

import numpy as np

from gaittrack.measured_walk import MeasuredWalk, RefusedFile, Result
from gaittrack.measures import MEASURES, Row
from gaittrack.measures.averages import AVERAGES, OF_ROWS
from gaittrack.measures.recording import NOT_TRUSTED
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
    """Return ``MEAN_COLUMNS`` of the rows of ``trial_mean``: the walk value of each measure.

    They are those of :func:`gaittrack.measures.walk_values`, reckoned of all measures at once.
    """
    if isinstance(result, RefusedFile) or not result.rows:
        return []
    told = StrideTable.of(result)
    return [row for side in dict.fromkeys(told.sides) for row in _means_of_side(told, side)]


def _means_of_side(told: StrideTable, side: Side) -> Iterator[tuple[Any, ...]]:
    own = [line for line, each in enumerate(told.sides) if each == side]
    values = told.values[own].T
    said = zip(*map(told.reasons.__getitem__, own), strict=True)
    whole = {kind: average(values).tolist() for kind, average in OF_ROWS.items()}
    for number, (measure, reasons) in enumerate(zip(MEASURES, said, strict=True)):
        value, n_defined = whole[measure.walk_value][number], reasons.count(None)
        if n_defined == len(own):
            yield side, measure.name, number_of(value), n_defined, 0, "[]"
            continue
        some = values[number][[why is None for why in reasons]]
        value = AVERAGES[measure.walk_value](some) if n_defined else math.nan
        counts = Counter(why for why in reasons if why is not None)
        n_not_defined = sum(n for why, n in counts.items() if why.code != NOT_TRUSTED)
        words = json.dumps([{"reason": as_plain(why), "n": n} for why, n in counts.items()])
        yield side, measure.name, number_of(value), n_defined, n_not_defined, words


def number_of(value: float) -> float | None:
    """Return a number as it is stored; None for what is not defined."""
    return float(value) if math.isfinite(value) else None
