"""The first rocker: from contact until the foot lies flat.

In come cycles, out comes the window in which the forefoot is lowered, and what ended it.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.reading import LabelOfSome
from gaittrack.measures.samples import Frames, Window
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

LATEST_END = 0.20
"""End of the window, as a fraction of the cycle, when neither foot-flat nor the opposite toe-off
is seen; own choice (no source)."""
STILL_FALLING = 0.25
"""Share of its fastest lowering speed above which the foot is still coming down; own choice."""
_AT_LATEST_END: Final = Reason("window_without_foot_flat")
_KNEE_AT_LATEST_END: Final = Reason("window_without_toe_off")


class LoadingWindow(NamedTuple):
    """Contact to the end of loading, with what a reader must know about it."""

    span: Window
    labels: tuple[LabelOfSome, ...]


def lowering_window(view: CyclesView) -> LoadingWindow:
    """Return the window contact to the earlier of foot-flat and opposite toe-off.

    Foot-flat is the first frame after contact and before toe-off in which heel and forefoot are
    slow and at their standing height (``motion.foot_flat``) and the foot pitch falls at less than
    a quarter of its fastest so far: a slow foot is low and slow before it has landed. When the foot
    is not seen flat before the opposite toe-off, the window ends there: the ankle's lowest point
    lies inside it. With neither it ends at 20 % of the cycle, and says so.
    """

    def find() -> LoadingWindow:
        return _loading(view, _AT_LATEST_END, view.opposite_toe_off, _foot_flat(view))

    return view.once("lowering", find)


def loading_response(view: CyclesView) -> LoadingWindow:
    """Return the window contact to opposite toe-off; without it, 20 % of the cycle, labelled."""
    label = _KNEE_AT_LATEST_END
    return view.once("loading", lambda: _loading(view, label, view.opposite_toe_off))


def _loading(view: CyclesView, label: Reason, *ends: FloatArray) -> LoadingWindow:
    """Return the window to the earliest of the ends that lie in the cycle."""
    end = np.fmin.reduce([np.where((0 < each) & (each < 1), each, np.nan) for each in ends])
    is_missing = np.isnan(end)
    span = view.window(0.0, np.where(is_missing, LATEST_END, end))
    return LoadingWindow(span, (LabelOfSome(label, is_missing),))


def _foot_flat(view: CyclesView) -> FloatArray:
    """Return the fraction of each cycle at which the foot lies flat; NaN when not seen."""
    is_known = (0 < view.toe_off) & (view.toe_off < 1)
    flat = view.foot_flat_frames(0.0, np.where(is_known, view.toe_off, 0.5))
    is_seen = np.logical_or.reduce(flat.are, axis=1)
    return view.among(is_seen, lambda: _settled(view, flat))


def _settled(view: CyclesView, flat: Frames) -> FloatArray:
    """Return the fraction of each cycle from which the pitch of a flat foot hardly falls."""
    lowering = -view.fast_rate("foot_pitch").values[flat.at]
    settled = lowering <= STILL_FALLING * np.maximum.accumulate(lowering, axis=1)
    is_flat = settled & flat.are
    first = np.arange(len(is_flat)), is_flat.argmax(axis=1)
    return np.where(is_flat[first], view.fraction_of_frame(flat.at[first]), np.nan)
