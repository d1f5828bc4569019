"""What a measure is: one number per gait cycle, with everything needed to defend it.

A measure is a function from a view of cycles that are alike to a :class:`Value` of each, plus the
words that stand beside it. In come a measure and the cycles, out come values; a cycle that does not
show the quantity gives "not defined" with the reason.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

import numpy as np

from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.reading import LabelOfSome, Labels, NotDefined
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

Functions = Mapping[str, "Callable[[CyclesView], Value]"]
"""What computes a measure, by its name."""
Group = Literal[
    "headline", "headline companion", "knee in stance", "ankle freedom", "compensation", "walking"
]

OF_MEAN_CURVE: Final = "of_mean_curve"
"""Code of the label of what was measured on a curve that is already a mean."""
_MEAN_CURVE: Final = Reason(OF_MEAN_CURVE)
_NO_NUMBER: Final = Reason("no_number")


class Value(NamedTuple):
    """One result of each cycle.

    Attributes
    ----------
    value : ndarray, shape (n_cycles,)
        In the measure's unit; of no meaning for a cycle that was refused.
    labels : tuple of Reason or LabelOfSome
        What a reader of the number must know (``lower bound: 60 Hz``), of all cycles or of some.
    """

    value: FloatArray
    labels: Labels = ()


@dataclass(frozen=True, slots=True)
class Measure:
    """A quantity of one gait cycle of one side.

    Attributes
    ----------
    name : str
        Ends in its unit: ``peak_swing_dorsiflexion_deg``.
    title : str
        As printed: ``Peak swing dorsiflexion``.
    unit : str
        UCUM code: ``deg``, ``deg/s``, ``mm``, ``m``, ``m/s``, ``s``, ``%``, ``{steps}/min``, ``1``.
    definition : str
        One sentence, exact enough to compute it again.
    positive : str
        What a positive value means.
    toward_typical : {"higher", "lower", "nearer", "none"}
        Which way is toward typical where a sourced norm exists (``nearer``: toward the middle of
        the norm); ``none`` where no norm is sourced.
    source : str
        Author, year and place of the definition, or "common practice, no source".
    compute : callable (CyclesView) -> Value
        May refuse cycles, or raise ``NotDefined`` for all; call it through :func:`compute_values`.
    decimals : int
        Decimals that are worth printing.
    walk_value : {"mean", "median"}
        How the strides of one walk are summarised.
    possible : (float, float)
        Least and largest value that a person can have at all.
    """

    name: str
    title: str
    unit: str
    definition: str
    positive: str
    group: Group
    compute: Callable[[CyclesView], Value]
    toward_typical: Literal["higher", "lower", "nearer", "none"] = "none"
    source: str = "common practice, no source"
    decimals: int = 1
    walk_value: Literal["mean", "median"] = "mean"
    possible: tuple[float, float] = (-math.inf, math.inf)


def why_impossible(measure: Measure, value: float) -> Reason:
    """Return that no person has a value."""
    low, high = measure.possible
    return Reason("impossible_value", value=round(value, 1), lowest=low, highest=high)


def compute_values(
    measure: Measure, view: CyclesView
) -> tuple[list[float], list[tuple[Reason, ...]]]:
    """Return the value of a measure and its labels for each cycle.

    Returns
    -------
    list of float
        Finite, or NaN where the measure is not defined: the view knows why.
    list of tuple of Reason
        A cycle that is already a mean of several carries the label "of the mean curve".
    """
    try:
        value, labels = measure.compute(view)
    except NotDefined as found:
        view.refuse(view.is_open, found.reason)
        value, labels = view.nothing, ()
    view.refuse(~np.isfinite(value), _NO_NUMBER)
    labels = (*labels, _MEAN_CURVE) if view.is_mean else labels
    is_open = view.is_open.tolist()
    if all(is_open):
        return value.tolist(), _labels_of_each(labels, is_open)
    values = np.where(view.is_open, value, math.nan).tolist()
    given = _labels_of_each(labels, is_open)
    return values, [own if is_one else () for own, is_one in zip(given, is_open, strict=True)]


def _labels_of_each(labels: Labels, is_open: Sequence[bool]) -> list[tuple[Reason, ...]]:
    told = [
        (each.label, each.where.tolist()) if isinstance(each, LabelOfSome) else (each, is_open)
        for each in labels
    ]
    told = [(label, where) for label, where in told if any(where)]
    if all(where is is_open or all(where) for _, where in told):
        return [tuple(label for label, _ in told)] * len(is_open)
    own: dict[tuple[bool, ...], tuple[Reason, ...]] = {}
    return [
        own.setdefault(
            here, tuple(label for (label, _), is_so in zip(told, here, strict=True) if is_so)
        )
        for here in zip(*(where for _, where in told), strict=True)
    ]
