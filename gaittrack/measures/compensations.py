"""What the rest of the body does so that the foot gets past.

In come cycles, out come hip hiking, circumduction, and the vaulting of the other leg, where the
markers show them. The high step stands in ``peaks``.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from gaittrack.ingredients import UPRIGHT
from gaittrack.measures.cycles_view import FORWARD, LEFT, UP, CyclesView
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.peaks import highest
from gaittrack.measures.reading import NotDefined
from gaittrack.measures.samples import Series, lengths_of_ways, medians_of_rows
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

VAULTING_END = 0.30
"""End of the vaulting window, as a fraction of the other foot's cycle; own choice."""
DOES_NOT_MOVE: Final = Reason("foot_does_not_move")
NO_OTHER_CONTACT: Final = Reason("no_other_contact")
_LATE_SUPPORT: Final = Reason("late_single_support")
_NO_STANDING: Final = Reason("no_standing_height")


def outward(view: CyclesView) -> FloatArray:
    """Return +1 for each cycle for which left is outward, -1 where right is.

    Raises
    ------
    NotDefined
        The recording is a side view.
    """
    if view.motion.trial.n_dimensions == 2:
        raise NotDefined(Reason("nothing_sideways"))
    return view.outward


def _pelvic_hike(view: CyclesView) -> Value:
    outward(view)
    return highest(view, "pelvic_obliquity", view.swing())


def _circumduction(view: CyclesView) -> Value:
    sign = outward(view)
    along, across = view.point("ankle_centre", FORWARD), view.point("ankle_centre", LEFT)
    middle = view.stance().end / 2
    start = [view.value_at(track, middle) for track in (along, across)]
    end = [view.value_at(track, 1.0) for track in (along, across)]
    forward_m = view.values_in(along, view.swing()).values
    left_m = view.values_in(across, view.swing()).values
    line = end[0] - start[0], end[1] - start[1]
    length_m = lengths_of_ways(*line)
    view.refuse(length_m == 0, DOES_NOT_MOVE)
    x, y, x0, y0, length = (each[:, None] for each in (*line, *start, length_m))
    aside_m = (x * (left_m - y0) - y * (forward_m - x0)) / length
    return Value(1000 * np.maximum.reduce(sign[:, None] * aside_m, axis=1))


def _vaulting(view: CyclesView) -> Value:
    """Return the largest fall of the other ankle's angle in early single support."""
    contact = view.opposite_contact
    view.refuse(np.isnan(contact), NO_OTHER_CONTACT)
    toe_off, end = view.stance().end, contact + VAULTING_END
    view.refuse(end <= toe_off, _LATE_SUPPORT)
    angle = view.values_in(view.angle("ankle", foot="other"), view.window(toe_off, end)).values
    view.cancels(UPRIGHT)
    fall = np.maximum.reduce(np.maximum.accumulate(angle, axis=1) - angle, axis=1)
    return Value(fall, view.angle_labels("ankle", foot="other"))


def _opposite_heel_rise(view: CyclesView) -> Value:
    heel = view.point("heel", UP, foot="other")
    height_m = view.value_at(heel, view.swing_part(0.5, 1).start)
    return Value(1000 * (height_m - _standing_heel_m(view, heel)))


def _standing_heel_m(view: CyclesView, heel: Series) -> FloatArray:
    """Return the other heel's median height in that foot-flat, else its neutral height."""
    contact = view.opposite_contact

    def find() -> FloatArray:
        flat = view.foot_flat_frames(contact, 1.0, foot="other")
        return medians_of_rows(*flat.seen(heel.values))

    return view.else_heel_of("other", view.among(~np.isnan(contact), find), _NO_STANDING)


FUNCTIONS: Final[Functions] = {
    "peak_pelvic_hike_deg": _pelvic_hike,
    "circumduction_mm": _circumduction,
    "opposite_vaulting_plantarflexion_deg": _vaulting,
    "opposite_heel_rise_at_mid_swing_mm": _opposite_heel_rise,
}
