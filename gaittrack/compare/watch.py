"""Signs that a condition may do harm, looked for without being asked.

In come the pairs of a comparison, out come :class:`WatchItem` objects: a sign fires, is clear, or
could not be assessed. They describe; what they mean for a person is for the treating professional.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from gaittrack.compare.interval import Interval, difference_interval
from gaittrack.compare.rows import Pair, interval_of
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.reasons import Reason
from gaittrack.vocabulary import SIDES, Side

CANNOT_SHOW: Final = (
    "This recording cannot show: mediolateral stability of the ankle, muscle tone, fixed "
    "deformity, the state of the skin, pain."
)
CAUTION: Final = (
    "These are numbers from a recording, not findings about a person. What they mean, and whether "
    "anything follows from them, is for the treating professional to judge."
)
LOADING_KNEE_LIMIT_DEG: Final = 25.0
LOADING_KNEE_RISE_DEG: Final = 8.0
"""Knee flexion in loading is normally some 15-20 deg; the flags are proposals, no published
limit."""
STANCE_KNEE_LIMIT_DEG: Final = -5.0
"""Hyperextension from 5 deg on is called moderate in one grouping; weak source."""
RESTRICTION_DEG: Final = 5.0
"""Loss of stance dorsiflexion or of push-off range; the general between-session error of sagittal
angles, Wilken 2012."""
LEAST_STRIDES_FOR_VARIABILITY: Final = 50
"""Koenig 2014, PubMed 23838361."""

Status = Literal["fires", "clear", "not_assessed"]


@dataclass(frozen=True, slots=True)
class WatchItem:
    """One sign on one side.

    Attributes
    ----------
    sign : str
        Code of its name.
    reason : Reason
        The quantity, or why it was not assessed.
    """

    sign: str
    side: Side
    condition: str
    reference: str
    status: Status
    measure: str
    value: float
    reference_value: float
    difference: float
    reason: Reason


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign and its limit.

    Attributes
    ----------
    code : str
        Of its name.
    above, below : float
        The value itself beyond this fires.
    rise, fall : float
        A difference from the reference of this size fires.
    """

    code: str
    measure: str
    above: float = math.inf
    below: float = -math.inf
    rise: float = math.inf
    fall: float = math.inf


LIMIT_SIGNS: Final = (
    Sign(
        "knee_flexion_in_loading",
        "loading_knee_flexion_peak_deg",
        above=LOADING_KNEE_LIMIT_DEG,
        rise=LOADING_KNEE_RISE_DEG,
    ),
    Sign(
        "knee_hyperextension_in_stance",
        "stance_knee_flexion_minimum_deg",
        below=STANCE_KNEE_LIMIT_DEG,
    ),
    Sign("lost_stance_dorsiflexion", "peak_stance_dorsiflexion_deg", fall=RESTRICTION_DEG),
    Sign("lost_push_off_range", "push_off_range_deg", fall=RESTRICTION_DEG),
)
INTERVAL_SIGNS: Final[tuple[tuple[str, str], ...]] = (
    ("knee_yields_faster_in_loading", "loading_knee_flexion_rate_deg_s"),
    ("wider_steps", "step_width_mm"),
    ("hip_hiking", "peak_pelvic_hike_deg"),
    ("circumduction", "circumduction_mm"),
    ("vaulting_of_the_other_leg", "opposite_vaulting_plantarflexion_deg"),
    ("other_heel_up_at_mid_swing", "opposite_heel_rise_at_mid_swing_mm"),
)
"""No limit was found for these: they fire when the interval, shared over them, lies above zero."""
MORE_VARIABLE: Final = "more_variable_steps"
_N_INTERVAL_SIGNS: Final = len(INTERVAL_SIGNS) + 1


def watch(pair: Pair) -> list[WatchItem]:
    """Look for every sign on both sides.

    Returns
    -------
    list of WatchItem
        Those that fire first.
    """
    found = [item for side in SIDES for item in _items(pair, side)]
    order: dict[Status, int] = {"fires": 0, "not_assessed": 1, "clear": 2}
    return sorted(found, key=lambda item: order[item.status])


def _items(pair: Pair, side: Side) -> Iterable[WatchItem]:
    for sign in LIMIT_SIGNS:
        yield _by_limit(pair, sign, side)
    for code, measure in INTERVAL_SIGNS:
        yield _by_interval(pair, code, measure, side)
    yield _variability(pair, side)


