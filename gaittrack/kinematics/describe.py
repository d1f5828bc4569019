"""The order of work from a trial to a motion.

In comes a trial (and a standing trial, if there is one), out comes the motion: landmarks found,
short gaps filled, smoothed, turned into the walker's axes, joint centres, neutral, angles.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

from gaittrack.errors import DataError, Problem
from gaittrack.kinematics.file_angles import ChosenAngles, choose_angles
from gaittrack.kinematics.floor import floor_problems
from gaittrack.kinematics.foot_flat import find_neutral
from gaittrack.kinematics.loose_markers import (
    find_crossed_sides,
    find_turned_feet,
    turned_problem,
)
from gaittrack.kinematics.motion import FootNeutral, Motion
from gaittrack.kinematics.sagittal_angles import angles_from_points, leg_angles
from gaittrack.kinematics.shared import Shared
from gaittrack.kinematics.smoothing import (
    ANGLE_CUTOFF_HZ,
    FALL_CUTOFF_HZ,
    RATE_CUTOFF_HZ,
    can_filter,
)
from gaittrack.kinematics.standing import choose_zero, other_zero_problems, zero_of_standing
from gaittrack.kinematics.walker_points import WalkerPoints, walker_points
from gaittrack.lab_map import LabMap
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray, Signal, Trial
from gaittrack.vocabulary import JOINT_MEANING, SIDES, Joint, Side

_FAST_JOINTS: tuple[Joint, ...] = ("ankle", "knee", "foot_pitch", "shank_lean")
_FALLING_JOINTS: tuple[Joint, ...] = ("ankle", "foot_pitch")
_NO_ZERO: Final = Reason("no_zero_of_foot")
FEWEST_FRAMES = 10
"""Frames below which nothing can be smoothed; own choice."""


def describe_motion(
    trial: Trial,
    *,
    lab_map: LabMap | None = None,
    standing: Trial | None = None,
    standing_map: LabMap | None = None,
    shared: Shared | None = None,
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
    shared : Shared, optional
        Use no more than this of the trial.

    Raises
    ------
    LayoutError
        No label spells a landmark.
    MissingSignalError
        Up or forward cannot be told; or the standing trial shows no foot.
    DataError
        The trial has too few frames to smooth.
    """
    lab_map = lab_map or LabMap()
    if not trial.markers:
        return _without_markers(trial)
    _refuse_short(trial)
    walk = walker_points(trial, lab_map, only=None if shared is None else shared.landmarks)
    standing = None if shared is not None and not shared.uses_standing else standing
    feet = _feet(walk, standing, standing_map or lab_map, rate_hz=trial.rate_hz)
    slow_angles = _signals(angles_from_points(walk.slow, feet.zero_deg()))
    own_angles = {} if shared is not None and not shared.uses_file_angles else trial.angles
    straight = walk.axes.pass_number > 0
    chosen = choose_angles(own_angles, slow_angles, straight=straight)
    return _motion(trial, walk, feet, slow_angles, chosen)


class _Feet(NamedTuple):
    """Zeros of the feet, where they lie flat, and which have heel and forefoot exchanged."""

    neutral: Mapping[Side, FootNeutral]
    flat: Mapping[Side, BoolArray]
    turned: tuple[Side, ...]
    told: tuple[Problem, ...]

    def zero_deg(self) -> dict[Side, float]:
        """Return the pitch of each foot that counts as 0."""
        return {side: foot.foot_pitch_deg for side, foot in self.neutral.items()}


def _feet(
    walk: WalkerPoints, standing: Trial | None, standing_map: LabMap, *, rate_hz: float
) -> _Feet:
    turned = find_turned_feet(walk.slow)
    usable = {key: xyz for key, xyz in walk.slow.items() if not key.startswith(turned)}
    neutral, flat = find_neutral(usable, rate_hz=rate_hz, standing={})
    zeros, told = _zeros_of_standing(standing, standing_map, walk, neutral)
    if zeros:
        neutral, flat = find_neutral(usable, rate_hz=rate_hz, standing=zeros)
    return _Feet(neutral, flat, turned, told)


