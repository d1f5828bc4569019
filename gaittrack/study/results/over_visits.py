"""A person over visits, as plain values.

Nothing comes in; out go the types that ``follow.py`` fills.
"""

from __future__ import annotations

from dataclasses import dataclass

from gaittrack.reasons import Reason
from gaittrack.study.people.worn_changes import WornChange


@dataclass(frozen=True, slots=True)
class Progress:
    """One measure of one side in one condition at one visit.

    Attributes
    ----------
    days_since_first_visit : float
        NaN when not recorded.
    n_walks, n_strides : int
        With a defined value.
    value, value_low, value_high : float
        Mean of the walk values with its 95 % interval; NaN where there is none.
    difference, low, high : float
        From the first visit of the condition, with its 95 % interval, markers included; NaN where
        there is none.
    measurement_error : float
        Smallest difference that exceeds measurement error between days; NaN when none is known.
    measurement_error_source : Reason or None
        None at the first visit.
    verdict : str
        ``first_visit``, or one of ``verdict.VERDICTS``.
    reason : Reason or None
        Why there is no value, or the reason of the verdict.
    labels : tuple of Reason
        As of a row of a comparison of visits.
    """

    measure: str
    unit: str
    side: str
    condition: str
    visit: str
    days_since_first_visit: float
    n_walks: int
    n_strides: int
    value: float
    value_low: float
    value_high: float
    difference: float
    low: float
    high: float
    measurement_error: float
    measurement_error_source: Reason | None
    verdict: str
    reason: Reason | None
    labels: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class VisitMark:
    """When a visit was.

    Attributes
    ----------
    days_since_first_visit : float
        NaN when not recorded.
    """

    visit: str
    number: int | None
    days_since_first_visit: float


@dataclass(frozen=True, slots=True)
class Following:
    """A person over visits.

    Attributes
    ----------
    reference : str
        The condition without a brace; the first where none is known to be.
    visits : tuple of VisitMark
        In the order of time.
    stale : tuple of str
        Walks of the person whose result is damaged, and not used, or not of today's software and
        settings, and why.
    notes : tuple of Reason
        What makes visits hard to compare, once each.
    """

    person: str
    affected: str | None
    reference: str
    rows: tuple[Progress, ...]
    visits: tuple[VisitMark, ...]
    changes: tuple[WornChange, ...]
    stale: tuple[str, ...]
    notes: tuple[Reason, ...]

    @property
    def n_stale(self) -> int:
        """Number of stale results."""
        return len(self.stale)
