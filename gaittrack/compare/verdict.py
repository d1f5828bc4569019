"""What may be said of a difference, by a closed list of codes.

In come the interval, the floor and what speaks against comparing, out comes a :class:`Verdict`. No
advice, no "no effect": what was not shown is "not shown".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from gaittrack.compare.interval import Interval
from gaittrack.compare.measurement_error import NO_FLOOR, Floor
from gaittrack.compare.typical import TypicalRange
from gaittrack.compare.walks import Sample
from gaittrack.measures.measure import OF_MEAN_CURVE
from gaittrack.measures.recording import (
    FROM_FILE,
    FROM_FILE_RATE,
    LOWER_BOUND,
    LOWER_BOUND_OF_CURVE,
    NOT_TRUSTED,
)
from gaittrack.measures.swing_dorsiflexion import CARRIED_OVER
from gaittrack.reasons import Parameter, Reason
from gaittrack.words import ENGLISH

LARGER: Final = "larger"
WITHIN: Final = "within"
NOT_SHOWN: Final = "not_shown"
NOT_DEFINED: Final = "not_defined"
NOT_COMPARABLE: Final = "not_comparable"
VERDICTS: Final = (
    *(LARGER, WITHIN, NOT_SHOWN, NO_FLOOR, NOT_DEFINED, NOT_COMPARABLE, NOT_TRUSTED),
)
"""Every verdict there is."""
TOWARD: Final = "toward_typical"
AWAY: Final = "away_from_typical"

CONTACT_TYPE_CHANGED: Final = "contact_type_changed"
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
_KINDS_OF_RATE: Final = (LOWER_BOUND, LOWER_BOUND_OF_CURVE, FROM_FILE_RATE)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What may be said.

    Attributes
    ----------
    code : str
        One of ``VERDICTS``.
    reason : Reason or None
        Why, for all but the first two.
    direction : str
        ``higher``, ``lower``, ``faster`` or ``slower``; empty unless larger than error.
    typical : str
        ``TOWARD``, ``AWAY`` or empty.
    """

    code: str
    reason: Reason | None = None
    direction: str = ""
    typical: str = ""

    def say(self, language: str = ENGLISH) -> str:
        """Return the verdict as one phrase."""
        said = Reason(self.code).say(language)
        if self.reason is not None:
            said += f": {self.reason.say(language)}"
        which_way = (Reason(code).say(language) for code in (self.direction, self.typical) if code)
        return ", ".join((said, *which_way))


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
    if interval.is_within_walk:
        return Verdict(NOT_SHOWN, Reason("one_walk_interval"))
    is_past = abs(difference) >= floor.value
    if interval.excludes_zero and is_past:
        up, down = ("faster", "slower") if is_rate else ("higher", "lower")
        return Verdict(LARGER, direction=up if difference > 0 else down)
    is_inside = -floor.value <= interval.low and interval.high <= floor.value
    if is_inside or (interval.excludes_zero and not is_past):
        return Verdict(WITHIN)
    return Verdict(NOT_SHOWN, Reason("interval_too_wide"))


def typical_direction(value: float, reference_value: float, norm: TypicalRange | None) -> str:
    """Return whether a value moved toward its typical range, away from it, or neither."""
    if norm is None:
        return ""
    now, before = norm.distance(value), norm.distance(reference_value)
    if now == before:
        return ""
    return TOWARD if now < before else AWAY


LEAST_TRUSTED_SHARE: Final = 0.5
"""Least share of the strides which show a measure that must be trusted for a verdict; own choice:
what most of the strides cannot be asked about is not judged from the rest."""


def why_not_trusted(samples: dict[str, Sample]) -> Reason | None:
    """Return what spoils a measure in some condition; None when most strides are trusted.

    Parameters
    ----------
    samples : dict of condition name to Sample
        Of two conditions.
    """
    return _in_conditions({name: _what_spoils(sample) for name, sample in samples.items()})


def _what_spoils(sample: Sample) -> Reason | None:
    n_told = sample.n_strides + sample.n_not_trusted
    if not sample.n_not_trusted or sample.n_strides >= LEAST_TRUSTED_SHARE * n_told:
        return None
    spoiled = {why: n for why, n in sample.reasons.items() if why.code == NOT_TRUSTED}
    reason: Reason = max(spoiled, key=lambda why: spoiled[why])["why"]
    return reason


