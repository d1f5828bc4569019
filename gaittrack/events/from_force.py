"""Contacts and toe-offs from clean force-plate hits.

In comes a motion whose trial has plates, out come events with source ``force``: only where one
foot alone loads a plate, well inside it, and leaves it again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gaittrack.errors import Problem
from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.motion import Motion
from gaittrack.kinematics.smoothing import velocity
from gaittrack.quick_numpy import gaps_of, lengths_of, median_of
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, Event, FloatArray, ForcePlate
from gaittrack.vocabulary import SIDES, Side

THRESHOLD_N = 20.0
"""Vertical force that counts as loaded; common practice, no source."""
LEAST_PEAK_N = 100.0
"""A hit that never carries this much is not a step of a person; own choice."""
SHORTEST_HIT_S, LONGEST_HIT_S = 0.15, 4.0
"""Stance times that are believed; own choice."""
CHATTER_S = 0.03
"""Loaded stretches closer than this are one hit."""
CLEAR_S = 0.05
"""The plate must be unloaded this long before and after."""
INSIDE_M = 0.01
"""Margin of the centre of pressure to the plate's edges."""
COP_LOAD_N = 50.0
"""The centre of pressure is judged only above this load; below it is noise."""
NEAR_FOOT_M = 0.35
"""Largest distance from the centre of pressure to the foot's middle, on plates of unknown place."""
STANDING_M_S = 0.5
"""Speed below which the other foot is standing on the plate rather than swinging over it."""


@dataclass(frozen=True, slots=True)
class _Foot:
    side: Side
    points: FloatArray
    speed: FloatArray


@dataclass(frozen=True, eq=False, slots=True)
class PlateHit:
    """One step on a plate.

    Attributes
    ----------
    load_n : ndarray, shape (n_samples,)
        Upward force on the whole plate, at its own rate.
    owner : Side or Reason
        Whose foot it was; or why it is no clean hit.
    """

    plate: ForcePlate
    load_n: FloatArray
    start_s: float
    stop_s: float
    owner: Side | Reason


def detect_from_force(motion: Motion) -> tuple[tuple[Event, ...], tuple[Problem, ...]]:
    """Find the contacts and toe-offs of clean plate hits.

    Returns
    -------
    events : tuple of Event
        In time order, interpolated between force samples at 20 N.
    problems : tuple of Problem
        One per hit that was not clean, with the reason.
    """
    events: list[Event] = []
    problems: list[Problem] = []
    for hit in plate_hits(motion):
        if isinstance(hit.owner, Reason):
            problems.append(_unclean(hit, hit.owner))
            continue
        events.append(Event(hit.start_s, hit.owner, "initial_contact", "force"))
        events.append(Event(hit.stop_s, hit.owner, "toe_off", "force"))
    return tuple(sorted(events, key=lambda event: event.time_s)), tuple(problems)


def plate_hits(motion: Motion) -> list[PlateHit]:
    """Return every step on a plate, and whose it is; none where up is not known."""
    if motion.axes is None or not motion.trial.plates:
        return []
    up = "XYZ".index(motion.axes.up_axis[1])
    sign = 1.0 if motion.axes.up_axis[0] == "+" else -1.0
    feet = _feet(motion)
    found = []
    for plate in motion.trial.plates:
        load = sign * plate.force_n[:, up]
        for start_s, stop_s in _loaded(load, plate.rate_hz):
            owner = _owner(plate, (start_s, stop_s), load, feet, motion.rate_hz, up)
            own = owner if isinstance(owner, Reason) else owner.side
            found.append(PlateHit(plate, load, start_s, stop_s, own))
    return found


def _unclean(hit: PlateHit, why: Reason) -> Problem:
    where = f"{hit.plate.name}, {hit.start_s:.2f}-{hit.stop_s:.2f} s"
    return Problem("info", Reason("not_a_clean_hit", why=why), where)


def _feet(motion: Motion) -> list[_Foot]:
    """Return the feet in the axes of the file, where the plates are."""
    feet = []
    for side in SIDES:
        labels = [
            label
            for key, label in motion.landmark_labels.items()
            if key.startswith(side) and key.split("_", 1)[1].startswith(("heel", "toe", "metat"))
        ]
        if labels:
            points = np.stack([motion.trial.markers[label] for label in labels], axis=1)
            speed = lengths_of(velocity(points, motion.rate_hz))
            feet.append(_Foot(side, points, speed))
    return feet


