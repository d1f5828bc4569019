"""What the ankle is still free to do in stance: the second and third rockers.

In come cycles, out come push-off, the ranges of the ankle and the time the heel rises. Stance
dorsiflexion and the lean of the shank stand in ``peaks``.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from gaittrack.ingredients import UPRIGHT
from gaittrack.measures.cycles_view import UP, CyclesView
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.samples import Series, at_column, means_of_rows
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

HEEL_UP_M = 0.012
"""Height over its foot-flat height at which the heel counts as risen: as far as a flat foot's heel
may be above the floor; own choice."""
_NO_PUSH_OFF: Final = Reason("no_push_off")
_NEVER_DOWN: Final = Reason("heel_never_down")
_DOES_NOT_RISE: Final = Reason("heel_does_not_rise")
_NO_FLOOR: Final = Reason("no_floor_height_of_heel")


def _push_off_from(view: CyclesView) -> tuple[FloatArray, FloatArray]:
    """Return the peak stance dorsiflexion and the lowest angle from it to toe-off."""
    angle = view.values_in(view.angle("ankle"), view.stance())
    peak = angle.values.argmax(axis=1)
    view.refuse(peak == angle.window.n - 1, _NO_PUSH_OFF)
    is_after = np.arange(angle.values.shape[1]) >= peak[:, None]
    lowest = np.minimum.reduce(np.where(is_after, angle.values, np.inf), axis=1)
    return angle.highest(), lowest


def _push_off(view: CyclesView) -> Value:
    return Value(_push_off_from(view)[1], view.angle_labels("ankle"))


def _push_off_range(view: CyclesView) -> Value:
    peak, low = _push_off_from(view)
    view.cancels(UPRIGHT)
    return Value(peak - low, view.angle_labels("ankle"))


def _stance_range(view: CyclesView) -> Value:
    angle = view.values_in(view.angle("ankle"), view.stance())
    view.cancels(UPRIGHT)
    return Value(angle.highest() - angle.lowest(), view.angle_labels("ankle"))


def _heel_rise(view: CyclesView) -> Value:
    track = view.point("heel", UP)
    stance = view.stance()
    heights = view.values_in(track, stance)
    level = _heel_floor(view, track) + HEEL_UP_M
    is_down = heights.values <= level[:, None]
    view.refuse(~np.logical_or.reduce(is_down, axis=1), _NEVER_DOWN)
    last = is_down.shape[1] - 1 - is_down[:, ::-1].argmax(axis=1)
    view.refuse(last >= stance.n - 1, _DOES_NOT_RISE)
    after = np.fmin(last + 1, stance.n - 1)
    down_m, up_m = (at_column(heights.values, place) for place in (last, after))
    share = (level - down_m) / (up_m - down_m)
    start, stop = stance.fraction_of(last), stance.fraction_of(after)
    return Value(100 * (start + share * (stop - start)))


def _heel_floor(view: CyclesView, track: Series) -> FloatArray:
    """Return the heel's mean height in this stance's foot-flat, else its neutral height."""
    stance = view.stance()
    seen = view.foot_flat_frames(stance.start, stance.end).seen(track.values)
    return view.else_heel_of("own", means_of_rows(*seen), _NO_FLOOR)


FUNCTIONS: Final[Functions] = {
    "push_off_ankle_deg": _push_off,
    "push_off_range_deg": _push_off_range,
    "stance_ankle_range_deg": _stance_range,
    "heel_rise_time_percent": _heel_rise,
}
