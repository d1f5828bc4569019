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

Status = Literal["fires", "clear", "not assessed"]


@dataclass(frozen=True, slots=True)
class WatchItem:
    """One sign on one side.

    Attributes
    ----------
    text : str
        The quantity in words, or why it was not assessed.
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
    text: str


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign and its limit.

    Attributes
    ----------
    above, below : float
        The value itself beyond this fires.
    rise, fall : float
        A difference from the reference of this size fires.
    """

    name: str
    measure: str
    above: float = math.inf
    below: float = -math.inf
    rise: float = math.inf
    fall: float = math.inf


LIMIT_SIGNS: Final = (
    Sign(
        "knee flexion in loading",
        "loading_knee_flexion_peak_deg",
        above=LOADING_KNEE_LIMIT_DEG,
        rise=LOADING_KNEE_RISE_DEG,
    ),
    Sign(
        "knee hyperextension in stance",
        "stance_knee_flexion_minimum_deg",
        below=STANCE_KNEE_LIMIT_DEG,
    ),
    Sign("lost stance dorsiflexion", "peak_stance_dorsiflexion_deg", fall=RESTRICTION_DEG),
    Sign("lost push-off range", "push_off_range_deg", fall=RESTRICTION_DEG),
)
INTERVAL_SIGNS: Final[tuple[tuple[str, str], ...]] = (
    ("knee yields faster in loading", "loading_knee_flexion_rate_deg_s"),
    ("wider steps", "step_width_mm"),
    ("hip hiking", "peak_pelvic_hike_deg"),
    ("circumduction", "circumduction_mm"),
    ("vaulting of the other leg", "opposite_vaulting_plantarflexion_deg"),
    ("other heel up at mid-swing", "opposite_heel_rise_at_mid_swing_mm"),
)
"""No limit was found for these: they fire when the interval, shared over them, lies above zero."""
MORE_VARIABLE: Final = "more variable steps"
_N_INTERVAL_SIGNS: Final = len(INTERVAL_SIGNS) + 1


def watch(pair: Pair) -> list[WatchItem]:
    """Look for every sign on both sides.

    Returns
    -------
    list of WatchItem
        Those that fire first.
    """
    found = [item for side in SIDES for item in _items(pair, side)]
    order: dict[Status, int] = {"fires": 0, "not assessed": 1, "clear": 2}
    return sorted(found, key=lambda item: order[item.status])


def _items(pair: Pair, side: Side) -> Iterable[WatchItem]:
    for sign in LIMIT_SIGNS:
        yield _by_limit(pair, sign, side)
    for name, measure in INTERVAL_SIGNS:
        yield _by_interval(pair, name, measure, side)
    yield _variability(pair, side)


def _item(
    pair: Pair,
    sign: str,
    side: Side,
    measure: str,
    values: tuple[float, float],
    *,
    said: str,
    status: Status,
) -> WatchItem:
    names = (pair.own.name, pair.reference.name)
    return WatchItem(sign, side, *names, status, measure, *values, values[0] - values[1], said)


def _by_limit(pair: Pair, sign: Sign, side: Side) -> WatchItem:
    own, reference = pair.samples(sign.measure, side)
    values = (own.value, reference.value)
    needs_reference = not math.isinf(sign.fall)
    if math.isnan(own.value) or (needs_reference and math.isnan(reference.value)):
        reason = own.main_reason if math.isnan(own.value) else reference.main_reason
        return _item(
            pair, sign.name, side, sign.measure, values, said=reason, status="not assessed"
        )
    difference = own.value - reference.value
    reasons = []
    if own.value > sign.above:
        too = ", in the reference too" * (reference.value > sign.above)
        reasons.append(f"above {sign.above:g}{too}")
    if own.value < sign.below:
        too = ", in the reference too" * (reference.value < sign.below)
        reasons.append(f"below {sign.below:g}{too}")
    if difference >= sign.rise:
        reasons.append(f"{sign.rise:g} or more above the reference")
    if difference <= -sign.fall:
        reasons.append(f"{sign.fall:g} or more below the reference")
    said = _quantity(sign.measure, values) + (f": {'; '.join(reasons)}" if reasons else "")
    status: Status = "fires" if reasons else "clear"
    return _item(pair, sign.name, side, sign.measure, values, said=said, status=status)


def _quantity(measure: str, values: tuple[float, float]) -> str:
    unit, decimals = MEASURE_BY_NAME[measure].unit, MEASURE_BY_NAME[measure].decimals
    return f"{values[0]:.{decimals}f} {unit} (reference {values[1]:.{decimals}f} {unit})"


def _by_interval(pair: Pair, sign: str, measure: str, side: Side) -> WatchItem:
    own, reference = pair.samples(measure, side)
    values = (own.value, reference.value)
    if not own.n_walks or not reference.n_walks:
        reason = (reference if own.n_walks else own).main_reason
        return _item(pair, sign, side, measure, values, said=reason, status="not assessed")
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
    said: str,
    interval: Interval,
) -> WatchItem:
    if not interval.is_shown:
        said = f"{said}; {interval.reason}"
        return _item(pair, sign, side, measure, values, said=said, status="not assessed")
    status: Status = "fires" if interval.low > 0 else "clear"
    shared = f"{said}; interval shared over {_N_INTERVAL_SIGNS} signs: {interval.low:.3g} to "
    shared += f"{interval.high:.3g}"
    return _item(pair, sign, side, measure, values, said=shared, status=status)


def _variability(pair: Pair, side: Side) -> WatchItem:
    measure = "step_width_mm"
    samples = pair.samples(measure, side)
    spreads = [
        [float(each.std(ddof=1)) for each in sample.strides if len(each) > 1] for sample in samples
    ]
    values = (_mean(spreads[0]), _mean(spreads[1]))
    if min(sample.n_strides for sample in samples) < LEAST_STRIDES_FOR_VARIABILITY:
        said = f"variability needs {LEAST_STRIDES_FOR_VARIABILITY} strides per condition"
        return _item(pair, MORE_VARIABLE, side, measure, values, said=said, status="not assessed")
    interval = difference_interval(*spreads, n_comparisons=pair.n_comparisons * _N_INTERVAL_SIGNS)
    said = f"standard deviation of step width {values[0]:.1f} mm (reference {values[1]:.1f} mm)"
    return _judged(pair, MORE_VARIABLE, side, measure, values, said=said, interval=interval)


def _mean(values: list[float]) -> float:
    return float(np.mean(values)) if values else math.nan