def _loaded(load: FloatArray, rate_hz: float) -> list[tuple[float, float]]:
    """Return the stretches of load that begin and end within the recording."""
    loaded: BoolArray = load > THRESHOLD_N
    for start, stop in runs(~loaded):
        if start > 0 and stop < len(loaded) and stop - start < CHATTER_S * rate_hz:
            loaded[start:stop] = True
    clear = int(CLEAR_S * rate_hz)
    return [
        (_crossing(load, start, rate_hz), _crossing(load, stop, rate_hz))
        for start, stop in runs(loaded)
        if start > clear
        and stop < len(load) - clear
        and SHORTEST_HIT_S <= (stop - start) / rate_hz <= LONGEST_HIT_S
        and load[start:stop].max() >= LEAST_PEAK_N
    ]


def _crossing(load: FloatArray, after: int, rate_hz: float) -> float:
    """Return the time between samples ``after - 1`` and ``after`` at which 20 N is crossed."""
    before_n, after_n = load[after - 1], load[after]
    share = (THRESHOLD_N - before_n) / (after_n - before_n)
    return float((after - 1 + share) / rate_hz)


def _owner(
    plate: ForcePlate,
    within_s: tuple[float, float],
    load: FloatArray,
    feet: list[_Foot],
    rate_hz: float,
    up: int,
) -> _Foot | Reason:
    """Return the one foot that made a hit, or why it is not clean."""
    first, last = (int(round(time * plate.rate_hz)) for time in within_s)
    cop = plate.centre_of_pressure_m[first:last][load[first:last] > COP_LOAD_N]
    cop = cop[~gaps_of(cop)]
    if not len(cop):
        return Reason("no_centre_of_pressure")
    frames = slice(int(np.ceil(within_s[0] * rate_hz)), int(within_s[1] * rate_hz) + 1)
    flat = [axis for axis in range(3) if axis != up]
    corners = plate.corners_m[:, flat]
    if np.isnan(corners).any():
        return _nearest_foot(feet, cop[:, flat].mean(axis=0), frames, flat)
    if not _inside(cop[:, flat], corners, INSIDE_M).all():
        return Reason("near_edge_of_plate")
    on_plate = [foot for foot in feet if _stands_on(foot, corners, frames, flat)]
    if len(on_plate) > 1:
        return Reason("both_feet_on_plate")
    return on_plate[0] if on_plate else Reason("no_foot_on_plate")


def _nearest_foot(
    feet: list[_Foot], cop: FloatArray, frames: slice, flat: list[int]
) -> _Foot | Reason:
    near = [
        foot
        for foot in feet
        if (distance := _median_distance(foot, cop, frames, flat)) is not None
        and distance < NEAR_FOOT_M
    ]
    return near[0] if len(near) == 1 else Reason("foot_on_plate_unclear")


def _median_distance(foot: _Foot, cop: FloatArray, frames: slice, flat: list[int]) -> float | None:
    middle = foot.points[frames].mean(axis=1)[:, flat]
    distance = lengths_of(middle - cop)
    distance = distance[~np.isnan(distance)]
    return median_of(distance) if len(distance) else None


def _stands_on(foot: _Foot, corners: FloatArray, frames: slice, flat: list[int]) -> bool:
    """Whether any end of a foot stands still over the plate during a hit."""
    points, speed = foot.points[frames], foot.speed[frames]
    standing = speed < STANDING_M_S
    over = _inside(points[..., flat], corners, 0.0)
    return bool((standing & over).sum() > 0.02 * standing.size)


def _inside(points: FloatArray, corners: FloatArray, margin: float) -> BoolArray:
    """Whether points lie inside a convex outline by a margin (shape of ``points`` less one)."""
    edges = np.roll(corners, -1, axis=0) - corners
    normals = edges[:, ::-1] * (-1.0, 1.0) / lengths_of(edges)[:, None]
    inward = np.sign(((corners.mean(axis=0) - corners) * normals).sum(axis=1))
    x, y = (points[..., axis, None] - corners[:, axis] for axis in (0, 1))
    normal_x, normal_y = (normals * inward[:, None]).T
    with np.errstate(invalid="ignore"):
        return np.asarray((x * normal_x + y * normal_y >= margin).all(axis=-1))
