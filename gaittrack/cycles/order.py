"""Whether the feet take turns in a cycle as they do in walking."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from operator import attrgetter
from typing import Final

from gaittrack.cycles.cycle import Cycle
from gaittrack.reasons import Reason
from gaittrack.trial import Event

TIME: Final = attrgetter("time_s")
"""By what events are ordered."""
OUT_OF_ORDER: Final = "feet_out_of_order"
"""Code of the reason against a cycle in which both feet are in the air."""
_OUT_OF_ORDER: Final = Reason(OUT_OF_ORDER)


def order_reasons(cycle: Cycle, other: Sequence[Event]) -> list[Reason]:
    """Return why the order of the feet in a cycle is impossible; empty: it is not, or not seen.

    In walking one foot is always down: the other foot may not be in the air when this one lands or
    leaves. Else a double support is negative, or both together are longer than the cycle.

    Parameters
    ----------
    other : sequence of Event
        Of the other foot, in time order.
    """
    turns = (cycle.start_s, cycle.toe_off_s, cycle.end_s)
    if any(_is_in_the_air(other, time_s) for time_s in turns):
        return [_OUT_OF_ORDER]
    return []


def _is_in_the_air(foot: Sequence[Event], time_s: float) -> bool:
    """Whether a foot was seen to leave before and to land after."""
    after = bisect_left(foot, time_s, key=TIME)
    before = bisect_right(foot, time_s, lo=after, key=TIME) - 1
    is_between = before >= 0 and after < len(foot) and not math.isnan(time_s)
    return is_between and foot[before].kind == "toe_off" and foot[after].kind == "initial_contact"
