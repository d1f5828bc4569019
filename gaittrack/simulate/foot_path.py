"""How one foot moves: a rigid shoe under contact constraints.

In come the steps of one foot, out goes a :class:`FootPath` that gives pitch and place of the shoe
at any instant. Seen from the side the sole is a sharp heel edge, a flat part and, from the ball
forward, an arc on which it rolls. In stance the sole never slides: it turns about the heel edge
(heel rocker), lies flat, then rolls on the arc (forefoot rocker). In swing the centre of the arc
follows a planned curve, so that the height of the sole above the floor is known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.interpolate import CubicSpline

from gaittrack.simulate.schedule import Step
from gaittrack.trial import FloatArray

BALL_M = 0.19
"""Heel edge to the ball, where the arc begins, adult shoe; common practice, no source."""
ARC_M = 0.05
"""Radius of the arc in front of the ball; our choice, lets the shoe roll up to about 75°."""
BRAKING_S = 0.145
"""The foot is slowed downward 130–165 ms before contact: middle of what was measured."""
SKIM_S = 0.06
"""Before contact, where the heel skims the floor; our choice."""
LONGEST_STANCE_S = 10.0
"""A stance longer than this is standing, not walking."""
FROM_STANDING_S = 0.8
"""Length of stance that counts for the heel rise of a foot that has been standing; our choice."""
LAST_SPEED = 0.05
"""Forward speed just before contact over the mean swing speed; our choice."""
PROGRESS = ((0.0, 0.0), (0.26, 0.27), (0.52, 0.62), (0.74, 0.88), (1.0, 1.0))
"""Share of swing → share of the foot's way, from the leg angles of the handbook walk."""
HEEL_RISE_SHAPE = ((0.0, 0.0), (0.34, 0.085), (0.67, 0.39), (1.0, 1.0))
"""Share of heel-rise time → share of toe-off pitch, read off the handbook walk's foot pitch."""


_Slope = tuple[Literal[1], FloatArray]


@dataclass(frozen=True, slots=True)
class FootPose:
    """Where the shoe is at given instants; all arrays of shape (n,).

    Attributes
    ----------
    pitch_rad : ndarray
        Forefoot up positive, 0 flat.
    arc_x_m, arc_z_m : ndarray
        Centre of the arc, along the way and above the floor.
    swing : ndarray
        Share of swing that is over, 0–1; NaN in stance.
    """

    pitch_rad: FloatArray
    arc_x_m: FloatArray
    arc_z_m: FloatArray
    swing: FloatArray

    def point(self, ahead_m: float, height_m: float, *, scale: float) -> tuple[FloatArray, ...]:
        """Return (x, z) of a point given by its place ahead of the heel edge and its height."""
        from_arc_x = (ahead_m - BALL_M) * scale
        from_arc_z = (height_m - ARC_M) * scale
        sine, cosine = np.sin(self.pitch_rad), np.cos(self.pitch_rad)
        x = self.arc_x_m + cosine * from_arc_x - sine * from_arc_z
        z = self.arc_z_m + sine * from_arc_x + cosine * from_arc_z
        return x, z

    def sole_height(self, *, scale: float) -> FloatArray:
        """Return the height of the lowest point of the sole."""
        _, heel_z = self.point(0.0, 0.0, scale=scale)
        return np.minimum(heel_z, self.arc_z_m - ARC_M * scale)


class FootPath:
    """Pose of one foot over time, from its steps.

    Parameters
    ----------
    steps : tuple of Step
        Of one side, in time order.
    scale : float
        Size of the shoe against an adult's.
    """

    def __init__(self, steps: tuple[Step, ...], *, scale: float) -> None:
        self._steps = steps
        self._scale = scale
        self._swings = [
            _Swing(here, there, scale) for here, there in zip(steps[:-1], steps[1:], strict=True)
        ]

    def at(self, time_s: FloatArray) -> FootPose:
        """Return the pose at instants ``time_s``, shape (n,), inside the walk."""
        contacts = np.array([step.contact_s for step in self._steps])
        number = np.clip(np.searchsorted(contacts, time_s, side="right") - 1, 0, None)
        parts = [np.full(time_s.shape, np.nan) for _ in range(4)]
        for which in np.unique(number):
            inside = number == which
            for part, values in zip(parts, self._stride(int(which), time_s[inside]), strict=True):
                part[inside] = values
        return FootPose(*parts)

    def _stride(self, which: int, time_s: FloatArray) -> tuple[FloatArray, ...]:
        step = self._steps[which]
        swing = self._swings[which] if which < len(self._swings) else None
        pitch = _lowering(step, time_s)
        if swing is not None:
            leaving = time_s > swing.rise_s
            pitch[leaving] = swing.pitch(time_s[leaving])
        x, z = _resting(step, pitch, self._scale)
        share = np.full(time_s.shape, np.nan)
        if swing is not None:
            flying = time_s > step.toe_off_s
            x[flying], z[flying] = swing.x(time_s[flying]), swing.z(time_s[flying])
            share[flying] = (time_s[flying] - step.toe_off_s) / swing.duration_s
        return pitch, x, z, share


def _lowering(step: Step, time_s: FloatArray) -> FloatArray:
    """Pitch from contact to foot-flat: a raised cosine, 0 afterwards."""
    since = np.clip((time_s - step.contact_s) / step.foot.lowering_time_s, 0.0, 1.0)
    start_rad = math.radians(step.foot.contact_pitch_deg)
    return np.asarray(start_rad * 0.5 * (1 + np.cos(math.pi * since)))


