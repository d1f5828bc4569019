"""Take over the joint angles that a C3D file holds among its points.

In come the points that are joint angles; out go the sagittal angles of ankle, knee, hip and pelvis
in the package's signs. The first component is taken as the sagittal one (common practice, no
source). Sign and zero are checked against how legs move; an angle whose sign cannot be made sure
is left out, with a problem.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from gaittrack.errors import Problem
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray, Signal
from gaittrack.vocabulary import JOINT_MEANING, SIDES, Joint, Side

Angles = Mapping[tuple[Side, Joint], FloatArray]

KNEE_SWING_DEG = 20.0
"""A knee that bends further than this, and twice as far as the other way, bends in flexion: no
knee hyperextends so far; our choice."""
MOVES_TOGETHER = 0.2
"""Smallest correlation that tells the sign of a hip; our choice."""
ANKLE_MOVES_TOGETHER = 0.4
"""Smallest correlation of ankle and knee velocities that tells a sign; our choice: healthy walks
range from -0.5 to +0.3."""
VELOCITY_OVER_S = 0.06
"""Velocities are differences over this time, so that noise does not drown them; our choice."""
FLAT_FOOT_BAND_DEG = 6.0
FLAT_FOOT_RATIO = 1.25
"""How much more often the foot must lie in one band of pitch with one sign of the ankle than with
the other; our choice. Recorded and made-up walks of both kinds show 1.3 to 2.4."""
RIGHT_ANGLE_BAND_DEG = (60.0, 120.0)
"""An ankle angle whose median lies here calls a right angle 90; our choice."""
LARGEST_RADIANS = 3.2
"""Angles that never exceed this while a knee walks are radians; our choice."""
PELVIC_TILT_DEG = (2.0, 35.0)
"""Mean forward tilt of a walking pelvis that can be believed; our choice."""
LIMITS_DEG: Mapping[Joint, tuple[float, float]] = {
    "ankle": (-75.0, 50.0),
    "knee": (-30.0, 130.0),
    "hip_pelvis_thigh": (-50.0, 110.0),
    "pelvic_tilt": (-30.0, 50.0),
}
"""2nd to 98th percentile of an angle that can be believed; our choice."""


def settle_file_angles(
    angles: Angles, rate_hz: float, angle_unit: str
) -> tuple[dict[tuple[Side, Joint], Signal], tuple[Problem, ...]]:
    """Return the angles whose sign and zero are sure.

    Parameters
    ----------
    angles : mapping of (side, joint) to ndarray, shape (n_frames,)
        First component as stored, NaN where missing.
    angle_unit : str
        POINT:ANGLE_UNITS, or "".

    Returns
    -------
    tuple of (signals, problems)
        Degrees; one problem tells what was taken, one for each joint left out or changed.
    """
    seen = {key: values for key, values in angles.items() if np.isfinite(values).sum() > 1}
    if not seen:
        return {}, ()
    problems: list[Problem] = []
    degrees = _degrees(seen, angle_unit, problems)
    legs: dict[Joint, dict[Side, FloatArray]] = {}
    signals: dict[tuple[Side, Joint], Signal] = {}
    for joint in dict.fromkeys(joint for _, joint in degrees):
        sides = {side: degrees[side, joint] for side in SIDES if (side, joint) in degrees}
        settled, sign = _settled(joint, sides, legs, rate_hz, problems)
        if sign == 0:
            problems.append(_left_out(joint))
            continue
        legs[joint] = settled
        for side, values in settled.items():
            signals[side, joint] = Signal(values, "deg", JOINT_MEANING[joint])
    if signals:
        names = tuple(Reason("angle_of_side", side=side, angle=joint) for side, joint in signals)
        problems.append(Problem("info", Reason("file_angles_taken", names=names), "POINT:LABELS"))
    return signals, tuple(problems)


def _degrees(
    angles: Angles, unit: str, problems: list[Problem]
) -> dict[tuple[Side, Joint], FloatArray]:
    order: tuple[Joint, ...] = ("knee", "hip_pelvis_thigh", "ankle", "pelvic_tilt")
    ordered = sorted(angles.items(), key=lambda item: order.index(item[0][1]))
    is_radian = unit.lower().startswith("rad")
    largest = max(float(np.nanmax(np.abs(values))) for _, values in ordered)
    widest = max(float(np.nanmax(values) - np.nanmin(values)) for _, values in ordered)
    if not is_radian and not unit and largest < LARGEST_RADIANS and widest > 0.3:
        is_radian = True
        problems.append(
            Problem(
                "warning",
                Reason("angles_in_radians", largest=round(largest, 2)),
                "POINT:ANGLE_UNITS",
            )
        )
    return {key: np.degrees(values) if is_radian else values for key, values in ordered}


def _settled(
    joint: Joint,
    sides: dict[Side, FloatArray],
    legs: Mapping[Joint, Mapping[Side, FloatArray]],
    rate_hz: float,
    problems: list[Problem],
) -> tuple[dict[Side, FloatArray], int]:
    """Return both sides of one joint with sign and zero made ours, and the sign found (0: none)."""
    if joint == "ankle":
        sides = {
            side: _without_right_angle(values, side, problems) for side, values in sides.items()
        }
    sign = _sign(joint, sides, legs, rate_hz)
    if sign < 0:
        problems.append(
            Problem("warning", Reason("angle_turned"), f"{' and '.join(sides)} {joint}")
        )
    sides = {side: sign * values for side, values in sides.items()}
    low, high = LIMITS_DEG.get(joint, (-180.0, 180.0))
    ends = [np.nanpercentile(values, (2, 98)) for values in sides.values()]
    if any(bottom < low or top > high for bottom, top in ends):
        return sides, 0
    return sides, sign


def _sign(
    joint: Joint,
    sides: Mapping[Side, FloatArray],
    legs: Mapping[Joint, Mapping[Side, FloatArray]],
    rate_hz: float,
) -> int:
    """Return +1, -1 or 0 for not sure; both sides of a file are taken to share one sign.

    ``legs`` holds the joints already settled: the knee first, then the hip.
    """
    if joint == "knee":
        return _common([_knee_sign(values) for values in sides.values()])
    if joint == "pelvic_tilt":
        low, high = PELVIC_TILT_DEG
        means = [float(np.nanmean(values)) for values in sides.values()]
        return int(all(low <= mean <= high for mean in means))
    knees, hips = legs.get("knee", {}), legs.get("hip_pelvis_thigh", {})
    if joint == "ankle":
        return _common(
            [
                _ankle_sign(values, knees[side], hips.get(side), rate_hz)
                for side, values in sides.items()
                if side in knees
            ]
        )
    return _common(
        [_hip_sign(values, knees[side], rate_hz) for side, values in sides.items() if side in knees]
    )


def _common(votes: list[int]) -> int:
    """Return the sign that all sure votes share, else 0."""
    sure = {vote for vote in votes if vote}
    return sure.pop() if len(sure) == 1 else 0


def _knee_sign(values: FloatArray) -> int:
    low, high = np.nanpercentile(values, (2, 98))
    if high >= KNEE_SWING_DEG and high > -2 * low:
        return 1
    return -1 if -low >= KNEE_SWING_DEG and -low > 2 * high else 0


def _hip_sign(hip: FloatArray, knee: FloatArray, rate_hz: float) -> int:
    """Tell by the knee, flexion positive: the hip flexes while the knee is most bent, in swing.

    Common practice, no source.
    """
    correlation = _correlation(np.gradient(hip) * rate_hz, knee)
    return int(math.copysign(1.0, correlation)) if abs(correlation) >= MOVES_TOGETHER else 0


def _ankle_sign(ankle: FloatArray, knee: FloatArray, hip: FloatArray | None, rate_hz: float) -> int:
    """Tell by the foot that lies flat in stance, and by the knee; 0 when they disagree.

    Knee minus hip is how far the shank leans; the ankle minus that is the foot's pitch, and only
    with the right sign does it stay the same while the shank moves over the foot. The ankle also
    plantarflexes while the knee bends quickest, but not in every walk. Common practice, no source.
    """
    votes = [0 if hip is None else _flat_foot_vote(ankle, knee - hip)]
    frames = max(round(VELOCITY_OVER_S * rate_hz), 1)
    correlation = -_correlation(ankle[frames:] - ankle[:-frames], knee[frames:] - knee[:-frames])
    if abs(correlation) >= ANKLE_MOVES_TOGETHER:
        votes.append(int(math.copysign(1.0, correlation)))
    return _common(votes)


def _flat_foot_vote(ankle: FloatArray, shank_lean: FloatArray) -> int:
    as_written = _share_in_one_band(ankle - shank_lean)
    turned = _share_in_one_band(-ankle - shank_lean)
    if as_written > FLAT_FOOT_RATIO * turned:
        return 1
    return -1 if turned > FLAT_FOOT_RATIO * as_written else 0


def _share_in_one_band(pitch_deg: FloatArray) -> float:
    """Return the largest share of samples that one band of pitch holds."""
    pitch = np.sort(pitch_deg[np.isfinite(pitch_deg)])
    if not pitch.size:
        return 0.0
    inside = np.searchsorted(pitch, pitch + FLAT_FOOT_BAND_DEG, side="right")
    return float(np.max(inside - np.arange(pitch.size))) / pitch.size


def _correlation(first: FloatArray, second: FloatArray) -> float:
    both = np.isfinite(first) & np.isfinite(second)
    if both.sum() < 10 or np.ptp(first[both]) == 0 or np.ptp(second[both]) == 0:
        return 0.0
    return float(np.corrcoef(first[both], second[both])[0, 1])


def _without_right_angle(values: FloatArray, side: Side, problems: list[Problem]) -> FloatArray:
    low, high = RIGHT_ANGLE_BAND_DEG
    middle = float(np.nanmedian(values))
    if not low < abs(middle) < high:
        return values
    zero = math.copysign(90.0, middle)
    problems.append(
        Problem("warning", Reason("right_angle_taken_off", zero_deg=zero), f"{side} ankle")
    )
    return values - zero


def _left_out(joint: Joint) -> Problem:
    return Problem("warning", Reason("angle_not_sure"), joint)
