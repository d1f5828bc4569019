"""The series of one recording that its cycles read, each prepared once.

In comes a motion, out come whole series by side and name, with the mask of filled samples and the
labels that stand beside values taken from them, or the reason why there is no such series.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from typing import Final, NamedTuple

import numpy as np

from gaittrack.events.foot_stretch import sees_body
from gaittrack.ingredients import (
    HEIGHTS,
    LENGTHS,
    SIDEWAYS,
    TIMES,
    UPRIGHT,
    UPRIGHT_SIDEWAYS,
    angle_of,
    events_of,
    file_angle_of,
    leg_of,
    marker_angle_of,
    rate_of,
    side_of_point,
    zero_of,
)
from gaittrack.kinematics.body_points import possible_parts
from gaittrack.kinematics.loose_markers import TURNED_FOOT
from gaittrack.kinematics.marker_noise import LEAST_NOISE_M, noise_of_leg
from gaittrack.kinematics.motion import Motion
from gaittrack.kinematics.smoothing import (
    FALL_CUTOFF_HZ,
    FALL_TIMING_CUTOFF_HZ,
    RATE_CUTOFF_HZ,
    can_filter,
    low_pass,
)
from gaittrack.kinematics.trembling import rate_noise_deg_s, why_noise
from gaittrack.reasons import Reason
from gaittrack.trial import AngleCurve, BoolArray, FloatArray
from gaittrack.vocabulary import Joint, Side

LOWEST_RATE_HZ = 100
"""Frame rate below which rates are a lower bound; own simulation: of a
slap of 15 deg in 50 ms 60 Hz keep 88 %, 100 Hz 95 %."""
NOT_TRUSTED: Final = "not_trusted"
"""Code of the reason why a value that could be told is not: the recording is wrong there."""
FROM_FILE: Final = "from_file"
FROM_FILE_RATE: Final = "from_file_rate"
NOISY_MARKERS: Final = "noisy_markers"
LOWER_BOUND: Final = "lower_bound"
LOWER_BOUND_OF_CURVE: Final = "lower_bound_of_curve"
SMOOTHED_BEFORE: Final = "smoothed_before"
"""Codes of labels: angles of the file itself, rates of them, a rate from markers that
tremble, a rate from too few samples, or from markers low-passed before they came here."""
OF_FILE: Final = Reason(FROM_FILE)
RATE_OF_FILE: Final = Reason(FROM_FILE_RATE)
_SMOOTHED: Final = (Reason(SMOOTHED_BEFORE),)
_TURNED: Final = Reason(TURNED_FOOT)
_NO_ZERO: Final = Reason("no_zero_of_foot")
_NOT_LOW_PASSED: Final = Reason("not_low_passed")

_POINTS_OF: Final[dict[Joint, tuple[str, ...]]] = {
    "ankle": ("knee_centre", "ankle_centre", "heel", "forefoot"),
    "knee": ("hip_centre", "knee_centre", "ankle_centre"),
    "hip_pelvis_thigh": ("pelvis", "hip_centre", "knee_centre"),
    "hip_thigh_vertical": ("hip_centre", "knee_centre"),
    "foot_pitch": ("heel", "forefoot"),
    "shank_lean": ("knee_centre", "ankle_centre"),
    "pelvic_tilt": ("pelvis",),
    "pelvic_obliquity": ("pelvis",),
}
"""Points an angle from markers is made of: their filled samples are its filled samples."""
_OF_AXIS: Final = (LENGTHS, SIDEWAYS, HEIGHTS)
_FOOT_POINTS: Final = ("heel", "forefoot", "toe_point")
_NEEDS_FOOT_ZERO: Final[tuple[Joint, ...]] = ("ankle", "foot_pitch")


Origin = tuple[str, tuple[str, ...]]
"""A point and the landmarks it is made of; an angle and ``file``; a foot's zero and its source."""
_Named = frozenset[str]
Read = tuple[frozenset[str], frozenset[Origin]]
"""Names of all that something rests on, and what it was made of that could be otherwise."""
_NO_NAMES: Final[_Named] = frozenset()
_NOT_SEEN: Final = "not seen"
_OF_VERTICAL: Final = ("ankle", "shank_lean", "hip_thigh_vertical", "pelvic_tilt")
"""Angles that move with what is taken for up."""


