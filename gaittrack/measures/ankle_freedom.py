"""What the ankle is still free to do in stance: the second and third rockers.

In comes a cycle, out come stance dorsiflexion, push-off and their ranges, the lean of the shank at
mid-stance and the time the heel rises.
"""

from __future__ import annotations

import numpy as np

from gaittrack.ingredients import UPRIGHT
from gaittrack.measures.cycle_view import UP, CycleView
from gaittrack.measures.measure import Measure, Value
from gaittrack.measures.peaks import at_instant, highest
from gaittrack.measures.samples import CycleSamples, NotDefined, values_in, window
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

HEEL_UP_M = 0.012
"""Height over its foot-flat height at which the heel counts as risen: as far as a flat foot's heel
may be above the floor; own choice."""
_PRACTICE = "common practice, no source"


def _stance_peak(view: CycleView) -> Value:
    return highest(view, "ankle", view.stance())


def _push_off_from(view: CycleView) -> tuple[float, float]:
    """Return the peak stance dorsiflexion and the lowest angle from it to toe-off."""
    angle = values_in(view.angle("ankle"), *view.stance())
    peak = int(np.argmax(angle))
    if peak == len(angle) - 1:
        raise NotDefined(Reason("no_push_off"))
    return float(angle[peak]), float(angle[peak:].min())


def _push_off(view: CycleView) -> Value:
    return Value(_push_off_from(view)[1], labels=view.angle_labels("ankle"))


def _push_off_range(view: CycleView) -> Value:
    peak, low = _push_off_from(view)
    view.cancels(UPRIGHT)
    return Value(peak - low, labels=view.angle_labels("ankle"))


def _stance_range(view: CycleView) -> Value:
    angle = values_in(view.angle("ankle"), *view.stance())
    view.cancels(UPRIGHT)
    return Value(float(angle.max() - angle.min()), labels=view.angle_labels("ankle"))


def _shank_at_mid_stance(view: CycleView) -> Value:
    return at_instant(view, "shank_lean", view.stance()[1] / 2)


def _heel_rise(view: CycleView) -> Value:
    track = view.point("heel", UP)
    fractions, heights = window(track, *view.stance())
    level = _heel_floor(view, track) + HEEL_UP_M
    down = np.flatnonzero(heights <= level)
    if not down.size:
        raise NotDefined(Reason("heel_never_down"))
    last = int(down[-1])
    if last == len(heights) - 1:
        raise NotDefined(Reason("heel_does_not_rise"))
    return Value(100 * _crossing(fractions, heights, last, level))


def _crossing(fractions: FloatArray, heights: FloatArray, last: int, level: float) -> float:
    share = (level - heights[last]) / (heights[last + 1] - heights[last])
    return float(fractions[last] + share * (fractions[last + 1] - fractions[last]))


def _heel_floor(view: CycleView, track: CycleSamples) -> float:
    """Return the heel's mean height in this stance's foot-flat, else its neutral height."""
    heights = track.values[view.foot_flat_frames(*view.stance())]
    seen = heights[~np.isnan(heights)]
    if seen.size:
        return float(seen.mean())
    neutral = view.neutral(view.side)
    if neutral is None or np.isnan(neutral.heel_height_m):
        raise NotDefined(Reason("no_floor_height_of_heel"))
    return neutral.heel_height_m


PEAK_STANCE_DORSIFLEXION = Measure(
    name="peak_stance_dorsiflexion_deg",
    title="Peak stance dorsiflexion",
    unit="deg",
    definition="Largest ankle angle from contact to toe-off.",
    positive="dorsiflexion",
    toward_typical="none",
    source=_PRACTICE,
    group="ankle freedom",
    compute=_stance_peak,
)
PUSH_OFF_ANKLE = Measure(
    name="push_off_ankle_deg",
    title="Push-off plantarflexion (dorsiflexion positive)",
    unit="deg",
    definition=(
        "Smallest ankle angle from the instant of peak stance dorsiflexion to toe-off; "
        "plantarflexion is negative."
    ),
    positive="dorsiflexion (push-off is negative)",
    toward_typical="nearer",
    source=_PRACTICE,
    group="ankle freedom",
    compute=_push_off,
)
PUSH_OFF_RANGE = Measure(
    name="push_off_range_deg",
    title="Push-off range",
    unit="deg",
    definition="Peak stance dorsiflexion minus the smallest ankle angle from there to toe-off.",
    positive="more movement",
    toward_typical="none",
    source="common practice, no source",
    group="ankle freedom",
    compute=_push_off_range,
)
STANCE_ANKLE_RANGE = Measure(
    name="stance_ankle_range_deg",
    title="Ankle range in stance",
    unit="deg",
    definition="Largest minus smallest ankle angle from contact to toe-off.",
    positive="more movement",
    toward_typical="none",
    source="common practice, no source",
    group="ankle freedom",
    compute=_stance_range,
)
SHANK_LEAN_AT_MID_STANCE = Measure(
    name="shank_lean_at_mid_stance_deg",
    title="Shank to vertical at mid-stance",
    unit="deg",
    definition="Lean of the shank against the vertical half-way in time from contact to toe-off.",
    positive="knee ahead of the ankle",
    toward_typical="none",
    source="common practice, no source",
    group="ankle freedom",
    compute=_shank_at_mid_stance,
)
HEEL_RISE_TIME = Measure(
    name="heel_rise_time_percent",
    title="Heel rise",
    unit="%",
    definition=(
        "Per cent of the cycle at which the heel leaves the band of 12 mm above its mean foot-flat "
        "height for the last time before toe-off; low-passed at 6 Hz."
    ),
    positive="later",
    toward_typical="none",
    source="own definition",
    group="ankle freedom",
    compute=_heel_rise,
)
