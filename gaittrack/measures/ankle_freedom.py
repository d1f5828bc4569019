"""What the ankle is still free to do in stance: the second and third rockers.

In comes a cycle, out come push-off, the ranges of the ankle and the time the heel rises. Stance
dorsiflexion and the lean of the shank stand in ``peaks``.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from gaittrack.ingredients import UPRIGHT
from gaittrack.measures.cycle_view import UP, CycleView
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.samples import CycleSamples, NotDefined, fraction_of_sample, values_in
from gaittrack.quick_numpy import mean_of
from gaittrack.reasons import Reason

HEEL_UP_M = 0.012
"""Height over its foot-flat height at which the heel counts as risen: as far as a flat foot's heel
may be above the floor; own choice."""


def _push_off_from(view: CycleView) -> tuple[float, float]:
    """Return the peak stance dorsiflexion and the lowest angle from it to toe-off."""
    angle = values_in(view.angle("ankle"), *view.stance())
    peak = int(np.argmax(angle))
    if peak == len(angle) - 1:
        raise NotDefined(Reason("no_push_off"))
    return float(angle[peak]), float(np.minimum.reduce(angle[peak:]))


def _push_off(view: CycleView) -> Value:
    return Value(_push_off_from(view)[1], labels=view.angle_labels("ankle"))


def _push_off_range(view: CycleView) -> Value:
    peak, low = _push_off_from(view)
    view.cancels(UPRIGHT)
    return Value(peak - low, labels=view.angle_labels("ankle"))


def _stance_range(view: CycleView) -> Value:
    angle = values_in(view.angle("ankle"), *view.stance())
    view.cancels(UPRIGHT)
    return Value(
        float(np.maximum.reduce(angle) - np.minimum.reduce(angle)),
        labels=view.angle_labels("ankle"),
    )


def _heel_rise(view: CycleView) -> Value:
    track = view.point("heel", UP)
    heights = values_in(track, *view.stance())
    level = _heel_floor(view, track) + HEEL_UP_M
    down = np.flatnonzero(heights <= level)
    if not down.size:
        raise NotDefined(Reason("heel_never_down"))
    last = int(down[-1])
    if last == len(heights) - 1:
        raise NotDefined(Reason("heel_does_not_rise"))
    share = (level - heights[last]) / (heights[last + 1] - heights[last])
    start, stop = (fraction_of_sample(track, *view.stance(), at) for at in (last, last + 1))
    return Value(100 * float(start + share * (stop - start)))


def _heel_floor(view: CycleView, track: CycleSamples) -> float:
    """Return the heel's mean height in this stance's foot-flat, else its neutral height."""
    heights = track.values[view.foot_flat_frames(*view.stance())]
    seen = heights[~np.isnan(heights)]
    if seen.size:
        return mean_of(seen)
    neutral = view.neutral(view.side)
    if neutral is None or np.isnan(neutral.heel_height_m):
        raise NotDefined(Reason("no_floor_height_of_heel"))
    return neutral.heel_height_m


FUNCTIONS: Final[Functions] = {
    "push_off_ankle_deg": _push_off,
    "push_off_range_deg": _push_off_range,
    "stance_ankle_range_deg": _stance_range,
    "heel_rise_time_percent": _heel_rise,
}