class Stored(NamedTuple):
    """A series of the whole recording: joint or point, or why there is none.

    Attributes
    ----------
    made_of : frozenset of str
        Names of all that it rests on; see ``ingredients``.
    origins : frozenset of Origin
        What it was made of that could have been made otherwise.
    """

    values: FloatArray
    filled: BoolArray | None
    what: str
    labels: tuple[Reason, ...] = ()
    missing: Reason | None = None
    made_of: _Named = _NO_NAMES
    origins: frozenset[Origin] = frozenset()


class PreparedMotion:
    """A motion with the series that its cycles read, each prepared once."""

    def __init__(self, motion: Motion) -> None:
        self.motion = motion
        self._kept: dict[Hashable, Stored] = {}
        self._joined: dict[frozenset[Read], Read] = {}
        self._zeros: dict[Side, Read] = {}
        self._names: dict[tuple[str, ...], _Named] = {}
        self._noises: dict[str, float] | None = None
        self._timing: dict[tuple[Side, Joint], FloatArray] = {}
        self._filled_in = {key: mask for key, mask in motion.filled.items() if mask.any()}
        self._curves: dict[tuple[Side, str], list[AngleCurve]] = {}
        for curve in motion.trial.curves:
            self._curves.setdefault((curve.side, curve.cycle), []).append(curve)

    def angle(self, side: Side, joint: Joint) -> Stored:
        """Return the angle that the angle measures use: the file's own, else from markers."""
        key = ("angle", side, joint)
        return self._kept.get(key) or self._keep(key, self._find_angle(side, joint))

    def angle_origins(self, side: Side, joint: Joint) -> frozenset[Origin]:
        """Return what :meth:`angle` is made of, without preparing it."""
        signal = self.motion.angles.get((side, joint))
        if signal is None or np.isnan(signal.values).all():
            return frozenset()
        if self.motion.angle_origin.get((side, joint)) == "file":
            return _of_file(side, joint)
        return self._marker_origins(side, joint)

    def fast_angle(self, side: Side, joint: Joint) -> Stored:
        """Return the angle that rates are taken from: markers at 15 Hz, else the file's own."""
        key = ("fast", side, joint)
        return self._kept.get(key) or self._keep(key, self._find_fast_angle(side, joint))

    def fast_rate(self, side: Side, joint: Joint) -> Stored:
        """Return the rate of change of :meth:`fast_angle` in deg/s, by five-point differences."""
        key = ("rate", side, joint)
        return self._kept.get(key) or self._keep(key, self._find_fast_rate(side, joint))

    def fall_rate(self, side: Side, joint: Joint) -> Stored:
        """Return how fast the angle of a falling foot changes, deg/s.

        From markers at 20 Hz, else as :meth:`fast_rate`.
        """
        key = ("fall", side, joint)
        falling = self.motion.falling_angles.get((side, joint))
        values = None if falling is None else falling.values
        return self._kept.get(key) or self._keep(key, self._find_fall_rate(side, joint, values))

    def fall_timing(self, side: Side, joint: Joint) -> Stored:
        """Return :meth:`fall_rate` of markers at 8 Hz, to time its peak by."""
        key = ("fall timing", side, joint)
        values = self._steadier_angles().get((side, joint))
        return self._kept.get(key) or self._keep(key, self._find_fall_rate(side, joint, values))

    def why_noise(self, names: frozenset[str], rate_deg_s: float) -> Reason | None:
        """Return that a rate is not told apart from what noise makes of the rates it rests on."""
        if self._noises is None:
            motion = self.motion
            found = rate_noise_deg_s(
                motion.points, motion.parts, motion.markers.noise_m, motion.rate_hz
            )
            self._noises = {rate_of(*key): noise for key, noise in found.items()}
        read = [noise for name, noise in self._noises.items() if name in names]
        return why_noise(max(read, default=math.nan), rate_deg_s)

    def point(self, side: Side, name: str, axis: int) -> Stored:
        """Return one coordinate of a point, in metres."""
        key = ("point", side, name, axis)
        return self._kept.get(key) or self._keep(key, self._find_point(side, name, axis))

    def curves_of(self, side: Side, label: str) -> Sequence[AngleCurve]:
        """Return the curves of a sheet that a cycle is made of."""
        return self._curves.get((side, label), ())

    def joined(self, reads: frozenset[Read]) -> Read:
        """Return all names and all origins of several reads; equal ones are made once."""
        found = self._joined.get(reads)
        if found is None:
            names, origins = zip(*reads, strict=True)
            found = self._joined[reads] = frozenset().union(*names), frozenset().union(*origins)
        return found

    def names_of(self, *points: str) -> _Named:
        """Return the names of points, of the landmarks they are made of, and of their sides."""
        if points not in self._names:
            names = set(points).union(*(self.motion.parts.get(key, ()) for key in points))
            sides = {side for key in names if (side := side_of_point(key)) is not None}
            self._names[points] = frozenset(names.union(map(leg_of, sides)))
        return self._names[points]

    def origins_of(self, *points: str) -> frozenset[Origin]:
        """Return what points are made of, where they could have been made otherwise."""
        parts = self.motion.parts
        return frozenset((key, parts[key]) for key in points if key in parts)

    def zero(self, side: Side) -> Read:
        """Return what the zero of a foot rests on, and where it is from."""
        if side not in self._zeros:
            neutral = self.motion.neutral.get(side)
            source = neutral.source if neutral is not None else "none"
            names = self.names_of(f"{side}_heel", f"{side}_forefoot") | {zero_of(side)}
            self._zeros[side] = names, frozenset({(zero_of(side), (source,))})
        return self._zeros[side]

    def events(self, side: Side, *, from_markers: bool) -> _Named:
        """Return what contacts and toe-offs of a foot rest on."""
        points = (f"{side}_heel", f"{side}_forefoot") if from_markers else ()
        return self.names_of(*points) | {events_of(side), leg_of(side), TIMES}

    def event_origins(self, side: Side) -> frozenset[Origin]:
        """Return which end of the foot, and which part of the body, tell contacts from markers."""
        rear = "heel" if f"{side}_heel" in self.motion.fast_points else "ankle"
        body = "pelvis" if sees_body(self.motion) else f"{side}_knee"
        return frozenset({(events_of(side), (f"{side}_{rear}", body))})

    def toe_off_origins(self, side: Side) -> frozenset[Origin]:
        """Return which landmarks tell from markers when a foot leaves the floor."""
        parts = self.motion.parts.get(f"{side}_toe_point")
        return frozenset() if parts is None else frozenset({(f"{side} toe-offs", parts)})

    def toe_is_forefoot(self, side: Side) -> bool:
        """Whether the toe point is the very point the foot pitch is taken to."""
        points = self.motion.points
        toe, forefoot = points.get(f"{side}_toe_point"), points.get(f"{side}_forefoot")
        if toe is None or forefoot is None:
            return False
        return np.array_equal(toe, forefoot, equal_nan=True)

    def _keep(self, key: Hashable, found: Stored) -> Stored:
        self._kept[key] = found
        return found

    def _find_point(self, side: Side, name: str, axis: int) -> Stored:
        full = f"{side}_{name}"
        if side in self.motion.turned_feet and name in _FOOT_POINTS:
            return _missing(Reason(NOT_TRUSTED, why=_TURNED), full)
        if full not in self.motion.points:
            why = self._why_left_out((full,)) or Reason("no_point", point=name)
            return _missing(why, full)
        values = np.ascontiguousarray(self.motion.points[full][:, axis])
        read = self.names_of(full) | {LENGTHS, _OF_AXIS[axis]}, self.origins_of(full)
        return Stored(values, self._filled((full,)), name, (), None, *read)

    def _find_angle(self, side: Side, joint: Joint) -> Stored:
        signal = self.motion.angles.get((side, joint))
        if signal is None or np.isnan(signal.values).all():
            return _missing(self._why_missing(side, joint))
        if self.motion.angle_origin.get((side, joint)) == "file":
            own = frozenset({angle_of(side, joint), file_angle_of(side, joint), leg_of(side)})
            told = _of_file(side, joint)
            return Stored(signal.values, None, joint, (OF_FILE,), made_of=own, origins=told)
        return self._from_markers(signal.values, side, joint)

    def _find_fast_angle(self, side: Side, joint: Joint) -> Stored:
        signal = self.motion.fast_marker_angles.get((side, joint))
        below = self._too_low(side)
        if signal is not None and not np.isnan(signal.values).all():
            labels = (_cut_off(RATE_CUTOFF_HZ, self.motion.rate_hz), *below)
            return self._from_markers(signal.values, side, joint)._replace(labels=labels)
        own = self.angle(side, joint)
        if own.missing is not None:
            return own
        if OF_FILE in own.labels:
            return own._replace(labels=(RATE_OF_FILE, *_below_lowest_rate(self.motion.rate_hz)))
        return _missing(Reason("no_angle_for_rates", angle=joint))

    def _find_fast_rate(self, side: Side, joint: Joint) -> Stored:
        angle = self.fast_angle(side, joint)
        if angle.missing is not None:
            return angle
        rate = gradient(angle.values) * self.motion.rate_hz
        names = angle.made_of - {UPRIGHT} | {TIMES, rate_of(side, joint)}
        return angle._replace(values=rate, made_of=names)

    def _find_fall_rate(self, side: Side, joint: Joint, angle: FloatArray | None) -> Stored:
        fast, rate_hz = self.fast_rate(side, joint), self.motion.rate_hz
        if angle is None or fast.missing is not None:
            return fast
        noise_m = noise_of_leg(self.motion.markers.noise_m, side)
        applied = _cut_off(FALL_CUTOFF_HZ, rate_hz)
        labels = (applied, *self._too_low(side), *_trembling(noise_m))
        return fast._replace(values=gradient(angle) * rate_hz, labels=labels)

    def _too_low(self, side: Side) -> tuple[Reason, ...]:
        """Return why rates are too low where the foot falls fast."""
        below = _below_lowest_rate(self.motion.rate_hz)
        smoothed = self.motion.markers.smoothed_before
        is_smoothed = any(key.startswith(side) for key in smoothed)
        return (*below, *(_SMOOTHED if is_smoothed else ()))

    def _steadier_angles(self) -> dict[tuple[Side, Joint], FloatArray]:
        """Return all angles of falling feet as their fall is timed by, filtered together."""
        falling = self.motion.falling_angles
        if falling and not self._timing:
            stack = np.stack([signal.values for signal in falling.values()], axis=1)
            steadier = low_pass(stack, cutoff_hz=FALL_TIMING_CUTOFF_HZ, rate_hz=self.motion.rate_hz)
            self._timing = dict(zip(falling, steadier.T, strict=True))
        return self._timing

    def _from_markers(self, values: FloatArray, side: Side, joint: Joint) -> Stored:
        points = self._points_of(side, joint)
        made_of = self.names_of(*points) | {
            angle_of(side, joint),
            marker_angle_of(side, joint),
            leg_of(side),
        }
        origins = self._marker_origins(side, joint)
        if joint in _NEEDS_FOOT_ZERO:
            made_of |= self.zero(side)[0]
        if joint in _OF_VERTICAL:
            made_of |= {UPRIGHT}
        if joint == "pelvic_obliquity":
            made_of |= {SIDEWAYS, UPRIGHT_SIDEWAYS}
        return Stored(values, self._filled(points), joint, made_of=made_of, origins=origins)

    def _marker_origins(self, side: Side, joint: Joint) -> frozenset[Origin]:
        origins = self.origins_of(*self._points_of(side, joint))
        return origins | self.zero(side)[1] if joint in _NEEDS_FOOT_ZERO else origins

    def _why_missing(self, side: Side, joint: Joint) -> Reason:
        neutral = self.motion.neutral.get(side)
        if joint in _NEEDS_FOOT_ZERO and side in self.motion.turned_feet:
            return Reason(NOT_TRUSTED, why=_TURNED)
        if joint in _NEEDS_FOOT_ZERO and neutral is not None and neutral.source == "none":
            return Reason("no_angle_because", angle=joint, why=neutral.reason or _NO_ZERO)
        return self._why_left_out(self._points_of(side, joint)) or Reason("no_angle", angle=joint)

    def _why_left_out(self, points: tuple[str, ...]) -> Reason | None:
        """Return why a point is not made whose landmark was seen in a place it cannot have."""
        for point in points:
            if point in self.motion.points:
                continue
            for landmark in sorted(possible_parts(point) & self.motion.left_out.keys()):
                return Reason(NOT_TRUSTED, why=self.motion.left_out[landmark])
        return None

    def _points_of(self, side: Side, joint: Joint) -> tuple[str, ...]:
        names = _POINTS_OF[joint]
        return tuple(name if name == "pelvis" else f"{side}_{name}" for name in names)

    def _filled(self, names: tuple[str, ...]) -> BoolArray | None:
        masks = [self._filled_in[name] for name in names if name in self._filled_in]
        return np.logical_or.reduce(masks) if masks else None


