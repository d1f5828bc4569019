"""Landmarks of one trial as points in the walker's axes.

In come a trial and the laboratory's map, out come its landmarks and the points made of them:
what cannot be the landmark it is named after left out, jumps and short gaps seen to, smoothed at
each cut-off, turned to forward, left and up.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np

from gaittrack.errors import LayoutError, MissingSignalError, Problem
from gaittrack.kinematics.body_points import Parts, body_points, point_parts
from gaittrack.kinematics.earlier_smoothing import smoothed_before
from gaittrack.kinematics.filled_before import filled_problems
from gaittrack.kinematics.floor import SeenFloor, find_floor, upright
from gaittrack.kinematics.gaps import fill_short_gaps
from gaittrack.kinematics.lab_axes import axis_vector, find_axes
from gaittrack.kinematics.landmarks import LandmarkFit, find_landmarks, has_sides, unsided_landmarks
from gaittrack.kinematics.loose_markers import find_loose_markers, hide_jumps
from gaittrack.kinematics.marker_jumps import (
    find_jumps,
    jump_problems,
    torn_reasons,
    without_jumps,
)
from gaittrack.kinematics.misnamed import (
    misnamed_problems,
    names_off_their_leg,
    names_out_of_place,
)
from gaittrack.kinematics.motion import LabAxes, MarkerFacts
from gaittrack.kinematics.proportions import stretch_problems
from gaittrack.kinematics.sagittal_angles import FORWARD, LEFT
from gaittrack.kinematics.segments import impossible_lengths, segment_lengths
from gaittrack.kinematics.smoothing import (
    ANGLE_CUTOFF_HZ,
    FALL_CUTOFF_HZ,
    RATE_CUTOFF_HZ,
    low_pass,
)
from gaittrack.lab_map import LabMap
from gaittrack.quick_numpy import median_of
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray, Trial
from gaittrack.vocabulary import Side

_FALLING_POINTS = ("heel", "toe", "metatarsal", "ankle", "knee", "fibula")
_FAST_POINTS = (*_FALLING_POINTS, "hip", "asis", "psis", "sacrum")
_LATERAL_PAIRS = (
    ("knee", "knee_medial"),
    ("ankle", "ankle_medial"),
    ("metatarsal_5", "metatarsal_1"),
)
_SEEN_SHARE = 0.8
"""A landmark seen less often than this share of the median is used only for want of others."""
MOST_LABELS_TOLD = 40
"""Labels of a file that a message lists at most."""

Points = Mapping[str, FloatArray]
_NO_EVIDENCE: Final = Reason("nothing_shows_side")


@dataclass(frozen=True, eq=False, slots=True)
class WalkerPoints:
    """Points of one trial in the walker's axes.

    Attributes
    ----------
    fit : LandmarkFit
        Without the landmarks that are left out.
    parts : Parts
        Point key to the landmarks it is made of.
    slow, fast, falling : mapping of point key to ndarray, shape (n_frames, 3)
        Forward, left, up in metres, low-passed at 6, 15 and 20 Hz, the last of shanks and feet.
    filled : mapping of point key to ndarray of bool, shape (n_frames,)
    floor : SeenFloor
        As recorded; along the way the points are turned until it is level.
    left_out : mapping of landmark key to Reason
        Those that cannot be what they are named after.
    well_seen : frozenset of str
        Landmarks of ``parts`` that are seen nearly as often as most.
    """

    fit: LandmarkFit
    axes: LabAxes
    parts: Parts
    slow: Points
    fast: Points
    falling: Points
    filled: Mapping[str, BoolArray]
    floor: SeenFloor
    problems: tuple[Problem, ...]
    left_out: Mapping[str, Reason]
    markers: MarkerFacts
    well_seen: frozenset[str]


class _Sound(NamedTuple):
    """Landmarks without jumps, short gaps filled, and what was found about them."""

    shown: dict[str, FloatArray]
    filled: dict[str, FloatArray]
    masks: dict[str, BoolArray]
    off: dict[str, Reason]
    loose: tuple[str, ...]
    noise_m: Mapping[str, float]
    problems: tuple[Problem, ...]


def walker_points(
    trial: Trial, lab_map: LabMap, *, only: frozenset[str] | None = None
) -> WalkerPoints:
    """Find the landmarks of a trial and turn them into the walker's axes.

    Parameters
    ----------
    trial : Trial
        With markers.
    only : frozenset of str, optional
        Make points of these landmarks only.

    Raises
    ------
    LayoutError
        No label spells a landmark.
    MissingSignalError
        Up or forward cannot be told, or no landmark is left.
    """
    fit, problems = _fit_landmarks(trial, lab_map)
    found = {key: trial.markers[label] for key, label in fit.labels.items()}
    seen = {key: xyz for key, xyz in found.items() if not np.isnan(xyz).all()}
    sound = _sound_landmarks(seen, fit, trial.rate_hz)
    filled = sound.filled
    axes, slow, fast, falling = _in_walkers_axes(filled, trial.rate_hz)
    odd = sound.off | names_out_of_place({key: slow[key] for key in filled if key not in sound.off})
    out = {*odd, *sound.loose}
    usable = [key for key in filled if key not in out and (only is None or key in only)]
    well_seen = _well_seen(usable, filled)
    parts = point_parts(usable) | point_parts(well_seen)
    whole = _with_points({key: slow[key] for key in usable}, parts)
    floor = find_floor(whole, axes, trial.rate_hz)
    travel_m = _belt_travel(axes, trial.rate_hz)
    level = upright({key: slow[key] for key in usable}, floor, travel_m)
    markers = _marker_facts(sound, {key: slow[key] for key in usable}, trial.rate_hz)
    return WalkerPoints(
        markers=markers,
        fit=replace(fit, labels={k: v for k, v in fit.labels.items() if k not in out}),
        axes=axes,
        parts=parts,
        slow=whole if floor.is_level else _with_points(level, parts),
        fast=_level_points(fast, usable, parts, floor, travel_m),
        falling=_level_points(falling, usable, parts, floor, travel_m),
        filled={key: sound.masks[key] for key in usable}
        | {point: _any_of(sound.masks, names) for point, names in parts.items()},
        floor=floor,
        problems=(
            *problems,
            *misnamed_problems(odd, fit.labels),
            *sound.problems,
            *_unseen_problems(sorted(set(found) - set(seen) - lab_map.standing_only), fit),
            *_of_movement(trial, {key: found[key] for key in usable}, fit, markers, whole),
        ),
        left_out=odd,
        well_seen=frozenset(well_seen),
    )


def _of_movement(
    trial: Trial, read: Points, fit: LandmarkFit, markers: MarkerFacts, points: Points
) -> list[Problem]:
    """Return what filled stretches and the lengths of segments say against the recording."""
    where = trial.provenance.file_name
    return [
        *filled_problems(read, fit.labels, trial.rate_hz),
        *impossible_lengths(markers.segments_m, where),
        *stretch_problems(points, where),
    ]


def _sound_landmarks(seen: Points, fit: LandmarkFit, rate_hz: float) -> _Sound:
    """Take jumps out, fill short gaps and name what cannot be the landmark it is called."""
    jumps = find_jumps(seen, rate_hz)
    still = without_jumps(seen, jumps)
    off = names_off_their_leg(still) | torn_reasons(jumps, rate_hz)
    on = {key: xyz for key, xyz in still.items() if key not in off}
    loose, loose_problems = find_loose_markers(on)
    steady, stretch_problems = hide_jumps(on, rate_hz)
    shown = still | steady
    filled, masks = {}, {}
    for key, xyz in shown.items():
        filled[key], masks[key] = fill_short_gaps(xyz, rate_hz=rate_hz)
    moved = jump_problems(jumps, fit.labels, rate_hz)
    problems = (*loose_problems, *moved, *stretch_problems)
    return _Sound(shown, filled, masks, off, loose, jumps.noise_m, problems)


def _marker_facts(sound: _Sound, used: Points, rate_hz: float) -> MarkerFacts:
    return MarkerFacts(
        seen_share=_seen_shares({key: sound.shown[key] for key in used}),
        noise_m={key: sound.noise_m[key] for key in used},
        segments_m=segment_lengths(used),
        smoothed_before=smoothed_before(sound.shown, rate_hz),
    )


def _in_walkers_axes(
    filled: Points, rate_hz: float
) -> tuple[LabAxes, dict[str, FloatArray], dict[str, FloatArray], dict[str, FloatArray]]:
    """Return the axes and the landmarks in them, at 6 and (the fast, the falling) 15 and 20 Hz."""
    if not filled:
        raise MissingSignalError.of("no_landmark_left")
    slow = _low_passed(filled, ANGLE_CUTOFF_HZ, rate_hz)
    axes = find_axes(slow, rate_hz=rate_hz)
    fast, falling = (
        _low_passed({key: filled[key] for key in filled if _is(key, names)}, cutoff_hz, rate_hz)
        for cutoff_hz, names in ((RATE_CUTOFF_HZ, _FAST_POINTS), (FALL_CUTOFF_HZ, _FALLING_POINTS))
    )
    slow, fast, falling = _turn((slow, fast, falling), axes, rate_hz)
    return axes, slow, fast, falling


def _low_passed(points: Points, cutoff_hz: float, rate_hz: float) -> dict[str, FloatArray]:
    if not points:
        return {}
    stack = np.stack(list(points.values()))
    smooth = low_pass(stack, cutoff_hz=cutoff_hz, rate_hz=rate_hz, axis=1)
    return dict(zip(points, smooth, strict=True))


def _well_seen(keys: list[str], points: Mapping[str, FloatArray]) -> list[str]:
    """Return the landmarks seen nearly as often as most; points are rather made of these."""
    counts = {key: int((~np.isnan(points[key][:, 0])).sum()) for key in keys}
    usual = median_of(np.array(list(counts.values()))) if counts else 0.0
    return [key for key in keys if counts[key] >= _SEEN_SHARE * usual]


def _seen_shares(points: Points) -> dict[str, float]:
    """Return how often each is seen, from the first to the last frame that shows half of them."""
    if not points:
        return {}
    seen = ~np.isnan(np.stack([xyz[:, 0] for xyz in points.values()]))
    in_view = np.flatnonzero(2 * seen.sum(axis=0) >= len(seen))
    if not len(in_view):
        return dict.fromkeys(points, 0.0)
    shares = seen[:, in_view[0] : in_view[-1] + 1].mean(axis=1)
    return dict(zip(points, shares.tolist(), strict=True))


def _is(key: str, names: tuple[str, ...]) -> bool:
    return key.removeprefix("left_").removeprefix("right_").startswith(names)


def _any_of(masks: Mapping[str, BoolArray], names: tuple[str, ...]) -> BoolArray:
    either: BoolArray = np.logical_or.reduce([masks[name] for name in names])
    return either


def _with_points(landmarks: dict[str, FloatArray], parts: Parts) -> dict[str, FloatArray]:
    possible = {
        point: names for point, names in parts.items() if all(name in landmarks for name in names)
    }
    return landmarks | body_points(landmarks, possible)


def _level_points(
    landmarks: Points, usable: list[str], parts: Parts, floor: SeenFloor, travel_m: FloatArray
) -> dict[str, FloatArray]:
    """Return those in use over a level floor, and the points made of them."""
    used = {key: landmarks[key] for key in usable if key in landmarks}
    return _with_points(upright(used, floor, travel_m), parts)


def _belt_travel(axes: LabAxes, rate_hz: float) -> FloatArray:
    """Return how far the belt has run at each frame; 0 overground."""
    return axes.belt_speed_m_s / rate_hz * np.arange(len(axes.forward), dtype=np.float64)


def _turn(sets: Iterable[Points], axes: LabAxes, rate_hz: float) -> list[dict[str, FloatArray]]:
    """Turn file axes into forward, left, up, and add the belt's travel to forward.

    The way forward changes between passes only.
    """
    up, forward = axis_vector(axes.up_axis), axes.forward
    changes = np.flatnonzero((forward[1:] != forward[:-1]).any(axis=1)) + 1
    passes = [
        (slice(start, stop), np.stack([forward[start], np.cross(up, forward[start]), up], axis=1))
        for start, stop in pairwise([0, *changes.tolist(), len(forward)])
    ]
    travel_m = _belt_travel(axes, rate_hz) if axes.is_treadmill else None
    sets_turned = []
    for points in sets:
        places = np.array(list(points.values())).reshape(-1, len(forward), 3)
        turned = np.empty_like(places)
        for frames, frame in passes:
            np.matmul(places[:, frames], frame, out=turned[:, frames])
        if travel_m is not None:
            turned[..., FORWARD] += travel_m
        sets_turned.append(dict(zip(points, turned, strict=True)))
    return sets_turned


def _fit_landmarks(trial: Trial, lab_map: LabMap) -> tuple[LandmarkFit, tuple[Problem, ...]]:
    labels = list(trial.markers)
    if has_sides(labels) or lab_map.landmarks or not unsided_landmarks(labels):
        fit = find_landmarks(labels, lab_map)
        if not fit.labels:
            raise _no_landmarks(trial)
        return fit, ()
    side, evidence = _lone_side(trial, lab_map)
    problem = Problem(
        "info" if evidence else "warning",
        Reason("side_not_named", side=side, why=evidence or _NO_EVIDENCE),
        trial.provenance.file_name,
    )
    return find_landmarks(labels, lab_map, lone_side=side), (problem,)


def _no_landmarks(trial: Trial) -> LayoutError:
    shown = ", ".join(list(trial.markers)[:MOST_LABELS_TOLD])
    return LayoutError.of(
        "no_label_spells_side_landmark", where=trial.provenance.file_name, shown=shown
    )


def _lone_side(trial: Trial, lab_map: LabMap) -> tuple[Side, Reason | None]:
    """Tell which leg was recorded from where its outer markers lie."""
    fit = find_landmarks(trial.markers, lab_map, lone_side="right")
    points = {key: trial.markers[label] for key, label in fit.labels.items()}
    try:
        axes = find_axes(points, rate_hz=trial.rate_hz)
    except MissingSignalError:
        return "right", None
    (turned,) = _turn([points], axes, trial.rate_hz)
    for outer, inner in _LATERAL_PAIRS:
        pair = [turned.get(f"right_{name}") for name in (outer, inner)]
        if pair[0] is not None and pair[1] is not None:
            outward = float(np.nanmean(pair[0][:, LEFT] - pair[1][:, LEFT]))
            if abs(outward) > 0.01:
                side: Side = "left" if outward > 0 else "right"
                return side, Reason("outer_marker_shows_side", landmark=f"outer_{outer}", side=side)
    return "right", None


def _unseen_problems(unseen: list[str], fit: LandmarkFit) -> list[Problem]:
    return [
        Problem("warning", Reason("marker_never_seen", landmark=key), fit.labels[key])
        for key in unseen
    ]
