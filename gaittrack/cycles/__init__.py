"""From events to gait cycles.

In come a motion and its events, out come cycles: one per contact-to-contact of one foot, kept or
rejected with reasons, never dropped. Cycles of 0–100 % curves from a sheet are made here too.
"""

from gaittrack.cycles.cutting import PARTIAL, cut_cycles
from gaittrack.cycles.cycle import N_PERCENT_POINTS, Cycle
from gaittrack.cycles.order import OUT_OF_ORDER
from gaittrack.cycles.percent_curves import cycles_of_curves
from gaittrack.cycles.rejecting import HIP_EXTENDED

__all__ = [
    "HIP_EXTENDED",
    "N_PERCENT_POINTS",
    "OUT_OF_ORDER",
    "PARTIAL",
    "Cycle",
    "cut_cycles",
    "cycles_of_curves",
]
