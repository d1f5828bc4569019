"""What the rest of the body does so that the foot gets past.

In comes a cycle, out come hip hiking, circumduction, and the vaulting of the other leg, where the
markers show them. The high step stands in ``peaks``.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from gaittrack.ingredients import UPRIGHT
from gaittrack.measures.cycle_view import FORWARD, LEFT, UP, CycleView
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.peaks import highest
from gaittrack.measures.samples import CycleSamples, NotDefined, value_at, values_in
from gaittrack.quick_numpy import median_of
from gaittrack.reasons import Reason

VAULTING_END = 0.30
"""End of the vaulting window, as a fraction of the other foot's cycle; own choice."""


def outward(view: CycleView) -> float:
    """Return +1 when left is outward for this side, -1 when right is.

    Raises
    ------
    NotDefined
        The recording is a side view.
    """
    if view.motion.trial.n_dimensions == 2:
        raise NotDefined(Reason("nothing_sideways"))
    return 1.0 if view.side == "left" else -1.0


def _pelvic_hike(view: CycleView) -> Value:
    outward(view)
    return highest(view, "pelvic_obliquity", view.swing())


def _circumduction(view: CycleView) -> Value:
    sign = outward(view)
    along, across = view.point("ankle_centre", FORWARD), view.point("ankle_centre", LEFT)
    middle = view.stance()[1] / 2
    start = np.array([value_at(along, middle), value_at(across, middle)])
    end = np.array([value_at(along, 1.0), value_at(across, 1.0)])
    forward_m = values_in(along, *view.swing())
    left_m = values_in(across, *view.swing())
    line = end - start
    length_m = math.hypot(line[0], line[1])
    if length_m == 0:
        raise NotDefined(Reason("foot_does_not_move"))
    aside_m = (line[0] * (left_m - start[1]) - line[1] * (forward_m - start[0])) / length_m
    return Value(1000 * float(np.maximum.reduce(sign * aside_m)))


def _vaulting(view: CycleView) -> Value:
    """Return the largest fall of the other ankle's angle in early single support."""
    if math.isnan(view.opposite_contact):
        raise NotDefined(Reason("no_other_contact"))
    toe_off = view.stance()[1]
    end = view.opposite_contact + VAULTING_END
    if end <= toe_off:
        raise NotDefined(Reason("late_single_support"))
    angle = values_in(view.angle("ankle", side=view.other), toe_off, end)
    view.cancels(UPRIGHT)
    fall = float(np.maximum.reduce(np.maximum.accumulate(angle) - angle))
    return Value(fall, labels=view.angle_labels("ankle", side=view.other))


def _opposite_heel_rise(view: CycleView) -> Value:
    heel = view.point("heel", UP, side=view.other)
    middle = view.swing_part(0.5, 1)[0]
    return Value(1000 * (value_at(heel, middle) - _standing_heel_m(view, heel)))


def _standing_heel_m(view: CycleView, heel: CycleSamples) -> float:
    """Return the other heel's median height in that foot-flat, else its neutral height."""
    if not math.isnan(view.opposite_contact):
        flat = view.foot_flat_frames(view.opposite_contact, 1.0, side=view.other)
        heights = heel.values[flat]
        if (seen := heights[~np.isnan(heights)]).size:
            return median_of(seen)
    neutral = view.neutral(view.other)
    if neutral is None or math.isnan(neutral.heel_height_m):
        raise NotDefined(Reason("no_standing_height"))
    return neutral.heel_height_m


FUNCTIONS: Final[Functions] = {
    "peak_pelvic_hike_deg": _pelvic_hike,
    "circumduction_mm": _circumduction,
    "opposite_vaulting_plantarflexion_deg": _vaulting,
    "opposite_heel_rise_at_mid_swing_mm": _opposite_heel_rise,
}
