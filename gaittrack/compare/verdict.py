"""What may be said of a difference, in a closed list of plain words.

In come the interval, the floor and what speaks against comparing, out comes a :class:`Verdict`. No
advice, no "no effect": what was not shown is "not shown".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from gaittrack.compare.interval import WITHIN_THIS_WALK, Interval
from gaittrack.compare.measurement_error import NO_FLOOR, Floor
from gaittrack.compare.typical import TypicalRange
from gaittrack.compare.walks import Sample
from gaittrack.measures.measure import OF_MEAN_CURVE
from gaittrack.measures.recording import FROM_FILE, FROM_FILE_RATE
from gaittrack.measures.swing_dorsiflexion import CARRIED_OVER

LARGER: Final = "larger than measurement error"
WITHIN: Final = "within measurement error"
NOT_SHOWN: Final = "not shown"
NOT_DEFINED: Final = "not defined"
NOT_COMPARABLE: Final = "not comparable"
VERDICTS: Final = (LARGER, WITHIN, NOT_SHOWN, NO_FLOOR, NOT_DEFINED, NOT_COMPARABLE)
"""Every verdict there is."""
TOWARD: Final = "toward typical"
AWAY: Final = "away from typical"

CONTACT_TYPE_CHANGED: Final = "contact type changed"
LEAST_HEEL_SHARE_PERCENT: Final = 50.0
LEAST_HEEL_STRIDES: Final = 5
"""The first rocker exists only after a heel contact; proposal, no published limit."""
LEAST_MINIMUM_SHARE_PERCENT: Final = 50.0
LARGEST_SHARE_GAP_POINTS: Final = 20.0
"""Strides with a mid-swing minimum of the toe are a selection; proposal, no published limit."""
FIRST_ROCKER_MEASURES: Final = (
    "loading_response_plantarflexion_rate_deg_s",
    "loading_response_plantarflexion_mean_rate_deg_s",
    "foot_to_floor_rate_deg_s",
    "foot_lowering_time_ms",
)
CLEARANCE_MEASURES: Final = (
    "minimum_toe_clearance_mm",
    "minimum_forefoot_clearance_mm",
    "dorsiflexion_at_toe_clearance_deg",
)
_RATE_UNIT: Final = "deg/s"
_LOWER_BOUND: Final = "lower bound"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What may be said.

    Attributes
    ----------
    word : str
        One of ``VERDICTS``.
    reason : str
        Why, for all but the first two.
    direction : str
        ``higher``, ``lower``, ``faster`` or ``slower``; empty unless larger than error.
    typical : str
        ``toward typical``, ``away from typical`` or empty.
    """

    word: str
    reason: str = ""
    direction: str = ""
    typical: str = ""

    def __str__(self) -> str:
        """Return the verdict as one phrase."""
        said = self.word + (f": {self.reason}" if self.reason else "")
        return ", ".join(part for part in (said, self.direction, self.typical) if part)


@dataclass(frozen=True, slots=True)
class ContactShares:
    """Which strides of a condition began with the heel.

    Attributes
    ----------
    n_heel, n_known : int
        Heel-contact strides, and strides whose contact type is known (uncertain ones included).
    """

    n_heel: int
    n_known: int

    @property
    def heel_percent(self) -> float:
        """Share of heel contacts; NaN when no contact type is known."""
        return 100 * self.n_heel / self.n_known if self.n_known else math.nan


def judge(difference: float, interval: Interval, floor: Floor, *, is_rate: bool = False) -> Verdict:
    """Return the verdict of a difference that may be compared.

    Parameters
    ----------
    is_rate : bool
        Say faster or slower instead of higher or lower.

    Returns
    -------
    Verdict
        An interval within one walk per condition shows nothing of another walk: it never makes a
        change larger, or within, measurement error.
    """
    if not floor.is_known:
        return Verdict(NO_FLOOR, interval.reason)
    if not interval.is_shown:
        return Verdict(NOT_SHOWN, interval.reason)
    if WITHIN_THIS_WALK in interval.kind:
        return Verdict(NOT_SHOWN, f"one walk per condition; the interval is {WITHIN_THIS_WALK}")
    is_past = abs(difference) >= floor.value
    if interval.excludes_zero and is_past:
        up, down = ("faster", "slower") if is_rate else ("higher", "lower")
        return Verdict(LARGER, direction=up if difference > 0 else down)
    is_inside = -floor.value <= interval.low and interval.high <= floor.value
    if is_inside or (interval.excludes_zero and not is_past):
        return Verdict(WITHIN)
    return Verdict(NOT_SHOWN, "the interval includes zero and reaches beyond measurement error")


