"""How high the toes pass over the floor in swing.

In come cycles, out come the lowest mid-swing height of the toe point above its own foot-flat
height, its height as it passes under the hip, the same minimum of the forefoot point, and whether
there is a mid-swing minimum at all. A swing without one has no minimum toe clearance.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Final, Literal, NamedTuple

import numpy as np

from gaittrack.kinematics.foot_flat import STILL_M_S
from gaittrack.measures.cycles_view import FORWARD, LEFT, UP, CyclesView
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.reading import LabelOfSome
from gaittrack.measures.samples import Frames, IntArray, Series, Window, at_column
from gaittrack.quick_numpy import lengths_of
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray

SEARCH_FROM, SEARCH_TO = 0.25, 0.85
"""Part of swing in which the minimum is looked for; own choice."""
SMALLEST_DEPTH_M = 0.0005
"""How far the minimum must lie below the maxima before and after it: some three times what 0.5 mm
of marker noise leaves after a 6 Hz filter; own choice."""
NO_MINIMUM: Final = "no_minimum"
"""Code of the reason that a swing has no minimum toe clearance."""
_M_TO_MM: Final = 1000.0
_NO_MINIMUM: Final = Reason(NO_MINIMUM)
SHORTEST_WAY_M = 0.1
"""Way between two stances below which their heights count alike: stepping on the spot."""
_ZERO_OF_STANCES: Final = Reason("zero_of_still_stances")
_ZERO_BEFORE: Final = Reason("zero_before_swing")
_ZERO_AFTER: Final = Reason("zero_after_swing")
SLOPE_NOT_SEEN: Final = "slope_not_seen"
"""Code of the label of a height whose zero is of one stance, the floor's slope not being seen."""
_SLOPE_NOT_SEEN: Final = Reason(SLOPE_NOT_SEEN)
_AT_FASTEST: Final = Reason("hip_not_seen")
_DOES_NOT_PASS: Final = Reason("toe_does_not_pass")
_TOE_IS_FOREFOOT: Final = Reason("toe_is_forefoot")

Point = Literal["toe_point", "forefoot"]


class LowPoint(NamedTuple):
    """The mid-swing minimum of each cycle: fraction and height in metres; NaN where none is."""

    fraction: FloatArray
    height_m: FloatArray


def find_minimum(view: CyclesView, point: Point = "toe_point") -> LowPoint:
    """Return the lowest local minimum of a point's height in mid-swing.

    A cycle is refused that has none, has a gap, or in which samples in 25-85 % of swing were
    filled.
    """
    found = _minimum(view, point)
    view.refuse(np.isnan(found.fraction), _NO_MINIMUM)
    return found


def _minimum(view: CyclesView, point: Point) -> LowPoint:
    return view.once(("minimum", point), lambda: _search(view, point))


def _search(view: CyclesView, point: Point) -> LowPoint:
    track, span = view.point(point, UP), view.swing_part(SEARCH_FROM, SEARCH_TO)
    heights = view.values_in(track, span, refuse_filled=True).values
    before, here, after = heights[:, :-2], heights[:, 1:-1], heights[:, 2:]
    column, frames = np.arange(1, here.shape[1] + 1), span.places.lower[:, 1:-1]
    is_dip = (here < before) & (here <= after) & (column < (span.n - 1)[:, None])
    swing = view.samples_between(view.toe_off, 1.0)
    depths = _depths(track.values[swing.at], swing.are)
    of_swing = frames - swing.at[:, :1] + depths.shape[1] * np.arange(len(depths))[:, None]
    is_deep = depths.take(of_swing, mode="clip") >= SMALLEST_DEPTH_M
    candidates = np.where(is_dip & is_deep, here, np.inf)
    lowest = np.arange(len(candidates)), candidates.argmin(axis=1)
    low = _refined(view, track, frames[lowest])
    return LowPoint(*np.where(np.isfinite(candidates[lowest]), low, np.nan))


def _depths(heights: FloatArray, are: BoolArray) -> FloatArray:
    """Return how far each sample of a row lies below the lower of the maxima around it.

    The first and the last of a row, which have none on one side, lie 0 below.
    """
    known = np.where(are, heights, np.nan)
    before = np.fmax.accumulate(known, axis=1)[:, :-2]
    after = np.fmax.accumulate(known[:, ::-1], axis=1)[:, ::-1][:, 2:]
    depths = np.zeros_like(known)
    inner = np.where(after < before, after, before) - known[:, 1:-1]
    depths[:, 1:-1] = np.where(are[:, 2:], inner, 0.0)
    return depths


