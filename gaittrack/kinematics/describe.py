"""The order of work from a trial to a motion.

In comes a trial (and a standing trial, if there is one), out comes the motion: landmarks found,
short gaps filled, smoothed twice, turned into the walker's axes, joint centres, neutral, angles.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gaittrack.errors import DataError, LayoutError, MissingSignalError, Problem
from gaittrack.kinematics.body_points import Parts, body_points, point_parts
from gaittrack.kinematics.file_angles import choose_angles
from gaittrack.kinematics.foot_flat import find_neutral, standing_neutral
from gaittrack.kinematics.gaps import fill_short_gaps
from gaittrack.kinematics.lab_axes import axis_vector, find_axes
from gaittrack.kinematics.landmarks import LandmarkFit, find_landmarks, has_sides, unsided_landmarks
from gaittrack.kinematics.loose_markers import (
    find_crossed_sides,
    find_loose_markers,
    find_turned_feet,
    hide_jumps,
    turned_problem,
)
from gaittrack.kinematics.motion import FootNeutral, LabAxes, Motion
from gaittrack.kinematics.sagittal_angles import LEFT, angles_from_points
from gaittrack.kinematics.smoothing import ANGLE_CUTOFF_HZ, RATE_CUTOFF_HZ, can_filter, low_pass
from gaittrack.lab_map import LabMap
from gaittrack.trial import BoolArray, FloatArray, Signal, Trial
from gaittrack.vocabulary import JOINT_MEANING, SIDES, Joint, Side

_FAST_POINTS = (
    "heel",
    "toe",
    "metatarsal",
    "ankle",
    "knee",
    "fibula",
    "hip",
    "asis",
    "psis",
    "sacrum",
)
_FAST_JOINTS: tuple[Joint, ...] = ("ankle", "knee", "foot_pitch", "shank_lean")
_LATERAL_PAIRS = (
    ("knee", "knee_medial"),
    ("ankle", "ankle_medial"),
    ("metatarsal_5", "metatarsal_1"),
)
_SEEN_SHARE = 0.8
"""A landmark seen less often than this share of the median is used only for want of others."""
FEWEST_FRAMES = 10
"""Frames below which nothing can be smoothed; own choice."""
_LONG_LABEL_LIST = 40


def describe_motion(
    trial: Trial,
    *,
    lab_map: LabMap | None = None,
    standing: Trial | None = None,
    standing_map: LabMap | None = None,
) -> Motion:
    """Describe a trial in the walker's own axes.

    Parameters
    ----------
    trial : Trial
        Markers, angles over time, or both. A trial of 0–100 % curves only is passed through.
    lab_map : LabMap, optional
        The laboratory's own landmark names.
    standing : Trial, optional
        Quiet standing with the same markers, for the foot's neutral.
    standing_map : LabMap, optional
        Names in the standing trial, where they differ from those in the trial.

    Returns
    -------
    Motion

    Raises
    ------
    LayoutError
        No label spells a landmark, or the map names labels that are not there.
    MissingSignalError
        Up or forward cannot be told; or the standing trial shows no foot.
    DataError
        The trial has too few frames to smooth.
    """
    lab_map = lab_map or LabMap()
    if not trial.markers:
        return _without_markers(trial)
    _refuse_short(trial)
    walk = _WalkerPoints.of(trial, lab_map)
    neutrals = {} if standing is None else _standing_neutrals(standing, standing_map or lab_map)
    turned = find_turned_feet(walk.slow)
    usable = {key: xyz for key, xyz in walk.slow.items() if not key.startswith(turned)}
    neutral, flat = find_neutral(usable, rate_hz=trial.rate_hz, standing=neutrals)
    zero = {side: foot.foot_pitch_deg for side, foot in neutral.items()}
    slow_angles = _signals(angles_from_points(walk.slow, zero))
    fast_angles = _signals(angles_from_points(walk.fast, zero), keep=_FAST_JOINTS)
    chosen = choose_angles(trial, slow_angles)
    return Motion(
        trial=trial,
        axes=walk.axes,
        landmark_labels=walk.fit.labels,
        points=walk.slow,
        fast_points=walk.fast,
        filled=walk.filled,
        angles=chosen.angles,
        angle_origin=chosen.origin,
        marker_angles=slow_angles,
        fast_marker_angles=fast_angles,
        neutral=neutral,
        foot_flat=flat,
        toe_point_name=_names(walk, "toe_point"),
        foot_pitch_name=_names(walk, "forefoot"),
        smoothing=_smoothing_words(trial.rate_hz),
        problems=(*_problems_of(trial, walk, neutral, turned), *chosen.problems),
        turned_feet=turned,
    )


def _refuse_short(trial: Trial) -> None:
    if trial.n_frames < FEWEST_FRAMES:
        raise DataError(
            f"{trial.n_frames} frames are too few to smooth, and show no step.",
            where=trial.provenance.file_name,
            action="Give a recording of walking.",
        )


def _without_markers(trial: Trial) -> Motion:
    chosen = choose_angles(trial, {})
    return Motion(
        trial=trial,
        axes=None,
        landmark_labels={},
        points={},
        fast_points={},
        filled={},
        angles=chosen.angles,
        angle_origin=chosen.origin,
        marker_angles={},
        fast_marker_angles={},
        neutral={},
        foot_flat={},
        toe_point_name={},
        foot_pitch_name={},
        smoothing="as in the file, smoothing unknown",
        problems=(*trial.problems, *chosen.problems),
    )


@dataclass(frozen=True, eq=False, slots=True)
class _WalkerPoints:
    """Points of one trial in the walker's axes, smoothed at both cut-offs."""

    fit: LandmarkFit
    axes: LabAxes
    parts: Parts
    slow: Mapping[str, FloatArray]
    fast: Mapping[str, FloatArray]
    filled: Mapping[str, BoolArray]
    problems: tuple[Problem, ...]

    @classmethod
    def of(cls, trial: Trial, lab_map: LabMap) -> _WalkerPoints:
        fit, problems = _fit_landmarks(trial, lab_map)
        keys = [key for key in fit.labels if not np.isnan(trial.markers[fit.labels[key]]).all()]
        unseen = sorted(set(fit.labels) - set(keys))
        loose, loose_problems = find_loose_markers({k: trial.markers[fit.labels[k]] for k in keys})
        shown, jump_problems = hide_jumps(
            {key: trial.markers[fit.labels[key]] for key in keys}, trial.rate_hz
        )
        filled, masks = {}, {}
        for key in keys:
            filled[key], masks[key] = fill_short_gaps(shown[key], rate_hz=trial.rate_hz)
        stack = np.stack([filled[key] for key in keys], axis=1)
        slow = low_pass(stack, cutoff_hz=ANGLE_CUTOFF_HZ, rate_hz=trial.rate_hz)
        axes = find_axes(
            {key: slow[:, place] for place, key in enumerate(keys)}, rate_hz=trial.rate_hz
        )
        quick = [place for place, key in enumerate(keys) if _is_fast(key)]
        fast = low_pass(stack[:, quick], cutoff_hz=RATE_CUTOFF_HZ, rate_hz=trial.rate_hz)
        usable = [key for key in keys if key not in loose]
        parts = point_parts(usable) | point_parts(_well_seen(usable, filled))
        fast_keys = [keys[place] for place in quick]
        return cls(
            fit=fit,
            axes=axes,
            parts=parts,
            slow=_with_points(_turn(slow, keys, axes, trial.rate_hz), parts),
            fast=_with_points(_turn(fast, fast_keys, axes, trial.rate_hz), parts),
            filled=masks | {point: _any_of(masks, names) for point, names in parts.items()},
            problems=(*problems, *loose_problems, *jump_problems, *_unseen_problems(unseen, fit)),
        )