def why_not_defined(samples: dict[str, Sample]) -> Reason | None:
    """Return why a measure has no value in some condition; None when all have one.

    Parameters
    ----------
    samples : dict of condition name to Sample
        Of two conditions.
    """
    return _in_conditions(
        {name: None if each.n_walks else each.main_reason for name, each in samples.items()}
    )


def _in_conditions(reasons: dict[str, Reason | None]) -> Reason | None:
    found = [
        Reason("in_condition", condition=name, reason=reason)
        for name, reason in reasons.items()
        if reason is not None
    ]
    if len(found) < 2:
        return found[0] if found else None
    return Reason("in_both_conditions", first=found[0], second=found[1])


def why_rate_not_comparable(own: ContactShares, reference: ContactShares) -> Reason | None:
    """Return why the first rocker of two conditions cannot be compared; None when it can.

    Returns
    -------
    Reason or None
        With both shares.
    """
    shares = _shares(reference.heel_percent, own.heel_percent)
    if any(math.isnan(each) for each in shares.values()):
        return Reason("contact_type_not_known")
    enough = [each >= LEAST_HEEL_SHARE_PERCENT for each in shares.values()]
    if enough[0] != enough[1]:
        return Reason(CONTACT_TYPE_CHANGED, **shares)
    if not all(enough):
        return Reason("heel_seldom_first", **shares)
    if min(own.n_heel, reference.n_heel) < LEAST_HEEL_STRIDES:
        counts = {"n_reference": reference.n_heel, "n_own": own.n_heel}
        return Reason("too_few_heel_contacts", least=LEAST_HEEL_STRIDES, **counts, **shares)
    return None


def _shares(reference_percent: float, own_percent: float) -> dict[str, float]:
    return {"reference_percent": reference_percent, "own_percent": own_percent}


def why_clearance_not_comparable(own_percent: float, reference_percent: float) -> Reason | None:
    """Return why minima of toe height cannot be compared; None when they can.

    Parameters
    ----------
    own_percent, reference_percent : float
        Share of strides with a mid-swing minimum of the toe.

    Returns
    -------
    Reason or None
        With both shares.
    """
    both = (reference_percent, own_percent)
    if any(math.isnan(each) for each in both):
        return Reason("minimum_share_not_known")
    if min(both) < LEAST_MINIMUM_SHARE_PERCENT:
        return Reason("minimum_too_often_missing", **_shares(*both))
    if abs(both[0] - both[1]) > LARGEST_SHARE_GAP_POINTS:
        return Reason("minimum_missing_in_one", **_shares(*both))
    return None


def why_labels_not_comparable(unit: str, own: Sample, reference: Sample) -> Reason | None:
    """Return what the labels of two samples say against comparing them; None when nothing.

    Parameters
    ----------
    unit : str
        Unit of the measure.
    """
    shares = [_share(sample, FROM_FILE, FROM_FILE_RATE) for sample in (reference, own)]
    if shares not in ([0.0, 0.0], [1.0, 1.0]):
        return Reason("angles_of_two_origins", **_shares(100 * shares[0], 100 * shares[1]))
    if unit == _RATE_UNIT:
        kinds = [_rate_kinds(sample) for sample in (reference, own)]
        if kinds[0] != kinds[1]:
            return Reason("two_kinds_of_rate", reference=_said(kinds[0]), own=_said(kinds[1]))
    carried = max(_share(sample, CARRIED_OVER) for sample in (own, reference))
    if carried > 0.5:
        return Reason("maximum_carried_over", percent=100 * carried)
    return None


def is_of_mean_curves(*samples: Sample) -> bool:
    """Whether any sample holds values of curves that were already averaged."""
    return any(label.code == OF_MEAN_CURVE for sample in samples for label in sample.labels)


def _rate_kinds(sample: Sample) -> frozenset[Reason]:
    return frozenset(label for label in sample.labels if label.code in _KINDS_OF_RATE)


def _said(kinds: frozenset[Reason]) -> Parameter:
    return tuple(sorted(kinds, key=repr)) or Reason("full_rate")


def _share(sample: Sample, *codes: str) -> float:
    count = sum(n for label, n in sample.labels.items() if label.code in codes)
    return count / sample.n_strides if sample.n_strides else 0.0