def _refined(view: CyclesView, track: Series, frame: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return the vertex of the parabola through the frame and its neighbours."""
    before, here, after = (track.values.take(frame + step, mode="clip") for step in (-1, 0, 1))
    bend = before - 2 * here + after
    shift = np.where(bend > 0, 0.5 * (before - after) / bend, 0.0)
    return view.fraction_of_sample(frame, shift), here - 0.25 * (before - after) * shift


def floor_height(
    view: CyclesView, point: Point, fraction: FloatArray
) -> tuple[FloatArray, tuple[LabelOfSome, ...]]:
    """Return the height in metres that counts as 0 for a point, and where it comes from.

    The mean height of the point in the same foot's foot-flat before the swing; else after it. For a
    foot that is never flat the height at which the point stood still in the stances before and
    after, in proportion to the way between them: both are needed, else the cycle is refused. A
    floor that still rises is followed from where the point stood to where it is.
    """
    is_seen = view.motion.is_floor_seen
    zero_m, labels = view.nothing, []
    for label, find in (
        (_ZERO_BEFORE if is_seen else _SLOPE_NOT_SEEN, partial(_floor_of_flat, at=0.0)),
        (_ZERO_AFTER if is_seen else _SLOPE_NOT_SEEN, partial(_floor_of_flat, at=1.0)),
        (_ZERO_OF_STANCES, _floor_between),
    ):
        is_missing = np.isnan(zero_m)
        found_m = view.among(is_missing, partial(find, view, point, fraction))
        labels.append(LabelOfSome(label, is_missing & ~np.isnan(found_m)))
        zero_m = np.where(is_missing, found_m, zero_m)
    return zero_m, tuple(labels)


def _floor_of_flat(view: CyclesView, point: Point, fraction: FloatArray, at: float) -> FloatArray:
    """Return the height of the floor under the point, by the rise from where the foot was flat."""
    stood_m = _stood(view, point, _flat_frames, at)
    height_m: FloatArray = stood_m[UP]
    for axis, rise in zip((FORWARD, LEFT), view.slight_rise(), strict=True):
        is_followed = (rise != 0) & ~np.isnan(stood_m[UP])
        here_m = view.among(is_followed, partial(_place, view, point, axis, fraction))
        height_m = np.where(is_followed, height_m + rise * (here_m - stood_m[axis]), height_m)
    return height_m


def _place(view: CyclesView, point: Point, axis: int, fraction: FloatArray) -> FloatArray:
    return view.value_at(view.point(point, axis), fraction)


def _floor_between(view: CyclesView, point: Point, fraction: FloatArray) -> FloatArray:
    """Return the height of the floor under the point, between the stances before and after."""
    before, after = (_stood(view, point, _still_frames, at) for at in (0.0, 1.0))
    view.refuse(np.isnan(before[UP] + after[UP]), Reason("no_floor_height", of=point))
    is_way = after[FORWARD] - before[FORWARD] > SHORTEST_WAY_M
    here_m = view.among(is_way, partial(_place, view, point, FORWARD, fraction))
    return _height_between(before, after, here_m)


def _height_between(before: FloatArray, after: FloatArray, here_m: FloatArray) -> FloatArray:
    """Return the height in proportion to the way to where the point is, never beyond an end."""
    way_m = after[FORWARD] - before[FORWARD]
    share = np.minimum(np.maximum((here_m - before[FORWARD]) / way_m, 0.0), 1.0)
    share = np.where(way_m > SHORTEST_WAY_M, share, 0.5)
    height_m: FloatArray = before[UP] + share * (after[UP] - before[UP])
    return height_m


FramesOf = Callable[[CyclesView, Point, float, FloatArray], Frames]


def _stood(view: CyclesView, point: Point, frames_of: FramesOf, at: float) -> FloatArray:
    """Return where the point stood in the stance before (0) or after (1) the swing.

    Returns
    -------
    ndarray, shape (3, n_cycles)
        Forward, left and up in metres; NaN where it was not seen to stand, left also where nobody
        asks for it.
    """

    def find() -> FloatArray:
        at_frames, are = frames_of(view, point, at, at + view.stance().end)

        def mean(axis: int) -> FloatArray:
            return _mean_in_order(view.point(point, axis).values[at_frames], are)

        left_m = view.among(view.slight_rise()[LEFT] != 0, partial(mean, LEFT))
        return np.array([mean(FORWARD), left_m, mean(UP)])

    return view.once(("stood", point, frames_of, at), find)


def _mean_in_order(values: FloatArray, are: BoolArray) -> FloatArray:
    """Return the mean of some values of each row, added from left to right; NaN of none."""
    seen = are & ~np.isnan(values)
    n = np.add.reduce(seen, axis=1)
    total = np.add.accumulate(np.where(seen, values, 0.0), axis=1)[:, -1]
    mean: FloatArray = total / np.where(n > 0, n, np.nan)
    return mean


def _flat_frames(view: CyclesView, _point: Point, start: float, end: FloatArray) -> Frames:
    return view.foot_flat_frames(start, end)


def _still_frames(view: CyclesView, point: Point, start: float, end: FloatArray) -> Frames:
    """Return the frames in which the point itself stands still."""
    at, are = view.frames(start, end)
    n = np.add.reduce(are, axis=1)[:, None]
    place = np.arange(at.shape[1])
    after, before = np.fmax(np.fmin(place + 1, n - 1), 0), np.fmax(place - 1, 0)
    frames_s = (after - before) / view.motion.rate_hz
    ways_m = [
        np.take_along_axis(each, after, axis=1) - each[:, before]
        for each in (view.point(point, axis).values[at] for axis in (FORWARD, UP))
    ]
    speed = lengths_of(np.stack(ways_m, axis=-1) / frames_s[..., None])
    return Frames(at, are & (n >= 3) & (speed < STILL_M_S))


def _minimum_forefoot_clearance(view: CyclesView) -> Value:
    for leg in view.legs if not view.from_curve else ():
        if view.recording.toe_is_forefoot(leg.side):
            view.refuse(leg.are, _TOE_IS_FOREFOOT)
    return _clearance(view, "forefoot")


def _clearance(view: CyclesView, point: Point) -> Value:
    low = find_minimum(view, point)
    zero_m, labels = floor_height(view, point, low.fraction)
    return Value((low.height_m - zero_m) * _M_TO_MM, labels)


def _mid_swing_minimum(view: CyclesView) -> Value:
    return Value(np.where(np.isnan(_minimum(view, "toe_point").fraction), 0.0, 100.0))


def _height_under_hip(view: CyclesView) -> Value:
    track = view.point("toe_point", UP)
    view.values_in(track, view.swing_part(SEARCH_FROM, SEARCH_TO), refuse_filled=True)
    instant, label = _passing_instant(view)
    zero_m, labels = floor_height(view, "toe_point", instant)
    return Value((view.value_at(track, instant) - zero_m) * _M_TO_MM, (*labels, label))


def _passing_instant(view: CyclesView) -> tuple[FloatArray, LabelOfSome]:
    """Return the fraction of each cycle at which the toe passes under the hip, else is fastest."""
    track, swing = view.point("toe_point", FORWARD), view.swing()
    toe_m = view.values_in(track, swing).values
    hip_m, is_seen = view.attempt(
        lambda: view.values_in(view.point("hip_centre", FORWARD), swing).values
    )
    passing = view.among(is_seen, lambda: _passing(view, swing, toe_m - hip_m))
    fastest = view.among(~is_seen, lambda: swing.fraction_of(_fastest(toe_m, swing.n)))
    return np.where(is_seen, passing, fastest), LabelOfSome(_AT_FASTEST, ~is_seen)


def _passing(view: CyclesView, swing: Window, ahead_m: FloatArray) -> FloatArray:
    """Return the fraction of each cycle at which the toe is last behind the hip."""
    passes = (ahead_m[:, :-1] < 0) & (ahead_m[:, 1:] >= 0)
    view.refuse(~np.logical_or.reduce(passes, axis=1), _DOES_NOT_PASS)
    last = passes.shape[1] - 1 - passes[:, ::-1].argmax(axis=1)
    behind_m, past_m = at_column(ahead_m, last), at_column(ahead_m, last + 1)
    share = behind_m / (behind_m - past_m)
    start, stop = swing.fraction_of(last), swing.fraction_of(last + 1)
    passing: FloatArray = start + share * (stop - start)
    return passing


def _fastest(values: FloatArray, n: IntArray) -> IntArray:
    """Return the place of the sample, but for the ends, at which each row rises fastest."""
    place, last = np.arange(values.shape[1]), np.fmax(n - 2, 1)[:, None]
    before, after = np.fmax(place - 1, 1), np.fmin(place + 1, last)
    step = np.fmax(after - before, 1)
    rise = (np.take_along_axis(values, after, axis=1) - values[:, before]) / step
    fastest: IntArray = np.where((place > 0) & (place <= last), rise, -np.inf).argmax(axis=1)
    return fastest


FUNCTIONS: Final[Functions] = {
    "minimum_toe_clearance_mm": lambda v: _clearance(v, "toe_point"),
    "toe_height_under_hip_mm": _height_under_hip,
    "minimum_forefoot_clearance_mm": _minimum_forefoot_clearance,
    "mid_swing_minimum_share_percent": _mid_swing_minimum,
}
