"""Signs that a condition may do harm, looked for without being asked.

In come the pairs of a comparison, out come :class:`WatchItem` objects. A change is a sign where it
passes its limit and measurement error, by its own p-value: the family of questions never makes a
sign harder. A level is a sign where most steps of two walks or more lie beyond; what the reference
shows too, and what was seen in some steps only, is told apart. Signs describe; what they mean for a
person is for the treating professional.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final, Literal, get_args

import numpy as np

from gaittrack.compare.fair.pair import Pair
from gaittrack.compare.intervals.certainty import ALPHA
from gaittrack.compare.intervals.levels import LevelFinding, count_beyond, find_level
from gaittrack.compare.judged.row_intervals import RowIntervals, intervals_of_values
from gaittrack.compare.judged.rows import Draft, draft_rows
from gaittrack.compare.measurement_error.placement import UNTOUCHED
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
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

Status = Literal["fires", "in_both", "some_steps", "not_assessed", "clear"]
"""``in_both``: most steps lie beyond, in the reference some too; ``some_steps``: seen once, or in
fewer steps than make a sign."""
STATUSES: Final[tuple[Status, ...]] = get_args(Status)


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
    """A sign and its limits.

    Attributes
    ----------
    code : str
        Of its name.
    measure : str
        Whose level, and whose change if there is no ``change_of``.
    above, below : float
        Steps beyond this are counted.
    rise, fall : float
        A difference from the reference of this size, past measurement error, fires.
    change_of : str
        The measure whose change counts, if it is another one.
    """

    code: str
    measure: str
    above: float = math.inf
    below: float = -math.inf
    rise: float = math.inf
    fall: float = math.inf
    change_of: str = ""

    @property
    def has_level(self) -> bool:
        """Whether steps are counted."""
        return math.isfinite(self.above) or math.isfinite(self.below)

    @property
    def changed_measure(self) -> str:
        """The measure whose change counts."""
        return self.change_of or self.measure


_KNEE_YIELD: Final = "knee_yield_in_loading_deg"
LIMIT_SIGNS: Final = (
    Sign(
        "knee_flexion_in_loading",
        "loading_knee_flexion_peak_deg",
        above=LOADING_KNEE_LIMIT_DEG,
        rise=LOADING_KNEE_RISE_DEG,
        change_of=_KNEE_YIELD if _KNEE_YIELD in MEASURE_BY_NAME else "",
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
"""No limit was found for these: they fire when they rose, past measurement error where one is
known, else past ``LEAST_RISE``, at a level shared over them."""
LEAST_RISE: Final[Mapping[str, float]] = {
    "loading_knee_flexion_rate_deg_s": 35.0,
    "step_width_mm": 5.0,
    "peak_pelvic_hike_deg": 3.0,
    "circumduction_mm": 5.0,
    "opposite_vaulting_plantarflexion_deg": 3.0,
    "opposite_heel_rise_at_mid_swing_mm": 5.0,
}
"""In the unit of the measure; own choice: what is told of angles and clearances with markers left
on, and above what 4 mm of marker noise adds to these peaks (1 deg, 3 mm, 35 deg/s)."""
MORE_VARIABLE: Final = "more_variable_steps"
N_INTERVAL_SIGNS: Final = len(INTERVAL_SIGNS) + 1
SIGN_MEASURES: Final = frozenset(
    {
        *(measure for sign in LIMIT_SIGNS for measure in (sign.measure, sign.changed_measure)),
        *(measure for _, measure in INTERVAL_SIGNS),
    }
)
"""All that a comparison has to know for the watch list."""
Drafts = Mapping[tuple[str, Side], Draft]


def watch(pair: Pair, drafts: Drafts) -> list[WatchItem]:
    """Look for every sign on both sides.

    Parameters
    ----------
    drafts : mapping of (measure, side) to Draft
        Rows of the pair.

    Returns
    -------
    list of WatchItem
        Those that fire first.
    """
    found = [item for side in SIDES for item in _items(pair, drafts, side)]
    return sorted(found, key=lambda item: STATUSES.index(item.status))


def _items(pair: Pair, drafts: Drafts, side: Side) -> Iterable[WatchItem]:
    def draft_of(measure: str) -> Draft:
        return drafts.get((measure, side)) or draft_rows([(pair, measure, side)])[0]

    for sign in LIMIT_SIGNS:
        yield _by_limit(sign, draft_of(sign.measure), draft_of(sign.changed_measure))
    for code, measure in INTERVAL_SIGNS:
        yield _by_interval(code, draft_of(measure))
    yield _variability(draft_of("step_width_mm"))


def _item(
    draft: Draft,
    sign: str,
    *,
    reason: Reason,
    status: Status,
    values: tuple[float, float] | None = None,
) -> WatchItem:
    own, reference = values or (draft.own.value, draft.reference.value)
    names = (draft.pair.own.name, draft.pair.reference.name)
    name = draft.measure.name
    return WatchItem(
        sign, draft.side, *names, status, name, own, reference, own - reference, reason
    )


def _by_limit(sign: Sign, draft: Draft, changed: Draft) -> WatchItem:
    if missing := _why_missing(sign, draft, changed):
        return _item(draft, sign.code, reason=missing, status="not_assessed")
    said = list(_change_passed(sign, changed, draft))
    status: Status = "fires" if said else "clear"
    if sign.has_level:
        finding, words = _level(sign, draft)
        status = "fires" if said else _STATUS_OF[finding]
        said += [words] if words is not None else []
    quantity = _quantity(draft)
    if said:
        quantity = Reason("quantity_beyond", quantity=quantity, limits=tuple(said))
    return _item(draft, sign.code, reason=quantity, status=status)


_STATUS_OF: Final[dict[LevelFinding, Status]] = {
    "new": "fires",
    "there_without_too": "in_both",
    "seen_once": "some_steps",
    "some_steps": "some_steps",
    "none": "clear",
}


def _why_missing(sign: Sign, draft: Draft, changed: Draft) -> Reason | None:
    """Return why a sign cannot be assessed; a level needs no reference."""
    if not draft.own.n_walks:
        return draft.own.main_reason
    if sign.has_level or changed.obstacle is None:
        return None
    return changed.obstacle.reason or changed.reference.main_reason


def _change_passed(sign: Sign, changed: Draft, draft: Draft) -> Iterator[Reason]:
    if not changed.is_past_error:
        return
    rose, fell = changed.difference >= sign.rise, changed.difference <= -sign.fall
    if not (rose or fell):
        return
    said = Reason(
        "above_reference" if rose else "below_reference", limit=sign.rise if rose else sign.fall
    )
    if changed.measure is draft.measure:
        yield said
    else:
        title = changed.measure.title
        yield Reason("of_measure", title=title, quantity=_quantity(changed), change=said)


_LEVEL_CODES: Final = {
    "new": ("above_new", "below_new"),
    "there_without_too": ("above_there_without_too", "below_there_without_too"),
    "seen_once": ("above_seen_once", "below_seen_once"),
    "some_steps": ("above_some_steps", "below_some_steps"),
}
"""Of a level that was found: codes of values above and below their limit."""


def _level(sign: Sign, draft: Draft) -> tuple[LevelFinding, Reason | None]:
    is_above = math.isfinite(sign.above)
    limit = sign.above if is_above else sign.below
    own, reference = (
        count_beyond(sample.strides, limit, is_above=is_above)
        for sample in (draft.own, draft.reference)
    )
    finding = find_level(own, reference)
    if finding == "none":
        return finding, None
    counts = {"n_beyond": own.n_beyond, "n_steps": own.n_steps}
    if finding == "seen_once" and own.first is not None:
        walk, step = _place(draft, own.first)
        counts |= {"walk": walk, "step": step}
    if finding == "there_without_too":
        counts |= {"n_beyond_reference": reference.n_beyond, "n_steps_reference": reference.n_steps}
    return finding, Reason(_LEVEL_CODES[finding][not is_above], limit=limit, **counts)


def _place(draft: Draft, first: tuple[int, int]) -> tuple[int, int]:
    """Return walk and step, from 1, of a defined step counted among walks that have any."""
    key = draft.measure.name, draft.side
    found: list[tuple[int, FloatArray]] = []
    for number, walk in enumerate(draft.pair.own.walks, 1):
        if key in walk.tables and np.isfinite(values := walk.tables[key].values).any():
            found.append((number, values))
    number, values = found[first[0]]
    return number, int(np.flatnonzero(np.isfinite(values))[first[1]]) + 1


def _quantity(draft: Draft) -> Reason:
    return Reason(
        "quantity",
        value=draft.own.value,
        reference_value=draft.reference.value,
        unit=draft.measure.unit,
        decimals=draft.measure.decimals,
    )


def _by_interval(sign: str, draft: Draft) -> WatchItem:
    if draft.obstacle is not None:
        reason = draft.obstacle.reason or draft.own.main_reason
        return _item(draft, sign, reason=reason, status="not_assessed")
    error = draft.error.error
    least = LEAST_RISE.get(draft.measure.name, 0.0) if math.isnan(error) else error
    is_past = draft.error.is_inside or abs(draft.difference) >= least
    return _risen(draft, sign, _quantity(draft), draft.intervals, is_past=is_past)


def _risen(
    draft: Draft,
    sign: str,
    said: Reason,
    intervals: RowIntervals,
    *,
    is_past: bool,
    values: tuple[float, float] | None = None,
) -> WatchItem:
    whole = intervals.whole
    if math.isnan(intervals.p):
        why = whole.reason or Reason("one_walk_interval")
        reason = Reason("quantity_without_interval", quantity=said, reason=why)
        return _item(draft, sign, reason=reason, status="not_assessed", values=values)
    fires = whole.low + whole.high > 0 and is_past and intervals.p <= ALPHA / N_INTERVAL_SIGNS
    bounds = {"low": whole.low, "high": whole.high, "p": intervals.p}
    reason = Reason(
        "quantity_with_interval",
        quantity=said,
        level=ALPHA / N_INTERVAL_SIGNS,
        n_signs=N_INTERVAL_SIGNS,
        **bounds,
    )
    status: Status = "fires" if fires else "clear"
    return _item(draft, sign, reason=reason, status=status, values=values)


def _variability(draft: Draft) -> WatchItem:
    samples = draft.own, draft.reference
    spreads = [
        np.array([each.std(ddof=1) for each in sample.strides if len(each) > 1])
        for sample in samples
    ]
    values = (_mean(spreads[0]), _mean(spreads[1]))
    if min(sample.n_strides for sample in samples) < LEAST_STRIDES_FOR_VARIABILITY:
        few = Reason("variability_needs_strides", least=LEAST_STRIDES_FOR_VARIABILITY)
        return _item(draft, MORE_VARIABLE, reason=few, status="not_assessed", values=values)
    said = Reason("step_width_scatter", value=values[0], reference_value=values[1])
    intervals = intervals_of_values([(spreads[0], spreads[1], UNTOUCHED)])[0]
    return _risen(draft, MORE_VARIABLE, said, intervals, is_past=True, values=values)


def _mean(values: FloatArray) -> float:
    return float(np.mean(values)) if len(values) else math.nan
