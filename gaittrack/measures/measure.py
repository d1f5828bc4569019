"""What a measure is: one number per gait cycle, with everything needed to defend it.

A measure is a function from a view of one cycle to a :class:`Value`, plus the words that stand
beside it. In come a measure and a cycle, out comes a value; a cycle that does not show the quantity
gives "not defined" with the reason.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.samples import NotDefined
from gaittrack.reasons import Reason

Functions = Mapping[str, "Callable[[CycleView], Value]"]
"""What computes a measure, by its name."""
Group = Literal[
    "headline", "headline companion", "knee in stance", "ankle freedom", "compensation", "walking"
]

OF_MEAN_CURVE: Final = "of_mean_curve"
"""Code of the label of what was measured on a curve that is already a mean."""
_MEAN_CURVE: Final = Reason(OF_MEAN_CURVE)
_NO_NUMBER: Final = Reason("no_number")


class Value(NamedTuple):
    """One result.

    Attributes
    ----------
    value : float
        In the measure's unit; NaN when not defined.
    reason : Reason or None
        Why it is not defined; None for a number.
    labels : tuple of Reason
        What a reader of the number must know (``lower bound: 60 Hz``).
    """

    value: float
    reason: Reason | None = None
    labels: tuple[Reason, ...] = ()

    @property
    def is_defined(self) -> bool:
        """Whether there is a number."""
        return not math.isnan(self.value)


def not_defined(reason: Reason, *labels: Reason) -> Value:
    """Return the result "not defined" with its reason."""
    return Value(math.nan, reason, labels)


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
    compute : callable (CycleView) -> Value
        May raise ``NotDefined``; call it through :func:`compute_value`.
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
    compute: Callable[[CycleView], Value]
    toward_typical: Literal["higher", "lower", "nearer", "none"] = "none"
    source: str = "common practice, no source"
    decimals: int = 1
    walk_value: Literal["mean", "median"] = "mean"
    possible: tuple[float, float] = (-math.inf, math.inf)


def why_impossible(measure: Measure, value: float) -> Reason | None:
    """Return why no person has a value; None for one that a person may have, and for NaN."""
    low, high = measure.possible
    if not (value < low or value > high):
        return None
    return Reason("impossible_value", value=round(float(value), 1), lowest=low, highest=high)


def compute_value(measure: Measure, view: CycleView) -> Value:
    """Return the value of a measure for one cycle, or "not defined" with its reason.

    Returns
    -------
    Value
        A finite number with its labels, or NaN with a reason. A cycle that is already a mean of
        several carries the label "of the mean curve".
    """
    try:
        value = measure.compute(view)
    except NotDefined as found:
        return not_defined(found.reason)
    if not math.isfinite(value.value) and value.reason is None:
        return not_defined(_NO_NUMBER)
    if view.cycle.is_mean and value.is_defined:
        return Value(value.value, None, (*value.labels, _MEAN_CURVE))
    return value