def _well_seen(keys: list[str], points: Mapping[str, FloatArray]) -> list[str]:
    """Return the landmarks seen nearly as often as most; points are rather made of these."""
    counts = {key: int((~np.isnan(points[key][:, 0])).sum()) for key in keys}
    usual = float(np.median(list(counts.values())))
    return [key for key in keys if counts[key] >= _SEEN_SHARE * usual]


def _is_fast(key: str) -> bool:
    name = key.removeprefix("left_").removeprefix("right_")
    return name.startswith(_FAST_POINTS)


def _any_of(masks: Mapping[str, BoolArray], names: tuple[str, ...]) -> BoolArray:
    either: BoolArray = np.logical_or.reduce([masks[name] for name in names])
    return either


def _with_points(landmarks: dict[str, FloatArray], parts: Parts) -> dict[str, FloatArray]:
    possible = {
        point: names for point, names in parts.items() if all(name in landmarks for name in names)
    }
    return landmarks | body_points(landmarks, possible)


def _turn(
    stack: FloatArray, keys: list[str], axes: LabAxes, rate_hz: float
) -> dict[str, FloatArray]:
    """Turn file axes into forward, left, up, and add the belt's travel to forward."""
    up = axis_vector(axes.up_axis)
    left = np.cross(up, axes.forward)
    frame = np.stack([axes.forward, left, np.broadcast_to(up, left.shape)], axis=1)
    turned = stack @ frame.swapaxes(1, 2)
    if axes.is_treadmill:
        seconds = np.arange(len(stack)) / rate_hz
        turned[:, :, 0] += axes.belt_speed_m_s * seconds[:, None]
    return {key: np.ascontiguousarray(turned[:, place]) for place, key in enumerate(keys)}


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
        f"No label names a side; the leg is taken as the {side} one.",
        trial.provenance.file_name,
        evidence or "Nothing in the file shows which it is: name the landmarks in a map file.",
    )
    return find_landmarks(labels, lab_map, lone_side=side), (problem,)


