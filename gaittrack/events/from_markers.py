"""Contacts and toe-offs from the movement of the feet.

In comes a motion, out come events of both feet with source ``markers``. Made for feet that do not
land on the heel: an anchor from the reach of the heel ahead of the pelvis says *that* a step ends;
the first end of the foot that is low and slow says *when*; its upward-acceleration peak says when
exactly. How far this is right against force plates: ``tests/golden/event_errors.csv``.
"""

from __future__ import annotations

import numpy as np

from gaittrack.events.extremes import Extreme, extremes
from gaittrack.events.landing import Foot, contact_frame
from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.motion import Motion
from gaittrack.kinematics.sagittal_angles import FORWARD, UP
from gaittrack.kinematics.smoothing import TOE_OFF_CUTOFF_HZ, low_pass, velocity
from gaittrack.trial import BoolArray, Event, FloatArray
from gaittrack.vocabulary import SIDES, Side

SLOW_M_S = 0.5
"""Speed below which it counts as stopped; valid in cerebral palsy
(doi:10.1016/j.clinbiomech.2021.105492)."""
SLOW_SHARE = 0.25
"""… but never more than this share of the swing's peak speed, for very slow walking; own choice."""
SLOWEST_M_S = 0.1
TOE_OFF_LAG_S = 0.008
"""By how much the forefoot's turning point trails the end of load: median on force plates
(+9 ms over 11 recordings of several laboratories, before this is taken off)."""
IMPACT_CUTOFF_HZ = 12.0
"""The acceleration is smoothed once more: at 15 Hz alone 1 mm of marker noise moves one contact in
fourteen by more than 25 ms in made-up walks, so one in forty; recorded ones move by 1 ms."""
LEAST_STEP_M = 0.04
"""Smallest swing of the heel relative to the pelvis that is a step; own choice."""
STEP_SHARE = 0.2
"""… and the share of the largest such swing in the trial."""
_BODY = (
    "left_asis", "right_asis", "left_psis", "right_psis", "sacrum", "left_hip", "right_hip",
)  # fmt: skip
SEEN_SHARE = 0.8
"""An end of the foot seen less often than this share of the best seen one is left out."""
_FOOT_FRONTS = ("metatarsal_5", "metatarsal_2", "metatarsal_1", "toe")


def detect_from_markers(motion: Motion) -> tuple[Event, ...]:
    """Detect the events of both feet from markers.

    Returns
    -------
    tuple of Event
        In time order; contact types are left to
        :func:`gaittrack.events.contact_type.with_contact_types`. Empty without foot markers or
        without anything to tell the body's travel from.
    """
    events = [
        event for side in SIDES for foot in _stretches(motion, side) for event in _events_of(foot)
    ]
    return tuple(sorted(events, key=lambda event: event.time_s))


def body_reference(motion: Motion, side: Side) -> FloatArray | None:
    """Return the path of the body that a foot's reach is measured from.

    Returns
    -------
    ndarray, shape (n_frames, 3), or None
        Mean of the pelvis and hip markers that are seen, each moved by its usual distance from
        the best seen one, so that a hidden marker hides no step; else the knee's path.
    """
    body = [motion.points[key] for key in _BODY if key in motion.points]
    if not body:
        return motion.points.get(f"{side}_knee_centre")
    if not any(np.isnan(xyz).any() for xyz in body):
        whole: FloatArray = np.mean(body, axis=0)
        return whole
    anchor = max(body, key=lambda xyz: int((~np.isnan(xyz[:, 0])).sum()))
    moved = [xyz - _usual_offset(xyz, anchor) for xyz in body]
    seen = ~np.isnan(moved)
    total = np.where(seen, moved, 0.0).sum(axis=0)
    count = seen.sum(axis=0)
    path: FloatArray = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return path


def sees_body(motion: Motion) -> bool:
    """Whether any marker of pelvis or hip was seen."""
    return any(key in motion.points for key in _BODY)


def _usual_offset(xyz: FloatArray, anchor: FloatArray) -> FloatArray:
    offset = xyz - anchor
    offset = offset[~np.isnan(offset[:, 0])]
    return np.median(offset, axis=0) if len(offset) else np.full(3, np.nan)


def foot_ends(motion: Motion, side: Side) -> list[str]:
    """Return the points of a foot whose landing is looked for; the ankle stands in for a heel."""
    rear = "heel" if f"{side}_heel" in motion.fast_points else "ankle"
    keys = [f"{side}_{name}" for name in (rear, *_FOOT_FRONTS)]
    counts = {
        key: int((~np.isnan(motion.fast_points[key][:, 0])).sum())
        for key in keys
        if key in motion.fast_points
    }
    return [key for key, count in counts.items() if count >= SEEN_SHARE * max(counts.values())]