def typical_direction(value: float, reference_value: float, norm: TypicalRange | None) -> str:
    """Return whether a value moved toward its typical range, away from it, or neither."""
    if norm is None:
        return ""
    now, before = norm.distance(value), norm.distance(reference_value)
    if now == before:
        return ""
    return TOWARD if now < before else AWAY


def why_not_defined(samples: dict[str, Sample]) -> str:
    """Return why a measure has no value in some condition; empty when all have one."""
    return "; ".join(
        f"{name}: {sample.main_reason}" for name, sample in samples.items() if not sample.n_walks
    )


def why_rate_not_comparable(own: ContactShares, reference: ContactShares) -> str:
    """Return why the first rocker of two conditions cannot be compared; empty when it can.

    Returns
    -------
    str
        With both shares.
    """
    shares = [reference.heel_percent, own.heel_percent]
    if any(math.isnan(each) for each in shares):
        return "contact type not known"
    said = f"heel contact in {shares[0]:.0f} % of reference strides and {shares[1]:.0f} % of these"
    enough = [each >= LEAST_HEEL_SHARE_PERCENT for each in shares]
    if enough[0] != enough[1]:
        return f"{CONTACT_TYPE_CHANGED}: {said}"
    if not all(enough):
        return f"the heel seldom touches first: {said}"
    if min(own.n_heel, reference.n_heel) < LEAST_HEEL_STRIDES:
        counts = f"{reference.n_heel} and {own.n_heel}"
        return f"too few heel contacts ({counts}; {LEAST_HEEL_STRIDES} are needed each): {said}"
    return ""


def why_clearance_not_comparable(own_percent: float, reference_percent: float) -> str:
    """Return why minima of toe height cannot be compared; empty when they can.

    Parameters
    ----------
    own_percent, reference_percent : float
        Share of strides with a mid-swing minimum of the toe.

    Returns
    -------
    str
        With both shares.
    """
    shares = (reference_percent, own_percent)
    said = f"a mid-swing minimum in {shares[0]:.0f} % of reference strides and {shares[1]:.0f} %"
    said += " of these; toe height under the hip is the compared value"
    if any(math.isnan(each) for each in shares):
        return "share of strides with a mid-swing minimum not known"
    if min(shares) < LEAST_MINIMUM_SHARE_PERCENT:
        return f"the toe's minimum is too often missing: {said}"
    if abs(shares[0] - shares[1]) > LARGEST_SHARE_GAP_POINTS:
        return f"the toe's minimum is missing more often in one condition: {said}"
    return ""


def why_labels_not_comparable(unit: str, own: Sample, reference: Sample) -> str:
    """Return what the labels of two samples say against comparing them; empty when nothing.

    Parameters
    ----------
    unit : str
        Unit of the measure.
    """
    shares = [_share(sample, FROM_FILE, FROM_FILE_RATE) for sample in (reference, own)]
    if shares not in ([0.0, 0.0], [1.0, 1.0]):
        return (
            f"angles come from the file in {100 * shares[0]:.0f} % of reference strides and in "
            f"{100 * shares[1]:.0f} % here: angles of two origins are never compared"
        )
    if unit == _RATE_UNIT:
        kinds = [_rate_kinds(sample) for sample in (reference, own)]
        if kinds[0] != kinds[1]:
            names = " against ".join(", ".join(sorted(each)) or "full rate" for each in kinds)
            return f"two kinds of rate: {names}"
    carried = max(_share(sample, CARRIED_OVER) for sample in (own, reference))
    if carried > 0.5:
        return (
            f"the maximum is {CARRIED_OVER} in {100 * carried:.0f} % of strides; mid-swing "
            "dorsiflexion is the compared value"
        )
    return ""


def is_of_mean_curves(*samples: Sample) -> bool:
    """Whether any sample holds values of curves that were already averaged."""
    return any(OF_MEAN_CURVE in sample.labels for sample in samples)


def _rate_kinds(sample: Sample) -> set[str]:
    return {
        label
        for label in sample.labels
        if label.startswith(_LOWER_BOUND) or label == FROM_FILE_RATE
    }


def _share(sample: Sample, *labels: str) -> float:
    count = sum(sample.labels.get(label, 0) for label in labels)
    return count / sample.n_strides if sample.n_strides else 0.0