def _item(
    pair: Pair,
    sign: str,
    side: Side,
    measure: str,
    values: tuple[float, float],
    *,
    reason: Reason,
    status: Status,
) -> WatchItem:
    names = (pair.own.name, pair.reference.name)
    return WatchItem(sign, side, *names, status, measure, *values, values[0] - values[1], reason)


def _by_limit(pair: Pair, sign: Sign, side: Side) -> WatchItem:
    own, reference = pair.samples(sign.measure, side)
    values = (own.value, reference.value)
    needs_reference = not math.isinf(sign.fall)
    if math.isnan(own.value) or (needs_reference and math.isnan(reference.value)):
        reason = own.main_reason if math.isnan(own.value) else reference.main_reason
        return _item(
            pair, sign.code, side, sign.measure, values, reason=reason, status="not_assessed"
        )
    limits = tuple(_limits_passed(sign, *values))
    said = _quantity(sign.measure, values)
    if limits:
        said = Reason("quantity_beyond", quantity=said, limits=limits)
    status: Status = "fires" if limits else "clear"
    return _item(pair, sign.code, side, sign.measure, values, reason=said, status=status)


def _limits_passed(sign: Sign, value: float, reference: float) -> Iterable[Reason]:
    if value > sign.above:
        too = "above_limit_in_both" if reference > sign.above else "above_limit"
        yield Reason(too, limit=sign.above)
    if value < sign.below:
        too = "below_limit_in_both" if reference < sign.below else "below_limit"
        yield Reason(too, limit=sign.below)
    if value - reference >= sign.rise:
        yield Reason("above_reference", limit=sign.rise)
    if value - reference <= -sign.fall:
        yield Reason("below_reference", limit=sign.fall)


def _quantity(measure: str, values: tuple[float, float]) -> Reason:
    unit, decimals = MEASURE_BY_NAME[measure].unit, MEASURE_BY_NAME[measure].decimals
    return Reason(
        "quantity", value=values[0], reference_value=values[1], unit=unit, decimals=decimals
    )


def _by_interval(pair: Pair, sign: str, measure: str, side: Side) -> WatchItem:
    own, reference = pair.samples(measure, side)
    values = (own.value, reference.value)
    if not own.n_walks or not reference.n_walks:
        reason = (reference if own.n_walks else own).main_reason
        return _item(pair, sign, side, measure, values, reason=reason, status="not_assessed")
    interval = interval_of(
        pair, MEASURE_BY_NAME[measure], own, reference, n_signs=_N_INTERVAL_SIGNS
    )
    said = _quantity(measure, values)
    return _judged(pair, sign, side, measure, values, said=said, interval=interval)


def _judged(
    pair: Pair,
    sign: str,
    side: Side,
    measure: str,
    values: tuple[float, float],
    *,
    said: Reason,
    interval: Interval,
) -> WatchItem:
    if interval.reason is not None:
        reason = Reason("quantity_without_interval", quantity=said, reason=interval.reason)
        return _item(pair, sign, side, measure, values, reason=reason, status="not_assessed")
    status: Status = "fires" if interval.low > 0 else "clear"
    bounds = {"low": interval.low, "high": interval.high, "n_signs": _N_INTERVAL_SIGNS}
    shared = Reason("quantity_with_interval", quantity=said, **bounds)
    return _item(pair, sign, side, measure, values, reason=shared, status=status)


def _variability(pair: Pair, side: Side) -> WatchItem:
    measure = "step_width_mm"
    samples = pair.samples(measure, side)
    spreads = [
        [float(each.std(ddof=1)) for each in sample.strides if len(each) > 1] for sample in samples
    ]
    values = (_mean(spreads[0]), _mean(spreads[1]))
    if min(sample.n_strides for sample in samples) < LEAST_STRIDES_FOR_VARIABILITY:
        few = Reason("variability_needs_strides", least=LEAST_STRIDES_FOR_VARIABILITY)
        return _item(pair, MORE_VARIABLE, side, measure, values, reason=few, status="not_assessed")
    interval = difference_interval(*spreads, n_comparisons=pair.n_comparisons * _N_INTERVAL_SIGNS)
    said = Reason("step_width_scatter", value=values[0], reference_value=values[1])
    return _judged(pair, MORE_VARIABLE, side, measure, values, said=said, interval=interval)


def _mean(values: list[float]) -> float:
    return float(np.mean(values)) if values else math.nan