def _resting(step: Step, pitch_rad: FloatArray, scale: float) -> tuple[FloatArray, FloatArray]:
    """Centre of the arc while the sole rests on the floor: heel edge fixed, or arc rolling."""
    ball, arc = BALL_M * scale, ARC_M * scale
    sine, cosine = np.sin(pitch_rad), np.cos(pitch_rad)
    heel_first = pitch_rad > 0
    x = np.where(heel_first, ball * cosine - arc * sine, ball - arc * pitch_rad)
    z = np.where(heel_first, ball * sine + arc * cosine, arc)
    return step.heel_m + x, z


def _end_slopes(first: float, last: float) -> tuple[_Slope, _Slope]:
    return (1, np.array(first)), (1, np.array(last))


class _Swing:
    """Planned curves from heel rise to the next contact."""

    def __init__(self, here: Step, there: Step, scale: float) -> None:
        off_s, contact_s = here.toe_off_s, there.contact_s
        self.duration_s = contact_s - off_s
        self.rise_s = _heel_rise_s(here)
        self.pitch = _pitch_curve(here, there, self.rise_s)
        self.z = _height_curve(self.pitch, here, there, scale)
        self.x = _Forward(self.pitch, here, there, scale)


def _heel_rise_s(step: Step) -> float:
    flat_s = step.contact_s + step.foot.lowering_time_s
    stance_s = step.toe_off_s - step.contact_s
    if stance_s > LONGEST_STANCE_S:
        stance_s = FROM_STANDING_S
    rise_s = step.toe_off_s - (1 - step.foot.heel_rise_fraction) * stance_s
    return max(rise_s, flat_s + 0.02)


def _pitch_curve(here: Step, there: Step, rise_s: float) -> CubicSpline:
    off_s, contact_s = here.toe_off_s, there.contact_s
    swing_s, off = contact_s - off_s, here.foot.toe_off_pitch_deg
    middle, contact = here.foot.swing_pitch_deg, there.foot.contact_pitch_deg
    knots = [(rise_s + share * (off_s - rise_s), off * part) for share, part in HEEL_RISE_SHAPE]
    knots += [
        (off_s + 0.26 * swing_s, middle + 0.74 * (off - middle)),
        (off_s + 0.52 * swing_s, middle),
        (off_s + 0.76 * swing_s, middle + 0.82 * (contact - middle)),
        (contact_s, contact),
    ]
    times, values = zip(*knots, strict=True)
    return CubicSpline(times, np.radians(values), bc_type=_end_slopes(0.0, 0.0))


def _height_curve(pitch: CubicSpline, here: Step, there: Step, scale: float) -> CubicSpline:
    """Height of the arc's centre, from the planned height of the lowest point of the sole."""
    foot, off_s, contact_s = here.foot, here.toe_off_s, there.contact_s
    swing_s, dips = contact_s - off_s, foot.minimum_share > 0.5
    braking = max(1 - BRAKING_S / swing_s, 0.62)
    skim = max(1 - SKIM_S / swing_s, 0.5 * (1 + braking))
    early = foot.clearance_m + (foot.early_lift_m if dips else -0.3 * foot.clearance_m)
    late = max(foot.heel_skim_m * 1.6, 0.0 if dips else 1.15 * foot.clearance_m)
    plan = [
        (0.0, 0.0), (0.20, early), (0.5, foot.clearance_m), (braking, late),
        (skim, foot.heel_skim_m * 0.75), (1.0, 0.0),
    ]  # fmt: skip
    shares = np.array([share for share, _ in plan])
    low = np.array([height for _, height in plan])
    angle = np.asarray(pitch(off_s + shares * swing_s))
    heights = low + _arc_above_lowest(angle, scale)
    fall = -there.foot.touch_down_speed_m_s
    return CubicSpline(off_s + shares * swing_s, heights, bc_type=_end_slopes(0.0, fall))


def _arc_above_lowest(pitch_rad: FloatArray, scale: float) -> FloatArray:
    over_heel = BALL_M * np.sin(pitch_rad) + ARC_M * np.cos(pitch_rad)
    return np.asarray(np.maximum(over_heel, ARC_M) * scale)


class _Forward:
    """Place of the arc's centre along the way; hangs still for ``reach_hold_s`` at the end."""

    def __init__(self, pitch: CubicSpline, here: Step, there: Step, scale: float) -> None:
        off_s, contact_s = here.toe_off_s, there.contact_s
        hold_s = min(there.foot.reach_hold_s, 0.5 * (contact_s - off_s))
        self.reach_s = contact_s - hold_s
        (start,), _ = _resting(here, np.asarray(pitch([off_s])), scale)
        (end,), _ = _resting(there, np.asarray(pitch([contact_s])), scale)
        duration_s = self.reach_s - off_s
        mean_speed = (end - start) / duration_s
        rolling = -ARC_M * scale * float(pitch(off_s, 1))
        last_speed = 0.0 if hold_s > 0 else LAST_SPEED * mean_speed
        self._curve = CubicSpline(
            [off_s + share * duration_s for share, _ in PROGRESS],
            [start + part * (end - start) for _, part in PROGRESS],
            bc_type=_end_slopes(rolling, last_speed),
        )

    def __call__(self, time_s: FloatArray) -> FloatArray:
        """Return the place at instants inside the swing."""
        return np.asarray(self._curve(np.minimum(time_s, self.reach_s)))
