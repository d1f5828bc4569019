"""How far the foot is lifted at the ankle in swing.

In come cycles, out come the ankle's highest angle in swing and its angle at the toe's clearance.
That at mid-swing and at contact stands in ``peaks``.
"""

from __future__ import annotations

from typing import Final

from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.peaks import at_instant
from gaittrack.measures.reading import LabelOfSome
from gaittrack.measures.toe_clearance import find_minimum
from gaittrack.reasons import Reason

CARRIED_OVER: Final = "carried_over"
"""Code of the label of a maximum that is left of stance."""
_CARRIED_OVER: Final = Reason(CARRIED_OVER)
EARLY_SWING = 0.10
"""A maximum before this fraction of swing is what is left of stance; own choice."""


def _peak(view: CyclesView) -> Value:
    track, swing = view.angle("ankle"), view.swing()
    angle = view.values_in(track, swing)
    at = swing.fraction_of(angle.values.argmax(axis=1))
    carried = LabelOfSome(_CARRIED_OVER, at <= view.swing_part(EARLY_SWING, 1).start)
    return Value(angle.highest(), (*view.angle_labels("ankle"), carried))


def _at_clearance(view: CyclesView) -> Value:
    return at_instant(view, "ankle", find_minimum(view).fraction)


FUNCTIONS: Final[Functions] = {
    "peak_swing_dorsiflexion_deg": _peak,
    "dorsiflexion_at_toe_clearance_deg": _at_clearance,
}