def _no_landmarks(trial: Trial) -> LayoutError:
    shown = ", ".join(list(trial.markers)[:_LONG_LABEL_LIST])
    return LayoutError(
        "No label spells a side and a landmark.",
        where=trial.provenance.file_name,
        action=f"Name them in a map file, for example [landmarks] left_heel = …; labels: {shown}.",
    )


def _lone_side(trial: Trial, lab_map: LabMap) -> tuple[Side, str]:
    """Tell which leg was recorded from where its outer markers lie."""
    fit = find_landmarks(trial.markers, lab_map, lone_side="right")
    points = {key: trial.markers[label] for key, label in fit.labels.items()}
    try:
        axes = find_axes(points, rate_hz=trial.rate_hz)
    except MissingSignalError:
        return "right", ""
    turned = _turn(np.stack(list(points.values()), axis=1), list(points), axes, trial.rate_hz)
    for outer, inner in _LATERAL_PAIRS:
        pair = [turned.get(f"right_{name}") for name in (outer, inner)]
        if pair[0] is not None and pair[1] is not None:
            outward = float(np.nanmean(pair[0][:, LEFT] - pair[1][:, LEFT]))
            if abs(outward) > 0.01:
                side: Side = "left" if outward > 0 else "right"
                return side, f"Its outer {outer.replace('_', ' ')} marker lies to the {side}."
    return "right", ""


def _unseen_problems(unseen: list[str], fit: LandmarkFit) -> list[Problem]:
    return [
        Problem(
            "warning", "Labelled, but missing in every frame.", fit.labels[key], f"No {key} then."
        )
        for key in unseen
    ]


def _standing_neutrals(standing: Trial, lab_map: LabMap) -> dict[Side, FootNeutral]:
    walk = _WalkerPoints.of(standing, lab_map)
    neutrals = standing_neutral(walk.slow, rate_hz=standing.rate_hz)
    if not neutrals:
        raise MissingSignalError(
            "The standing trial shows no foot (heel and forefoot) that stands still.",
            where=standing.provenance.file_name,
            action="Give another one, or leave it out.",
        )
    return neutrals


def _signals(
    angles: Mapping[tuple[Side, Joint], FloatArray], keep: tuple[Joint, ...] | None = None
) -> dict[tuple[Side, Joint], Signal]:
    return {
        (side, joint): Signal(values, "deg", JOINT_MEANING[joint])
        for (side, joint), values in angles.items()
        if keep is None or joint in keep
    }


def _names(walk: _WalkerPoints, point: str) -> dict[Side, str]:
    return {
        side: " and ".join(walk.fit.labels[name] for name in walk.parts[f"{side}_{point}"])
        for side in SIDES
        if f"{side}_{point}" in walk.parts
    }


def _smoothing_words(rate_hz: float) -> str:
    words = []
    for what, cutoff_hz in (("positions and angles", ANGLE_CUTOFF_HZ), ("rates", RATE_CUTOFF_HZ)):
        done = f"{cutoff_hz:g} Hz" if can_filter(cutoff_hz, rate_hz) else "not filtered"
        words.append(f"{what} {done}")
    return f"zero-lag 4th-order Butterworth: {', '.join(words)}"


def _problems_of(
    trial: Trial,
    walk: _WalkerPoints,
    neutral: Mapping[Side, FootNeutral],
    turned: tuple[Side, ...],
) -> list[Problem]:
    read = (*trial.problems, *walk.fit.problems, *walk.problems)
    crossed = find_crossed_sides(walk.slow)
    return [*read, *_neutral_problems(neutral), *crossed, *map(turned_problem, turned)]


def _neutral_problems(neutral: Mapping[Side, FootNeutral]) -> list[Problem]:
    return [
        Problem("warning", "No neutral: ankle and foot pitch not defined.", side, foot.reason)
        for side, foot in neutral.items()
        if foot.source == "none"
    ]