def _of_file(side: Side, joint: Joint) -> frozenset[Origin]:
    return frozenset({(angle_of(side, joint), ("file",))})


def gradient(values: FloatArray) -> FloatArray:
    """Return the change per sample: five-point central differences.

    Three-point ones beside the ends and gaps, one-sided ones at both ends. At 100 Hz three points
    keep 94 % of the rate of what swings at 10 Hz, five points more than 99 %.
    """
    change = np.full(len(values), np.nan)
    if len(values) > 1:
        change[1:-1] = (values[2:] - values[:-2]) / 2
        change[0], change[-1] = values[1] - values[0], values[-1] - values[-2]
    if len(values) > 4:
        wide = 8 * (values[3:-1] - values[1:-3])
        wide -= values[4:] - values[:-4]
        wide /= 12
        np.copyto(change[2:-2], wide, where=~np.isnan(wide))
    return change


def _missing(reason: Reason, *unseen: str) -> Stored:
    origins = frozenset((point, (_NOT_SEEN,)) for point in unseen)
    return Stored(np.empty(0), None, "", missing=reason, origins=origins)


def _cut_off(cutoff_hz: float, rate_hz: float) -> Reason:
    is_applied = can_filter(cutoff_hz, rate_hz)
    return Reason("low_passed", cutoff_hz=cutoff_hz) if is_applied else _NOT_LOW_PASSED


def _trembling(noise_m: float) -> tuple[Reason, ...]:
    is_told = noise_m > LEAST_NOISE_M
    return (Reason(NOISY_MARKERS, noise_mm=round(1000 * noise_m, 1)),) if is_told else ()


def _below_lowest_rate(rate_hz: float) -> tuple[Reason, ...]:
    return (Reason(LOWER_BOUND, rate_hz=rate_hz),) if round(rate_hz) < LOWEST_RATE_HZ else ()
