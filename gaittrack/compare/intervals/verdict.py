"""What may be said of a difference, and what speaks against comparing.

In come the intervals, the measurement error and the samples, out comes a :class:`Verdict`: a code
of ``decision.VERDICTS`` with its reason. What was not shown is "not shown".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from gaittrack.compare.intervals.certainty import ALPHA
from gaittrack.compare.intervals.decision import VERDICTS, Evidence, decide
from gaittrack.compare.intervals.interval import Interval
from gaittrack.compare.measurement_error.marker_errors import MeasurementError
from gaittrack.compare.typical_values.typical import TypicalRange
from gaittrack.compare.walked.walks import Sample
from gaittrack.measures.measure import OF_MEAN_CURVE
from gaittrack.measures.recording import (
    FROM_FILE,
    FROM_FILE_RATE,
    LOWER_BOUND,
    LOWER_BOUND_OF_CURVE,
    SMOOTHED_BEFORE,
)
from gaittrack.measures.swing_dorsiflexion import CARRIED_OVER
from gaittrack.measures.toe_clearance import SLOPE_NOT_SEEN
from gaittrack.reasons import Parameter, Reason
from gaittrack.words import ENGLISH

(
    LARGER,
    CHANGE_IN_THESE_WALKS,
    NO_CHANGE,
    NOT_SHOWN,
    NO_ERROR_FIGURE,
    NOT_COMPARABLE,
    NOT_TRUSTED,
    NOT_DEFINED,
) = VERDICTS
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
    "foot_lowering_angle_deg",
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
        One of ``decision.VERDICTS``.
    reason : Reason or None
        Why, where there is more to say.
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
            mark = "," if self.code == CHANGE_IN_THESE_WALKS else ":"
            said += f"{mark} {self.reason.say(language)}"
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


def judge(
    difference: float,
    walks: Interval,
    error: MeasurementError,
    *,
    p: float,
    adjusted_p: float,
    is_rate: bool = False,
) -> Verdict:
    """Return the verdict of a difference that may be compared.

    Parameters
    ----------
    walks : Interval
        Of the walks alone. One within one walk per condition shows nothing of another walk: it
        never makes a change larger, or no larger, than measurement error.
    p, adjusted_p : float
        Of the whole interval, by itself and adjusted for its family of questions.
    is_rate : bool
        Say faster or slower instead of higher or lower.
    """
    is_judged = walks.is_shown and not walks.is_within_walk
    half = (walks.high - walks.low) / 2 if is_judged else math.nan
    evidence = Evidence(
        difference=difference,
        walks_half=half,
        error=error.error,
        is_error_inside=error.is_inside,
        adjusted_p=adjusted_p,
    )
    code = decide(evidence)
    if code == LARGER:
        up, down = ("faster", "slower") if is_rate else ("higher", "lower")
        return Verdict(code, direction=up if difference > 0 else down)
    if code == CHANGE_IN_THESE_WALKS:
        is_past = error.is_inside or abs(difference) >= error.error
        is_one_of_many = is_past and p <= ALPHA
        return Verdict(code, Reason("one_of_many_questions" if is_one_of_many else "size_of_error"))
    if code == NOT_SHOWN and is_judged:
        return Verdict(code, Reason("interval_too_wide"))
    if code == NOT_SHOWN and walks.is_within_walk:
        return Verdict(code, Reason("one_walk_interval"))
    return Verdict(code, walks.reason if code in (NOT_SHOWN, NO_ERROR_FIGURE) else None)


def typical_direction(
    value: float, reference_value: float, norm: TypicalRange | None, error: float
) -> str:
    """Return whether a value moved toward its typical range, away from it, or neither.

    Parameters
    ----------
    error : float
        Of a difference: the distance to the range must change by more.
    """
    if norm is None:
        return ""
    now, before = norm.distance(value), norm.distance(reference_value)
    if not abs(now - before) > error:
        return ""
    return TOWARD if now < before else AWAY


def why_not_trusted(samples: dict[str, Sample]) -> Reason | None:
    """Return what spoils a measure in some condition; None when most strides are trusted.

    Parameters
    ----------
    samples : dict of condition name to Sample
        Of two conditions.
    """
    return _in_conditions({name: sample.spoiled_by for name, sample in samples.items()})


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
    if found[0]["reason"] == found[1]["reason"]:
        return Reason("in_both_alike", reason=found[0]["reason"])
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
        if any(_share(sample, SMOOTHED_BEFORE) > 0 for sample in (reference, own)):
            return Reason("rates_of_smoothed_markers")
    unseen = [_share(sample, SLOPE_NOT_SEEN) for sample in (reference, own)]
    if (unseen[0] > 0.5) != (unseen[1] > 0.5):
        return Reason("slope_seen_in_one", **_shares(100 * unseen[0], 100 * unseen[1]))
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