def _stretches(motion: Motion, side: Side) -> list[Foot]:
    body = body_reference(motion, side)
    names = foot_ends(motion, side)
    if body is None or not names or motion.axes is None:
        return []
    rear = motion.points[names[0]]
    toe_key = f"{side}_toe_point"
    toe = motion.fast_points[toe_key if toe_key in motion.fast_points else names[-1]]
    ends = [motion.fast_points[name] for name in names]
    seen: BoolArray = np.all(~np.isnan(np.column_stack([body, rear, toe, *ends])), axis=1)
    return [
        _foot(motion, side, slice(start, stop), body, rear, toe, ends)
        for start, stop in _same_direction(seen, motion.axes.forward)
        if stop - start >= 0.2 * motion.rate_hz
    ]


def _same_direction(seen: BoolArray, forward: FloatArray) -> list[tuple[int, int]]:
    """Return runs of seen frames, cut where the direction of walking changes."""
    turns = np.flatnonzero((np.abs(np.diff(forward, axis=0)) > 1e-9).any(axis=1)) + 1
    pieces = []
    for start, stop in runs(seen):
        cuts = [start, *[turn for turn in turns.tolist() if start < turn < stop], stop]
        pieces += list(zip(cuts, cuts[1:], strict=False))
    return pieces


def _foot(
    motion: Motion,
    side: Side,
    window: slice,
    body: FloatArray,
    rear: FloatArray,
    toe: FloatArray,
    ends: list[FloatArray],
) -> Foot:
    rate_hz = motion.rate_hz
    reach = low_pass(
        toe[window, FORWARD] - body[window, FORWARD], cutoff_hz=TOE_OFF_CUTOFF_HZ, rate_hz=rate_hz
    )
    cut = tuple(end[window] for end in ends)
    slow = tuple(_is_slow(sagittal_speed(end, rate_hz)) for end in cut)
    impacts = _upward_acceleration(np.stack([end[:, UP] for end in cut], axis=1), rate_hz)
    return Foot(
        side=side,
        start=window.start,
        rate_hz=rate_hz,
        sees_heel=f"{side}_heel" in motion.fast_points,
        body_speed_m_s=float(abs(np.median(velocity(body[window, FORWARD], rate_hz)))),
        heel_reach=rear[window, FORWARD] - body[window, FORWARD],
        toe_reach=reach,
        ends=cut,
        impacts=tuple(np.ascontiguousarray(impacts.T)),
        slow=slow,
    )


def _upward_acceleration(heights: FloatArray, rate_hz: float) -> FloatArray:
    """Return the upward acceleration of each column of heights, m/s2."""
    accelerations = velocity(velocity(heights, rate_hz), rate_hz)
    return low_pass(accelerations, cutoff_hz=IMPACT_CUTOFF_HZ, rate_hz=rate_hz)


def sagittal_speed(point: FloatArray, rate_hz: float) -> FloatArray:
    """Return how fast a point moves forward and up together, m/s, sideways left out."""
    moves = velocity(point, rate_hz)
    speed: FloatArray = np.sqrt(moves[:, FORWARD] ** 2 + moves[:, UP] ** 2)
    return speed


def _is_slow(speed: FloatArray) -> BoolArray:
    slow: BoolArray = speed < max(SLOWEST_M_S, min(SLOW_M_S, SLOW_SHARE * float(speed.max())))
    return slow


def _events_of(foot: Foot) -> list[Event]:
    reaches = _steps(foot.heel_reach, foot.rate_hz)
    releases = _steps(foot.toe_reach, foot.rate_hz)
    events = []
    for reach in reaches:
        if reach.is_maximum:
            frame = contact_frame(foot, reach.frame, _next_minimum(releases, reach.frame))
            if frame is not None:
                events.append(_event(foot, frame, "initial_contact"))
    # A heel alone leaves the floor long before the foot does.
    for release in releases if len(foot.ends) > 1 else ():
        if not release.is_maximum:
            frame = max(0.0, release.frame - TOE_OFF_LAG_S * foot.rate_hz)
            events.append(_event(foot, frame, "toe_off"))
    return events


def _event(foot: Foot, frame: float, kind: str) -> Event:
    time_s = (foot.start + frame) / foot.rate_hz
    return Event(
        time_s, foot.side, "toe_off" if kind == "toe_off" else "initial_contact", "markers"
    )


def _steps(reach: FloatArray, rate_hz: float) -> list[Extreme]:
    size = max(LEAST_STEP_M, STEP_SHARE * float(np.ptp(reach)))
    return extremes(reach, size=size, edge=int(round(0.06 * rate_hz)))


def _next_minimum(releases: list[Extreme], frame: float) -> float | None:
    later = [item.frame for item in releases if not item.is_maximum and item.frame > frame]
    return min(later, default=None)
