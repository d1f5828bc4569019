"""The first rocker: from contact until the foot lies flat.

In comes a cycle, out comes the window in which the forefoot is lowered, and what ended it.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from gaittrack.measures.cycle_view import CycleView
from gaittrack.reasons import Reason

LATEST_END = 0.20
"""End of the window, as a fraction of the cycle, when neither foot-flat nor the opposite toe-off
is seen; own choice (no source)."""
STILL_FALLING = 0.25
"""Share of its fastest lowering speed above which the foot is still coming down; own choice."""
_AT_LATEST_END: Final = Reason("window_without_foot_flat")
_KNEE_AT_LATEST_END: Final = Reason("window_without_toe_off")


class LoadingWindow(NamedTuple):
    """Contact to ``end`` (a fraction of the cycle), with what a reader must know about it."""

    end: float
    labels: tuple[Reason, ...] = ()


def lowering_window(view: CycleView) -> LoadingWindow:
    """Return the window contact to the earlier of foot-flat and opposite toe-off.

    Foot-flat is the first frame after contact and before toe-off in which heel and forefoot are
    slow and at their standing height (``motion.foot_flat``) and the foot pitch falls at less than
    a quarter of its fastest so far: a slow foot is low and slow before it has landed. When the foot
    is not seen flat before the opposite toe-off, the window ends there: the ankle's lowest point
    lies inside it. With neither it ends at 20 % of the cycle, and says so.
    """
    return view.once("lowering", lambda: _find_lowering(view))


def _find_lowering(view: CycleView) -> LoadingWindow:
    ends = [end for end in (view.opposite_toe_off, _foot_flat(view)) if 0 < end < 1]
    return LoadingWindow(min(ends)) if ends else LoadingWindow(LATEST_END, (_AT_LATEST_END,))


def _foot_flat(view: CycleView) -> float:
    """Return the fraction of the cycle at which the foot lies flat; NaN when not seen."""
    flat = view.foot_flat_frames(0.0, view.toe_off if 0 < view.toe_off < 1 else 0.5)
    if not flat.size:
        return math.nan
    track = view.fast_rate("foot_pitch")
    contact = max(math.ceil(track.index_of(0.0)), 0)
    lowering = -track.values[contact : flat[-1] + 1]
    settled = lowering <= STILL_FALLING * np.maximum.accumulate(lowering)
    settled_flat = flat[settled[flat - contact]]
    return view.fraction_of_frame(settled_flat[0]) if settled_flat.size else math.nan


def loading_response(view: CycleView) -> LoadingWindow:
    """Return the window contact to opposite toe-off; without it, 20 % of the cycle, labelled."""
    if 0 < view.opposite_toe_off < 1:
        return LoadingWindow(view.opposite_toe_off)
    return LoadingWindow(LATEST_END, (_KNEE_AT_LATEST_END,))
