"""What a measure is: one number per gait cycle, with everything needed to defend it.

A measure is a function from a motion and one of its cycles to a :class:`Value`, plus the words that
stand beside it. It never raises for a cycle that does not show the quantity: that is
``not_defined`` with the reason.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from gaittrack.cycles import Cycle
from gaittrack.kinematics.motion import Motion

Group = Literal[
    "headline", "headline companion", "knee in stance", "ankle freedom", "compensation", "walking"
]


@dataclass(frozen=True, slots=True)
class Value:
    """One result.

    Attributes
    ----------
    value : float
        In the measure's unit; NaN when not defined.
    reason : str
        Why it is not defined; empty for a number.
    labels : tuple of str
        What a reader of the number must know (``lower bound: 60 Hz``).
    """

    value: float
    reason: str = ""
    labels: tuple[str, ...] = ()

    @property
    def is_defined(self) -> bool:
        """Whether there is a number."""
        return not math.isnan(self.value)


def not_defined(reason: str, *labels: str) -> Value:
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
    group : Group
    compute : callable (Motion, Cycle) -> Value
    decimals : int
        Decimals that are worth printing.
    """

    name: str
    title: str
    unit: str
    definition: str
    positive: str
    toward_typical: Literal["higher", "lower", "nearer", "none"]
    source: str
    group: Group
    compute: Callable[[Motion, Cycle], Value]
    decimals: int = 1
