"""The first rocker: from contact until the foot lies flat.

In comes a cycle, out comes the window in which the forefoot is lowered, and what ended it.
"""

from __future__ import annotations

from typing import NamedTuple

from gaittrack.measures.cycle_view import CycleView

LATEST_END = 0.20
"""End of the window, as a fraction of the cycle, when neither foot-flat nor the opposite toe-off
is seen; own choice (no source)."""
_AT_LATEST_END = "window ends at 20 % of the cycle: neither foot-flat nor opposite toe-off seen"
_KNEE_AT_LATEST_END = "window ends at 20 % of the cycle: opposite toe-off not seen"


class LoadingWindow(NamedTuple):
    """Contact to ``end`` (a fraction of the cycle), with what a reader must know about it."""

    end: float
    labels: tuple[str, ...] = ()


def lowering_window(view: CycleView) -> LoadingWindow:
    """Return the window contact to the earlier of foot-flat and opposite toe-off.

    Foot-flat is the first frame after contact and before toe-off in which heel and forefoot are
    slow and at their standing height (``motion.foot_flat``). When the foot is not seen flat before
    the opposite toe-off, the window ends there: the ankle's lowest point lies inside it. With
    neither it ends at 20 % of the cycle, and says so.
    """
    if "lowering" not in view.found:
        view.found["lowering"] = _find_lowering(view)
    window: LoadingWindow = view.found["lowering"]
    return window


def _find_lowering(view: CycleView) -> LoadingWindow:
    ends = []
    if 0 < view.opposite_toe_off < 1:
        ends.append(view.opposite_toe_off)
    latest = view.toe_off if 0 < view.toe_off < 1 else 0.5
    flat = [view.fraction_of_frame(frame) for frame in view.foot_flat_frames(0.0, latest)[:2]]
    ends += [fraction for fraction in flat if fraction > 0][:1]
    return LoadingWindow(min(ends)) if ends else LoadingWindow(LATEST_END, (_AT_LATEST_END,))


def loading_response(view: CycleView) -> LoadingWindow:
    """Return the window contact to opposite toe-off; without it, 20 % of the cycle, labelled."""
    if 0 < view.opposite_toe_off < 1:
        return LoadingWindow(view.opposite_toe_off)
    return LoadingWindow(LATEST_END, (_KNEE_AT_LATEST_END,))