def _motion(
    trial: Trial,
    walk: WalkerPoints,
    feet: _Feet,
    slow_angles: Mapping[tuple[Side, Joint], Signal],
    chosen: ChosenAngles,
) -> Motion:
    fast_angles = leg_angles(walk.fast, feet.zero_deg())
    falling_angles = leg_angles(walk.falling, feet.zero_deg())
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
        fast_marker_angles=_signals(fast_angles, keep=_FAST_JOINTS),
        falling_angles=_signals(falling_angles, keep=_FALLING_JOINTS),
        neutral=feet.neutral,
        foot_flat=feet.flat,
        toe_point_name=_names(walk, "toe_point"),
        foot_pitch_name=_names(walk, "forefoot"),
        smoothing=_smoothing_words(trial.rate_hz),
        problems=(
            *_problems_of(trial, walk, feet.neutral, feet.turned),
            *feet.told,
            *chosen.problems,
        ),
        turned_feet=feet.turned,
        markers=walk.markers,
        slight_rise=walk.floor.slight_rise(),
        is_floor_seen=walk.floor.is_seen,
        parts=walk.parts,
        left_out=walk.left_out,
        landmarks=walk.well_seen,
    )


def _zeros_of_standing(
    standing: Trial | None,
    standing_map: LabMap,
    walk: WalkerPoints,
    walked: Mapping[Side, FootNeutral],
) -> tuple[Mapping[Side, FootNeutral], tuple[Problem, ...]]:
    """Return the zeros of the standing trial and what is to be told of them and of the floor."""
    stood = zero_of_standing(standing, standing_map, walk)
    zeros, is_tilted_volume = choose_zero(stood, walked)
    floor = floor_problems(walk.floor, is_tilted_volume=is_tilted_volume)
    return zeros, (*floor, *stood.problems, *other_zero_problems(walked, standing=zeros))


def _refuse_short(trial: Trial) -> None:
    if trial.n_frames < FEWEST_FRAMES:
        raise DataError.of(
            "too_few_frames", where=trial.provenance.file_name, n_frames=trial.n_frames
        )


def _without_markers(trial: Trial) -> Motion:
    chosen = choose_angles(trial.angles, {})
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
        falling_angles={},
        neutral={},
        foot_flat={},
        toe_point_name={},
        foot_pitch_name={},
        smoothing="as in the file, smoothing unknown",
        problems=(*trial.problems, *chosen.problems),
    )


def _signals(
    angles: Mapping[tuple[Side, Joint], FloatArray], keep: tuple[Joint, ...] | None = None
) -> dict[tuple[Side, Joint], Signal]:
    return {
        (side, joint): Signal(values, "deg", JOINT_MEANING[joint])
        for (side, joint), values in angles.items()
        if keep is None or joint in keep
    }


def _names(walk: WalkerPoints, point: str) -> dict[Side, str]:
    return {
        side: " and ".join(walk.fit.labels[name] for name in walk.parts[f"{side}_{point}"])
        for side in SIDES
        if f"{side}_{point}" in walk.parts
    }


def _smoothing_words(rate_hz: float) -> str:
    words = []
    for what, cutoff_hz in (
        ("positions and angles", ANGLE_CUTOFF_HZ),
        ("rates", RATE_CUTOFF_HZ),
        ("the falling foot", FALL_CUTOFF_HZ),
    ):
        done = f"{cutoff_hz:g} Hz" if can_filter(cutoff_hz, rate_hz) else "not filtered"
        words.append(f"{what} {done}")
    return f"zero-lag 4th-order Butterworth: {', '.join(words)}"


def _problems_of(
    trial: Trial,
    walk: WalkerPoints,
    neutral: Mapping[Side, FootNeutral],
    turned: tuple[Side, ...],
) -> list[Problem]:
    read = (*trial.problems, *walk.fit.problems, *walk.problems)
    crossed = find_crossed_sides(walk.slow)
    return [*read, *_neutral_problems(neutral), *crossed, *map(turned_problem, turned)]


def _neutral_problems(neutral: Mapping[Side, FootNeutral]) -> list[Problem]:
    return [
        Problem("warning", Reason("no_neutral", why=foot.reason or _NO_ZERO), side)
        for side, foot in neutral.items()
        if foot.source == "none"
    ]
