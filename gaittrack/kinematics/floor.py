"""Whether the floor, as the recording sees it, rises along the way.

In come points and the direction of walking, out come the rise of the floor per metre forward, told
from the forefoot, which lies on the floor in every stance, and the points turned until that floor
is level. A stance that begins or ends unseen does not count where others repeat: at the edge of
what cameras see it lay up to 10 mm off on recordings at hand. Whether the volume is tilted or the
floor is a ramp cannot be seen: heights over the floor and angles between two segments are the same
for both, angles to the vertical are not.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import UPRIGHT, UPRIGHT_SIDEWAYS
from gaittrack.kinematics.foot_flat import still_frames
from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.lab_axes import axis_vector
from gaittrack.kinematics.motion import LabAxes
from gaittrack.kinematics.sagittal_angles import FORWARD, LEFT, UP
from gaittrack.kinematics.smoothing import velocity
from gaittrack.quick_numpy import median_of, medians_of_runs
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import SIDES, Side

LEAST_SLOPE, LEAST_RISE_M = 0.003, 0.008
"""Rise per metre and over the whole way below which the floor counts as level; own choice: the
stance beside a swing is then at most 4 mm off, about what tells clearances apart."""
CLEAR_SHARE = 3.0
"""The rise must be this many times the scatter of the stances about it; own choice."""
TOLD_ERRORS = 3.0
"""A rise across is told, and turned by, past this many times its standard error."""
STANCE_SCATTER_M, OTHER_MARKER_M = 0.002, 0.003
"""Scatter of a marker from stance to stance, and between the two feet; own choice, as the
recordings at hand show them."""
STEEPEST_SLIP_DEG = 1.0
"""Slope past which angles to the vertical are not trusted: less than what tells them apart."""
SCATTER_M = 0.005
"""Scatter of the stances where too few were seen to tell; own choice."""
_FEWEST_FRAMES = 3
_FEWEST_REPEATED = 2
_UPWARD = np.array([0.0, 0.0, 1.0])


class SeenFloor(NamedTuple):
    """The floor as the recording sees it.

    Attributes
    ----------
    rise, across : ndarray, shape (n_frames,)
        Rise per metre forward and per metre to the left; 0 where not told.
    is_turned, is_turned_across : bool
        Whether the rise is clear enough to turn the points by; across: past what markers of two
        feet differ by.
    is_seen : bool
        Whether enough stances were seen to tell the rise along the way.
    """

    rise: FloatArray
    across: FloatArray
    is_turned: bool
    is_turned_across: bool
    is_seen: bool = True

    @property
    def is_level(self) -> bool:
        """Whether there is nothing to turn upright."""
        return not (self.is_turned or self.is_turned_across)

    def slight_rise(self) -> FloatArray:
        """Return what the points are not turned by (shape (n_frames, 2))."""
        left_over = (not self.is_turned, not self.is_turned_across)
        return np.column_stack([self.rise, self.across]) * left_over


def find_floor(points: Mapping[str, FloatArray], axes: LabAxes, rate_hz: float) -> SeenFloor:
    """Find how the floor rises, from where the feet stand.

    Parameters
    ----------
    points : mapping of point key to ndarray, shape (n_frames, 3)
        Forward, left, up in metres.

    Returns
    -------
    SeenFloor
        Level along the way where too few stances were seen to tell.
    """
    headings = _headings(axes)
    still = {side: _still(points, side, rate_hz) for side in SIDES if _has_foot(points, side)}
    seen = {side: _stances(points, side, headings, frames) for side, frames in still.items()}
    across, error = _rise_across({side: stances.places for side, stances in seen.items()})
    is_seen = axes.is_treadmill or _n_repeated(seen.values()) >= _FEWEST_REPEATED
    if axes.is_treadmill:
        along = _rise_of_belt(points, still, axes.belt_speed_m_s, rate_hz)
        is_turned = abs(along) >= LEAST_SLOPE
        along = along if is_turned else 0.0
    else:
        feet = _whole_where_repeated(seen.values())
        along, is_turned = _rise_along(feet, across) if is_seen else (0.0, False)
    rise, rise_across = (headings.swapaxes(1, 2) @ [along, across]).T
    return SeenFloor(
        rise,
        rise_across,
        is_turned,
        abs(across) >= max(TOLD_ERRORS * error, LEAST_SLOPE),
        is_seen,
    )


def _headings(axes: LabAxes) -> FloatArray:
    """Return the matrices that turn forward and left of each frame to those of the first."""
    left = np.cross(axis_vector(axes.up_axis), axes.forward[0])
    along, aside = axes.forward @ axes.forward[0], axes.forward @ left
    headings: FloatArray = np.array([[along, -aside], [aside, along]]).transpose(2, 0, 1)
    return headings


def _whole_where_repeated(feet: Collection[_Stances]) -> list[FloatArray]:
    """Return where each foot stood in stances seen whole; in all, where whole ones never repeat."""
    whole = [stances.whole() for stances in feet]
    is_repeated = _n_repeated(whole) > 0
    return [
        (w if is_repeated and w.n else every).places for w, every in zip(whole, feet, strict=True)
    ]


def _rise_along(feet: Iterable[FloatArray], across: float) -> tuple[float, bool]:
    """Return the rise along the way by which the forefeet lie, and whether it is clear."""
    feet = [stances[:, 1] - _UPWARD * across * stances[:, 1, LEFT:UP] for stances in feet]
    feet = [stances for stances in feet if len(stances) > 1]
    centred = np.concatenate([stances - stances.mean(axis=0) for stances in feet])
    way, height = centred[:, FORWARD], centred[:, UP]
    slope = float(way @ height / (way @ way)) if way.any() else 0.0
    n_free = len(way) - len(feet) - 1
    left_over = float(np.sum((height - slope * way) ** 2))
    scatter = np.sqrt(left_over / n_free) if n_free > 1 else SCATTER_M
    rise = abs(slope) * max(float(np.ptp(stances[:, FORWARD])) for stances in feet)
    is_clear = abs(slope) >= LEAST_SLOPE and rise >= max(LEAST_RISE_M, CLEAR_SHARE * scatter)
    return slope, bool(is_clear)


def _n_repeated(feet: Iterable[_Stances]) -> int:
    """Return how many stances there are besides the first of each foot."""
    return sum(max(stances.n - 1, 0) for stances in feet)


class _Stances(NamedTuple):
    """Where heel and forefoot of a foot lie in each stance, seen along the first way.

    Attributes
    ----------
    places : ndarray, shape (n_stances, 2, 3)
    is_whole : ndarray of bool, shape (n_stances,)
        Whether the foot was seen to come and to leave.
    """

    places: FloatArray
    is_whole: BoolArray

    @property
    def n(self) -> int:
        return len(self.places)

    def whole(self) -> _Stances:
        return _Stances(self.places[self.is_whole], self.is_whole[self.is_whole])


def _rise_of_belt(
    points: Mapping[str, FloatArray],
    still: Mapping[Side, BoolArray],
    belt_m_s: float,
    rate_hz: float,
) -> float:
    """Return the rise of a belt: how fast feet sink that stand on it, over its speed."""
    sinking = [
        -velocity(points[f"{side}_forefoot"], rate_hz)[frames, UP]
        for side, frames in still.items()
        if frames.sum() >= _FEWEST_FRAMES
    ]
    return median_of(np.concatenate(sinking)) / belt_m_s if sinking else 0.0


def _rise_across(feet: Mapping[Side, FloatArray]) -> tuple[float, float]:
    """Return the rise to the left and its standard error; infinite when not told.

    A plane through heels and forefeet where they stand, with markers that may lie higher on one
    foot than on the other: a walk whose feet keep to their sides tells little.
    """
    n_stances = [len(stances) for stances in feet.values()]
    if len(feet) < 2 or min(n_stances) < 1 or sum(n_stances) < 3:
        return 0.0, np.inf
    rows, heights = [], []
    for side, stances in feet.items():
        for marker in (0, 1):
            forward, left, up = stances[:, marker].T
            row = np.zeros((len(up), 6))
            row[:, marker], row[:, 2 + marker] = 1.0, 1.0 if side == "left" else 0.0
            row[:, 4], row[:, 5] = forward, left
            rows.append(row / STANCE_SCATTER_M)
            heights.append(up / STANCE_SCATTER_M)
    rows.append(np.eye(6)[2:4] / OTHER_MARKER_M)
    design = np.concatenate(rows)
    covariance = np.linalg.pinv(design.T @ design)
    found = covariance @ design.T @ np.concatenate([*heights, np.zeros(2)])
    return float(found[5]), float(np.sqrt(covariance[5, 5]))


def _has_foot(points: Mapping[str, FloatArray], side: Side) -> bool:
    return f"{side}_heel" in points and f"{side}_forefoot" in points


def _still(points: Mapping[str, FloatArray], side: Side, rate_hz: float) -> BoolArray:
    return still_frames(points[f"{side}_heel"], points[f"{side}_forefoot"], rate_hz=rate_hz)


def _stances(
    points: Mapping[str, FloatArray], side: Side, headings: FloatArray, still: BoolArray
) -> _Stances:
    foot = np.stack([points[f"{side}_heel"], points[f"{side}_forefoot"]], axis=1)
    stood = [(start, stop) for start, stop in runs(still) if stop - start >= _FEWEST_FRAMES]
    places = medians_of_runs(foot, stood)
    starts = [start for start, _ in stood]
    places[:, :, :UP] = places[:, :, :UP] @ headings[starts].swapaxes(1, 2)
    return _Stances(places, _are_seen_around(np.isfinite(foot), stood))


def _are_seen_around(is_seen: BoolArray, stood: Sequence[tuple[int, int]]) -> BoolArray:
    """Whether a foot that stood was seen to move before and after: speed needs two frames."""
    starts, stops = np.array(stood, dtype=np.intp).reshape(-1, 2).T
    n_unseen = np.concatenate(([0], np.cumsum(~is_seen.all(axis=(1, 2)))))
    is_inside = (starts >= 2) & (stops + 2 <= len(is_seen))
    around = (np.maximum(starts - 2, 0), np.minimum(stops + 2, len(is_seen)))
    whole: BoolArray = is_inside & (n_unseen[around[0]] == n_unseen[around[1]])
    return whole


def upright(
    points: Mapping[str, FloatArray], floor: SeenFloor, travel_m: FloatArray
) -> dict[str, FloatArray]:
    """Return the points turned until the floor is level; across only where that is told.

    Parameters
    ----------
    travel_m : ndarray, shape (n_frames,)
        Travel of the belt that was added to forward; 0 overground.
    """
    if floor.is_level:
        return dict(points)
    turned = {key: xyz.copy() for key, xyz in points.items()}
    stretch = np.hypot(1.0, floor.rise * floor.is_turned)
    for xyz in turned.values():
        xyz[:, FORWARD] -= travel_m
        if floor.is_turned:
            _turn_upright(xyz, FORWARD, floor.rise)
        xyz[:, FORWARD] += travel_m * stretch
        if floor.is_turned_across:
            _turn_upright(xyz, LEFT, floor.across)
    return turned


def _turn_upright(xyz: FloatArray, axis: int, rise: FloatArray) -> None:
    length = np.hypot(1.0, rise)
    along, up = xyz[:, axis].copy(), xyz[:, UP].copy()
    xyz[:, axis] = (along + rise * up) / length
    xyz[:, UP] = (up - rise * along) / length


def seen_along(floor: SeenFloor, axes: LabAxes, others: LabAxes) -> SeenFloor:
    """Return the floor of one recording as another in the same volume sees it."""
    left = np.cross(axis_vector(axes.up_axis), axes.forward[0])
    along, across = floor.rise[0] * floor.is_turned, floor.across[0] * floor.is_turned_across
    gradient = along * axes.forward[0] + across * left
    others_left = np.cross(axis_vector(others.up_axis), others.forward)
    is_turned = not floor.is_level
    return SeenFloor(others.forward @ gradient, others_left @ gradient, is_turned, is_turned)


def is_steep(rise: FloatArray) -> bool:
    """Whether the floor rises by more than a slip of a calibration."""
    return bool(np.abs(rise).max() > np.tan(np.radians(STEEPEST_SLIP_DEG)))


def floor_problems(floor: SeenFloor, *, is_tilted_volume: bool) -> list[Problem]:
    """Tell of a floor that is not level.

    Parameters
    ----------
    is_tilted_volume : bool
        Whether a standing trial shows that it is the volume, not a ramp.
    """
    along, across = (_slope_deg(slope) for slope in (floor.rise, floor.across))
    told = []
    if floor.is_turned:
        is_open = is_steep(floor.rise) and not is_tilted_volume
        reason = Reason("tilt_or_ramp" if is_open else "floor_is_tilted", by_deg=along)
        spoils = (Spoiled(UPRIGHT),) if is_open else ()
        told.append(Problem("warning" if is_open else "info", reason, "floor", spoils))
    if floor.is_turned_across:
        reason = Reason("floor_rises_across", by_deg=across)
        is_open = is_steep(floor.across)
        spoils = (Spoiled(UPRIGHT_SIDEWAYS),) if is_open else ()
        told.append(Problem("warning" if is_open else "info", reason, "floor", spoils))
    return told


def _slope_deg(slope: FloatArray) -> float:
    return round(float(np.degrees(np.arctan(slope[0]))), 1)
