"""Why a difference may not be judged.

In come the samples of both conditions, out comes the verdict "not defined", "not trusted" or "not
comparable" with its reason, or None.
"""

from __future__ import annotations

import math

from gaittrack.compare.fair.fairness import contact_shares
from gaittrack.compare.fair.pair import MINIMUM_SHARE, Pair
from gaittrack.compare.intervals.verdict import (
    CLEARANCE_MEASURES,
    CONTACT_TYPE_CHANGED,
    FIRST_ROCKER_MEASURES,
    NOT_COMPARABLE,
    NOT_DEFINED,
    NOT_TRUSTED,
    Verdict,
    why_clearance_not_comparable,
    why_labels_not_comparable,
    why_not_defined,
    why_not_trusted,
    why_rate_not_comparable,
)
from gaittrack.compare.walked.same_body import why_noise_differs
from gaittrack.compare.walked.walks import Sample
from gaittrack.measures.measure import Measure
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Side


def find_obstacle(
    pair: Pair, measure: Measure, side: Side, own: Sample, reference: Sample
) -> Verdict | None:
    """Return the verdict of a row where there is nothing to judge, else None."""
    samples = {pair.reference.name: reference, pair.own.name: own}
    if reason := why_not_trusted(samples):
        return Verdict(NOT_TRUSTED, reason)
    if reason := why_not_defined(samples):
        changed = _rate_reason(pair, measure, side)
        if changed is not None and changed.code == CONTACT_TYPE_CHANGED:
            return Verdict(NOT_COMPARABLE, changed)
        return Verdict(NOT_DEFINED, reason)
    reason = (
        pair.why_not_of_one_person
        or _rate_reason(pair, measure, side)
        or _clearance_reason(pair, measure, side, own, reference)
        or why_labels_not_comparable(measure.unit, own, reference)
        or pair.other_points.get((measure.name, side))
    )
    return Verdict(NOT_COMPARABLE, reason) if reason else None


def _rate_reason(pair: Pair, measure: Measure, side: Side) -> Reason | None:
    if measure.name not in FIRST_ROCKER_MEASURES:
        return None
    shares = contact_shares(pair.own, side), contact_shares(pair.reference, side)
    return why_rate_not_comparable(*shares) or why_noise_differs(
        pair.own.walks, pair.reference.walks, side
    )


def _clearance_reason(
    pair: Pair, measure: Measure, side: Side, own: Sample, reference: Sample
) -> Reason | None:
    if measure.name not in CLEARANCE_MEASURES:
        return None
    told = zip(pair.samples(MINIMUM_SHARE, side), (own, reference), strict=True)
    return why_clearance_not_comparable(*(_minimum_share(*each) for each in told))


def _minimum_share(share: Sample, sample: Sample) -> float:
    """Return the share of strides with a mid-swing minimum, else of defined strides, per cent."""
    if share.n_walks:
        return sum(float(each.sum()) for each in share.strides) / share.n_strides
    n_all = sample.n_strides + sample.n_not_defined
    return 100 * sample.n_strides / n_all if n_all else math.nan
