"""How high the toes pass over the floor in swing.

In comes a cycle, out come the lowest mid-swing height of the toe point above its own foot-flat
height, its height as it passes under the hip, the same minimum of the forefoot point, and whether
there is a mid-swing minimum at all. A swing without one has no minimum toe clearance.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final, Literal, NamedTuple

import numpy as np

from gaittrack.kinematics.foot_flat import STILL_M_S
from gaittrack.kinematics.smoothing import velocity
from gaittrack.measures.cycle_view import FORWARD, LEFT, UP, CycleView, IntArray
from gaittrack.measures.measure import Functions, Value
from gaittrack.measures.samples import (
    CycleSamples,
    NotDefined,
    fraction_of_sample,
    value_at,
    values_in,
)
from gaittrack.quick_numpy import lengths_of
from gaittrack.reasons import Reason

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

Point = Literal["toe_point", "forefoot"]


class LowPoint(NamedTuple):
    """The mid-swing minimum: fraction of the cycle and height in metres."""

    fraction: float
    height_m: float


def find_minimum(view: CycleView, point: Point = "toe_point") -> LowPoint:
    """Return the lowest local minimum of a point's height in mid-swing.

    Raises
    ------
    NotDefined
        There is none, there is a gap, or samples in 25-85 % of swing were filled.
    """
    found = view.once(("minimum", point), lambda: _search(view, point))
    if found is None:
        raise NotDefined(_NO_MINIMUM)
    return found


def _search(view: CycleView, point: Point) -> LowPoint | None:
    track = view.point(point, UP)
    span = view.swing_part(SEARCH_FROM, SEARCH_TO)
    heights = values_in(track, *span, refuse_filled=True)
    inner = heights[1:-1]
    (dips,) = ((inner < heights[:-2]) & (inner <= heights[2:])).nonzero()
    if not dips.size:
        return None
    first_frame = int(track.index_of(span[0])) + 1
    for dip in dips[inner[dips].argsort()].tolist():
        frame = first_frame + dip
        if _depth(view, track, frame) >= SMALLEST_DEPTH_M:
            return _refined(track, frame)
    return None


def _depth(view: CycleView, track: CycleSamples, frame: int) -> float:
    """Return how far the frame lies below the lower of the maxima of swing around it."""
    start = max(int(track.index_of(view.toe_off)) + 1, 0)
    stop = int(track.index_of(1.0)) + 1
    before, after = track.values[start:frame], track.values[frame + 1 : stop]
    if not (before.size and after.size):
        return 0.0
    lower_maximum = min(float(np.fmax.reduce(before)), float(np.fmax.reduce(after)))
    return lower_maximum - float(track.values[frame])


def _refined(track: CycleSamples, frame: int) -> LowPoint:
    """Return the vertex of the parabola through the frame and its neighbours."""
    before, here, after = (float(v) for v in track.values[frame - 1 : frame + 2])
    bend = before - 2 * here + after
    shift = 0.5 * (before - after) / bend if bend > 0 else 0.0
    return LowPoint(track.fraction_of(frame + shift), here - 0.25 * (before - after) * shift)


class Stood(NamedTuple):
    """Where a point was while its foot stood, in metres."""

    forward_m: float
    left_m: float
    up_m: float


def floor_height(view: CycleView, point: Point, fraction: float) -> tuple[float, Reason]:
    """Return the height in metres that counts as 0 for a point, and where it comes from.

    The mean height of the point in the same foot's foot-flat before the swing; else after it. For a
    foot that is never flat the height at which the point stood still in the stances before and
    after, in proportion to the way between them: both are needed. A floor that still rises is
    followed from where the point stood to where it is.

    Raises
    ------
    NotDefined
        There is neither.
    """
    for at, told in ((0.0, _ZERO_BEFORE), (1.0, _ZERO_AFTER)):
        there = _stood(view, point, _flat_frames, at)
        if there is not None:
            label = told if view.motion.is_floor_seen else _SLOPE_NOT_SEEN
            return _floor_from(view, point, fraction, there), label
    before, after = (_stood(view, point, _still_frames, at) for at in (0.0, 1.0))
    if before is None or after is None:
        raise NotDefined(Reason("no_floor_height", of=point))
    return _floor_between(view, point, fraction, (before, after)), _ZERO_OF_STANCES


def _floor_from(view: CycleView, point: Point, fraction: float, there: Stood) -> float:
    """Return the height of the floor under the point, by the rise from where it stood."""
    height_m = there.up_m
    slopes = zip((FORWARD, LEFT), view.slight_rise(), there[:2], strict=True)
    for axis, rise, stood_m in slopes:
        if rise:
            height_m += rise * (value_at(view.point(point, axis), fraction) - stood_m)
    return height_m


def _floor_between(
    view: CycleView, point: Point, fraction: float, ends: tuple[Stood, Stood]
) -> float:
    """Return the height of the floor under the point, in proportion to the way."""
    before, after = ends
    way_m = after.forward_m - before.forward_m
    share = 0.5
    if way_m > SHORTEST_WAY_M:
        here_m = value_at(view.point(point, FORWARD), fraction)
        share = min(max((here_m - before.forward_m) / way_m, 0.0), 1.0)
    return before.up_m + share * (after.up_m - before.up_m)


Frames = Callable[[CycleView, Point, float, float], IntArray]


def _stood(view: CycleView, point: Point, frames: Frames, at: float) -> Stood | None:
    """Return where the point stood in the stance before (0) or after (1) the swing."""

    def find() -> Stood | None:
        return _mean_place(view, point, frames(view, point, at, at + view.stance()[1]))

    return view.once(("stood", point, frames, at), find)


def _mean_place(view: CycleView, point: Point, frames: IntArray) -> Stood | None:
    axes = (FORWARD, LEFT, UP) if view.slight_rise()[LEFT] else (FORWARD, UP)
    place = [view.point(point, axis).values[frames] for axis in axes]
    if not frames.size:
        return None
    if math.isnan(np.add.reduce(place[0])):
        seen = ~np.isnan(place[0])
        place = [each[seen] for each in place]
        if not place[0].size:
            return None
    means = [float(np.add.accumulate(each)[-1] / each.size) for each in place]
    return Stood(means[0], means[-2], means[-1])


def _flat_frames(view: CycleView, _point: Point, start: float, end: float) -> IntArray:
    return view.foot_flat_frames(start, end)


def _still_frames(view: CycleView, point: Point, start: float, end: float) -> IntArray:
    """Return the frames in which the point itself stands still."""
    frames = view.frames(start, end)
    if frames.stop - frames.start < 3:
        return np.empty(0, dtype=np.intp)
    track = np.column_stack([view.point(point, axis).values[frames] for axis in (FORWARD, UP)])
    speed = lengths_of(velocity(track, view.motion.rate_hz))
    still: IntArray = (speed < STILL_M_S).nonzero()[0] + frames.start
    return still


def _minimum_forefoot_clearance(view: CycleView) -> Value:
    if not view.cycle.from_curve and view.recording.toe_is_forefoot(view.side):
        raise NotDefined(Reason("toe_is_forefoot"))
    return _clearance(view, "forefoot")


def _clearance(view: CycleView, point: Point) -> Value:
    low = find_minimum(view, point)
    zero, label = floor_height(view, point, low.fraction)
    return Value((low.height_m - zero) * _M_TO_MM, labels=(label,))


def _mid_swing_minimum(view: CycleView) -> Value:
    try:
        find_minimum(view)
    except NotDefined as found:
        if found.reason.code != NO_MINIMUM:
            raise
        return Value(0.0)
    return Value(100.0)


def _height_under_hip(view: CycleView) -> Value:
    track = view.point("toe_point", UP)
    values_in(track, *view.swing_part(SEARCH_FROM, SEARCH_TO), refuse_filled=True)
    instant, labels = _passing_instant(view)
    zero, label = floor_height(view, "toe_point", instant)
    return Value((value_at(track, instant) - zero) * _M_TO_MM, labels=(label, *labels))


def _passing_instant(view: CycleView) -> tuple[float, tuple[Reason, ...]]:
    """Return the fraction of the cycle at which the toe passes under the hip, else is fastest."""
    track, swing = view.point("toe_point", FORWARD), view.swing()
    toe_m = values_in(track, *swing)
    try:
        hip_m = values_in(view.point("hip_centre", FORWARD), *swing)
    except NotDefined:
        fastest = int(np.argmax(np.gradient(toe_m[1:-1]))) + 1
        return fraction_of_sample(track, *swing, fastest), (_AT_FASTEST,)
    ahead_m = toe_m - hip_m
    (passing,) = ((ahead_m[:-1] < 0) & (ahead_m[1:] >= 0)).nonzero()
    if not passing.size:
        raise NotDefined(Reason("toe_does_not_pass"))
    last = int(passing[-1])
    share = ahead_m[last] / (ahead_m[last] - ahead_m[last + 1])
    start, stop = (fraction_of_sample(track, *swing, at) for at in (last, last + 1))
    return float(start + share * (stop - start)), ()


FUNCTIONS: Final[Functions] = {
    "minimum_toe_clearance_mm": lambda v: _clearance(v, "toe_point"),
    "toe_height_under_hip_mm": _height_under_hip,
    "minimum_forefoot_clearance_mm": _minimum_forefoot_clearance,
    "mid_swing_minimum_share_percent": _mid_swing_minimum,
}
