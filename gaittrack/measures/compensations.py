"""What the rest of the body does so that the foot gets past.

In comes a cycle, out come hip hiking, circumduction, and the vaulting of the other leg, where the
markers show them. The high step stands in ``hip_flexion``.
"""

from __future__ import annotations

import math

import numpy as np

from gaittrack.ingredients import UPRIGHT
from gaittrack.measures.cycle_view import FORWARD, LEFT, UP, CycleView
from gaittrack.measures.measure import Measure, Value
from gaittrack.measures.peaks import highest
from gaittrack.measures.samples import CycleSamples, NotDefined, value_at, values_in
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
    return Value(1000 * float((sign * aside_m).max()))


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
    fall = float((np.maximum.accumulate(angle) - angle).max())
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
            return float(np.median(seen))
    neutral = view.neutral(view.other)
    if neutral is None or math.isnan(neutral.heel_height_m):
        raise NotDefined(Reason("no_standing_height"))
    return neutral.heel_height_m


PELVIC_HIKE = Measure(
    name="peak_pelvic_hike_deg",
    title="Hip hiking in swing",
    unit="deg",
    definition=(
        "Largest angle of the line between the sides of the pelvis against the floor, own side up, "
        "from toe-off to the next contact."
    ),
    positive="swing side up",
    toward_typical="none",
    source="as in Cruz and Dhaher 2009, doi:10.1016/j.gaitpost.2009.05.018",
    group="compensation",
    compute=_pelvic_hike,
)
CIRCUMDUCTION = Measure(
    name="circumduction_mm",
    title="Circumduction",
    unit="mm",
    definition=(
        "Largest outward distance of the ankle in swing from the straight line between its place at"
        " mid-stance before and at the next contact, seen from above."
    ),
    positive="outward",
    toward_typical="none",
    source="idea: Kerrigan 2000, Am J Phys Med Rehabil (from memory); the line is our own",
    group="compensation",
    compute=_circumduction,
    decimals=0,
)
OPPOSITE_VAULTING = Measure(
    name="opposite_vaulting_plantarflexion_deg",
    title="Vaulting of the other ankle",
    unit="deg",
    definition=(
        "Largest fall of the other ankle's angle below its highest so far, from this foot's toe-off"
        " to 30 % of a cycle after the other foot's contact; 0 when it only rises."
    ),
    positive="the other ankle plantarflexes early",
    toward_typical="none",
    source="idea: doi:10.1016/j.clinbiomech.2014.04.006; the 30 % limit is our own",
    group="compensation",
    compute=_vaulting,
)
OPPOSITE_HEEL_RISE = Measure(
    name="opposite_heel_rise_at_mid_swing_mm",
    title="Other heel's height at mid-swing",
    unit="mm",
    definition=(
        "Height of the other heel, half-way in time between this foot's toe-off and its next "
        "contact, over its median height in foot-flat of that stance (else its standing height)."
    ),
    positive="the other heel is up",
    toward_typical="none",
    source="own definition",
    group="compensation",
    compute=_opposite_heel_rise,
)
