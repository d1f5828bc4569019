"""Which way is up, and which way the person walks.

In come marker positions in the axes of the file, out comes the walker's frame: forward, left, up,
frame by frame, for any lab axes, any walking direction, several passes in one recording, and
treadmills, whose belt speed is recovered from the feet that stand on it.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from gaittrack.errors import MissingSignalError
from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.motion import LabAxes
from gaittrack.kinematics.smoothing import low_pass, velocity
from gaittrack.quick_numpy import (
    gaps_of,
    known_of,
    lengths_of,
    median_of,
    medians_of,
    quantiles_of,
)
from gaittrack.trial import BoolArray, FloatArray

_LOW = ("heel", "toe", "metatarsal_1", "metatarsal_2", "metatarsal_5", "ankle", "ankle_medial")
_HIGH = ("asis", "psis", "sacrum", "hip", "knee", "knee_medial", "fibula_head")
_REFERENCES = (("asis", "psis", "sacrum"), ("hip",), ("knee",), ("ankle",), ("heel", "toe"))
_FEET = ("heel", "metatarsal_5", "metatarsal_2", "metatarsal_1", "toe")

LEAST_TRAVEL_M = 0.3
"""Shortest travel that counts as a pass; own choice: less than half a slow stride."""
RETREAT_M = 0.15
"""Travel backwards that ends a pass; own choice: more than a body sways."""
LEAST_BELT_SPEED_M_S = 0.05
"""Slowest belt that is recognised; own choice."""
_BRISK_SHARE = 0.9
"""Its direction is taken between frames at this share of its median speed; own choice."""
_SEEN_SHARE = 0.8
"""A point seen less often than this share of the best seen one is not relied on; own choice."""
_TURN_SHARE = 0.35
"""A pass runs from the first to the last frame at this share of its median speed; own choice."""


def _name(landmark: str) -> str:
    return landmark.removeprefix("left_").removeprefix("right_")


def up_direction(points: Mapping[str, FloatArray]) -> tuple[str, FloatArray]:
    """Find the axis of the file that points up.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)

    Returns
    -------
    name : str
        For example ``+Z``.
    up : ndarray, shape (3,)
        Unit vector along an axis of the file.

    Raises
    ------
    MissingSignalError
        No landmark of the foot, or none above it.
    """
    low = [_mean_place(xyz) for key, xyz in points.items() if _name(key) in _LOW]
    high = [_mean_place(xyz) for key, xyz in points.items() if _name(key) in _HIGH]
    if not low or not high:
        raise MissingSignalError.of(
            "up_without_landmarks",
            where=f"landmarks found: {', '.join(sorted(points)) or 'none'}",
        )
    rise = _mean_seen(high) - _mean_seen(low)
    axis = int(np.argmax(np.abs(rise)))
    name = f"{'+' if rise[axis] > 0 else '-'}{'XYZ'[axis]}"
    return name, axis_vector(name)


def axis_vector(name: str) -> FloatArray:
    """Return the unit vector of a named axis, for example ``+Z`` → (0, 0, 1)."""
    vector = np.zeros(3)
    vector["XYZ".index(name[1])] = 1.0 if name[0] == "+" else -1.0
    return vector


def _mean_seen(places: list[FloatArray]) -> FloatArray:
    """Return ``np.nanmean(places, axis=0)``."""
    total: FloatArray = np.add.reduce(places, axis=0)
    return np.asarray(np.nanmean(places, axis=0) if np.isnan(total).any() else total / len(places))


def _mean_place(xyz: FloatArray) -> FloatArray:
    is_seen = ~np.isnan(xyz[:, 0])
    seen = xyz if is_seen.all() else xyz[is_seen]
    return np.ones(len(seen)) @ seen / len(seen) if len(seen) else np.full(3, np.nan)


def find_axes(points: Mapping[str, FloatArray], *, rate_hz: float) -> LabAxes:
    """Find forward and up for every frame.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)
        Metres, axes of the file, low-passed.

    Raises
    ------
    MissingSignalError
        Up or forward cannot be told from the landmarks there are.
    """
    up_name, up = up_direction(points)
    n_frames = len(next(iter(points.values())))
    body = _reference_path(points, up)
    belt = _belt_velocity(points, body, up, rate_hz)
    is_treadmill = bool(np.hypot(*belt[up == 0]) >= LEAST_BELT_SPEED_M_S)
    if is_treadmill:
        body = body - belt * (np.arange(n_frames)[:, None] / rate_hz)
    forward, passes = _passes(body, up, rate_hz)
    if not passes.any():
        forward = np.tile(_toes_direction(points, up), (n_frames, 1))
    return LabAxes(
        up_axis=up_name,
        forward=forward,
        pass_number=passes,
        belt_speed_m_s=float(np.linalg.norm(belt)) if is_treadmill else 0.0,
        is_treadmill=is_treadmill,
    )


def _reference_path(points: Mapping[str, FloatArray], up: FloatArray) -> FloatArray:
    """Return the horizontal path of the most central part of the body that was seen."""
    for names in _REFERENCES:
        chosen = _well_seen([xyz for key, xyz in points.items() if _name(key) in names])
        if chosen:
            path = sum(chosen[1:], chosen[0]) / len(chosen)
            level: FloatArray = path * (up == 0)
            return level
    raise MissingSignalError.of("forward_without_landmarks")


def _well_seen(chosen: list[FloatArray]) -> list[FloatArray]:
    """Return the points seen nearly as often as the best seen one."""
    counts = [int((~np.isnan(xyz[:, 0])).sum()) for xyz in chosen]
    return [
        xyz for xyz, count in zip(chosen, counts, strict=True) if count >= _SEEN_SHARE * max(counts)
    ]


def _belt_velocity(
    points: Mapping[str, FloatArray], body: FloatArray, up: FloatArray, rate_hz: float
) -> FloatArray:
    """Return the horizontal velocity of the floor: zero overground, backward on a treadmill.

    The floor moves as the lowest foot points do while they are down. It counts as a belt only when
    the body itself travels much less than the floor does.
    """
    samples = [
        velocity(xyz, rate_hz)[_lowest_third(xyz @ up)]
        for key, xyz in points.items()
        if _name(key) in _FEET
    ]
    if not samples:
        return np.zeros(3)
    moves = np.concatenate(samples) * (up == 0)
    if np.isnan(np.add.reduce(moves, axis=None)):
        moves = moves[~gaps_of(moves)]
    floor = _commonest(moves)
    travel = body[~gaps_of(body)]
    if len(travel) < 2:
        return np.zeros(3)
    net = np.linalg.norm(travel[-1] - travel[0]) / (len(travel) / rate_hz)
    return floor if np.linalg.norm(floor) > 2.0 * net else np.zeros(3)


def _lowest_third(height: FloatArray) -> BoolArray:
    seen = known_of(height)
    if not len(seen):
        return np.zeros(len(height), dtype=np.bool_)
    low: BoolArray = height <= quantiles_of(seen, 1 / 3)[0]
    return low


def _commonest(moves: FloatArray) -> FloatArray:
    """Return the centre of the densest cluster of velocities, by repeated trimmed medians."""
    if not len(moves):
        return np.zeros(3)
    centre = medians_of(moves, axis=0)
    for width in (0.5, 0.3, 0.15, 0.1):
        near = moves[lengths_of(moves - centre) < width]
        if len(near) >= 10:
            centre = medians_of(near, axis=0)
    return centre


def _passes(body: FloatArray, up: FloatArray, rate_hz: float) -> tuple[FloatArray, FloatArray]:
    """Split the path into straight passes; return forward and pass number of each frame."""
    n_frames = len(body)
    forward = np.full((n_frames, 3), np.nan)
    number = np.zeros(n_frames)
    seen = ~gaps_of(body)
    if seen.sum() >= 4:
        bridged = _bridged(body, seen)
        smooth = (
            low_pass(bridged, cutoff_hz=1.0, rate_hz=rate_hz) if seen.sum() > rate_hz else bridged
        )
        for count, (start, stop) in enumerate(_straight_stretches(smooth, seen), 1):
            moves = velocity(smooth[start:stop], rate_hz)
            direction = _direction(smooth[start:stop], moves)
            speed = moves @ direction
            moving = start + np.flatnonzero(speed > _TURN_SHARE * median_of(speed))
            number[moving[0] : moving[-1] + 1] = count
            forward[start:stop] = direction
    return _nearest(forward), number


def _bridged(body: FloatArray, seen: BoolArray) -> FloatArray:
    """Join the seen parts of the path by straight lines, to follow its direction over gaps."""
    frames = np.flatnonzero(seen)
    inside = np.arange(frames[0], frames[-1] + 1)
    path = np.full_like(body, np.nan)
    for axis in range(3):
        path[inside, axis] = np.interp(inside, frames, body[frames, axis])
    return path


def _direction(path: FloatArray, moves: FloatArray) -> FloatArray:
    """Return the direction of a stretch between its first and last frame of brisk travel.

    What is slower along the whole way, such as the turn at its end, does not tilt it.
    """
    whole = path[-1] - path[0]
    along = moves @ (whole / np.linalg.norm(whole))
    brisk = np.flatnonzero(along >= _BRISK_SHARE * median_of(along))
    travel: FloatArray = path[brisk[-1]] - path[brisk[0]]
    return travel / np.linalg.norm(travel)


def _straight_stretches(path: FloatArray, seen: BoolArray) -> list[tuple[int, int]]:
    """Return stretches of the path along its main axis between points of turning back."""
    frames = np.flatnonzero(seen)
    centred = path[frames] - path[frames].mean(axis=0)
    main = np.linalg.svd(centred, full_matrices=False)[2][0]
    along = centred @ main
    corners = _turning_points(along, RETREAT_M)
    return [
        (int(frames[first]), int(frames[last]) + 1)
        for first, last in zip(corners, corners[1:], strict=False)
        if abs(along[last] - along[first]) >= LEAST_TRAVEL_M
    ]


def _turning_points(path: FloatArray, retreat: float) -> list[int]:
    """Return first, last and every extreme followed by a retreat larger than ``retreat``."""
    back = _first(np.maximum.accumulate(path) - path > retreat)
    ahead = _first(path - np.minimum.accumulate(path) > retreat)
    start, way = min((back, -1.0), (ahead, 1.0))
    corners = [0]
    while start < len(path):
        rest = way * path[start:]
        turn = _first(np.maximum.accumulate(rest) - rest > retreat)
        if turn < len(rest):
            corners.append(start + int(np.argmax(rest[: turn + 1])))
        start, way = start + turn, -way
    return [*corners, len(path) - 1]


def _first(mask: BoolArray) -> int:
    """Return the first place that is true; the length where none is."""
    return int(np.argmax(mask)) if mask.any() else len(mask)


def _nearest(forward: FloatArray) -> FloatArray:
    """Give frames without a direction the one of the nearest frame that has one."""
    known = np.flatnonzero(~np.isnan(forward[:, 0]))
    if not len(known):
        return forward
    for start, stop in runs(np.isnan(forward[:, 0])):
        for frame in range(start, stop):
            forward[frame] = forward[known[np.argmin(np.abs(known - frame))]]
    return forward


def _toes_direction(points: Mapping[str, FloatArray], up: FloatArray) -> FloatArray:
    """Return the mean direction in which the feet point, for trials that go nowhere."""
    directions = []
    for side in ("left", "right"):
        heel = points.get(f"{side}_heel", points.get(f"{side}_ankle"))
        front = next(
            (points[f"{side}_{name}"] for name in _FEET[1:] if f"{side}_{name}" in points), None
        )
        if heel is not None and front is not None:
            toes = front - heel
            seen = toes[~np.isnan(toes[:, 0])]
            directions.append((seen.mean(axis=0) if len(seen) else np.full(3, np.nan)) * (up == 0))
    total = np.nansum(directions, axis=0) if directions else np.zeros(3)
    length = np.linalg.norm(total)
    if not length:
        raise MissingSignalError.of("forward_of_standing_person")
    return total / length
