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
from gaittrack.trial import FloatArray, Signal
from gaittrack.vocabulary import JOINT_MEANING, SIDES, Joint, Side

Angles = Mapping[tuple[Side, Joint], FloatArray]

KNEE_SWING_DEG = 20.0
"""A knee that bends further than this, and twice as far as the other way, bends in flexion: no
knee hyperextends so far; our choice."""
MOVES_TOGETHER = 0.2
"""Smallest correlation that tells a sign; our choice."""
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
    rate_hz : float
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
    knees = {side: degrees[side, "knee"] for side in SIDES if (side, "knee") in degrees}
    signals: dict[tuple[Side, Joint], Signal] = {}
    for joint in dict.fromkeys(joint for _, joint in degrees):
        sides = {side: degrees[side, joint] for side in SIDES if (side, joint) in degrees}
        settled, sign = _settled(joint, sides, knees, rate_hz, problems)
        if sign == 0:
            problems.append(_left_out(joint))
            continue
        if joint == "knee":
            knees = settled
        for side, values in settled.items():
            signals[side, joint] = Signal(values, "deg", JOINT_MEANING[joint])
    if signals:
        names = ", ".join(f"{side} {joint}" for side, joint in signals)
        problems.append(
            Problem(
                "info",
                f"Joint angles of the file are taken over: {names}.",
                "POINT:LABELS",
                "The first component counts as sagittal, by common practice.",
            )
        )
    return signals, tuple(problems)


def _degrees(
    angles: Angles, unit: str, problems: list[Problem]
) -> dict[tuple[Side, Joint], FloatArray]:
    ordered = sorted(angles.items(), key=lambda item: item[0][1] != "knee")
    is_radian = unit.lower().startswith("rad")
    largest = max(float(np.nanmax(np.abs(values))) for _, values in ordered)
    widest = max(float(np.nanmax(values) - np.nanmin(values)) for _, values in ordered)
    if not is_radian and not unit and largest < LARGEST_RADIANS and widest > 0.3:
        is_radian = True
        problems.append(
            Problem(
                "warning",
                f"No angle exceeds {largest:.2f}: too small for degrees in walking.",
                "POINT:ANGLE_UNITS",
                "They are read as radians.",
            )
        )
    return {key: np.degrees(values) if is_radian else values for key, values in ordered}


def _settled(
    joint: Joint,
    sides: dict[Side, FloatArray],
    knees: dict[Side, FloatArray],
    rate_hz: float,
    problems: list[Problem],
) -> tuple[dict[Side, FloatArray], int]:
    """Return both sides of one joint with sign and zero made ours, and the sign found (0: none)."""
    if joint == "ankle":
        sides = {
            side: _without_right_angle(values, side, problems) for side, values in sides.items()
        }
    sign = _sign(joint, sides, knees, rate_hz)
    if sign < 0:
        problems.append(
            Problem(
                "warning",
                "The angle moves as if the other direction were positive.",
                f"{' and '.join(sides)} {joint}",
                "Its sign was turned.",
            )
        )
    sides = {side: sign * values for side, values in sides.items()}
    low, high = LIMITS_DEG.get(joint, (-180.0, 180.0))
    ends = [np.nanpercentile(values, (2, 98)) for values in sides.values()]
    if any(bottom < low or top > high for bottom, top in ends):
        return sides, 0
    return sides, sign


def _sign(
    joint: Joint, sides: dict[Side, FloatArray], knees: dict[Side, FloatArray], rate_hz: float
) -> int:
    """Return +1, -1 or 0 for not sure; both sides of a file are taken to share one sign."""
    if joint == "knee":
        return _common([_knee_sign(values) for values in sides.values()])
    if joint == "pelvic_tilt":
        low, high = PELVIC_TILT_DEG
        means = [float(np.nanmean(values)) for values in sides.values()]
        return int(all(low <= mean <= high for mean in means))
    votes = [
        _moving_sign(joint, values, knees[side], rate_hz)
        for side, values in sides.items()
        if side in knees
    ]
    return _common(votes)


def _common(votes: list[int]) -> int:
    """Return the sign that all sure votes share, else 0."""
    sure = {vote for vote in votes if vote}
    return sure.pop() if len(sure) == 1 else 0


def _knee_sign(values: FloatArray) -> int:
    low, high = np.nanpercentile(values, (2, 98))
    if high >= KNEE_SWING_DEG and high > -2 * low:
        return 1
    return -1 if -low >= KNEE_SWING_DEG and -low > 2 * high else 0


def _moving_sign(joint: Joint, values: FloatArray, knee: FloatArray, rate_hz: float) -> int:
    """Compare with the knee of the same leg, flexion positive.

    The ankle plantarflexes while the knee bends quickest (loading, push-off), also in drop foot.
    The hip flexes while the knee is most bent, in swing. Common practice, no source.
    """
    velocity, knee_velocity = (np.gradient(angle) * rate_hz for angle in (values, knee))
    if joint == "ankle":
        correlation = -_correlation(velocity, knee_velocity)
    else:
        correlation = _correlation(velocity, knee)
    return int(math.copysign(1.0, correlation)) if abs(correlation) >= MOVES_TOGETHER else 0


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
        Problem(
            "warning",
            f"The ankle angle lies near {zero:g}: a right angle is called {zero:g}.",
            f"{side} ankle",
            f"{zero:g} deg were taken off.",
        )
    )
    return values - zero


def _left_out(joint: Joint) -> Problem:
    return Problem(
        "warning",
        "Sign or zero of this angle in the file cannot be made sure.",
        joint,
        "It is not used; angles from markers are, where there are markers.",
    )
