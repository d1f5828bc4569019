"""Pelvis and legs over the planned feet.

In come the two foot paths, out goes a :class:`BodyPose`: joint centres and pelvis axes at any
instants, in metres along the way, to the left and up from the floor. The pelvis travels midway
between the feet and as high as the longer-stretched leg lets it; the knee closes the two-link leg
by inverse kinematics, in the plane of the hip-to-ankle line and the way forward.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator
from scipy.ndimage import correlate1d, minimum_filter1d

from gaittrack.simulate.foot_path import FootPath, FootPose
from gaittrack.simulate.recipe import WalkRecipe, step_time_s
from gaittrack.simulate.schedule import FAR_S, STANDING_S, Schedule
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Side

ANKLE_AHEAD_M, ANKLE_HEIGHT_M = 0.05, 0.085
"""Ankle joint centre from the heel edge of an adult's shoe; common practice, no source."""
HIP_DROP_M = 0.09
"""Hip joint centres below the middle of the pelvis; common practice, no source."""
STRAIGHTEST = 0.9995
"""Largest hip-to-ankle distance over leg length: the knee keeps about 4° of flexion."""
BOUNCE = 0.025
"""Rise and fall of the pelvis (half range) over step length squared per leg length; our choice,
two fifths of an inverted pendulum's (1/16)."""
LOWEST_AT = -0.05
"""Where in a step after contact the pelvis is lowest; with BOUNCE and PELVIS_AHEAD chosen so that
hip and knee come within 4° (root mean square) of the handbook walk and the phase table."""
PELVIS_AHEAD = 0.06
"""How far the pelvis is ahead of the middle of the ankles at contact, in step lengths; from the
thigh and shank angles of the handbook walk at contact and at opposite contact."""
SWAY_M = 0.02
"""Sideways travel of the pelvis toward the standing leg; common practice, no source."""
SETTLING = 0.3
"""Time over which the height of the pelvis adapts to the legs, in step times; our choice."""
LOWEST_HIP = 0.82
"""Hip height over leg length below which a recipe is refused; our choice."""
GRID_S = 0.005
"""Grid on which the height of the pelvis is found."""


@dataclass(frozen=True, slots=True)
class BodyPose:
    """Joints at given instants, each array of shape (n, 3): along the way, left, up.

    Attributes
    ----------
    pelvis : ndarray
        Middle of the pelvis.
    pelvis_axes : ndarray, shape (n, 3, 3)
        Columns are the pelvis' own forward, left and up.
    foot_left_m : mapping of side to ndarray, shape (n,)
        Sideways place of the foot.
    """

    pelvis: FloatArray
    pelvis_axes: FloatArray
    hip: Mapping[Side, FloatArray]
    knee: Mapping[Side, FloatArray]
    ankle: Mapping[Side, FloatArray]
    feet: Mapping[Side, FootPose]
    foot_left_m: Mapping[Side, FloatArray]


class BodyPath:
    """The whole walker over time."""

    def __init__(self, recipe: WalkRecipe, schedule: Schedule) -> None:
        self._recipe = recipe
        self._feet = {
            side: FootPath(schedule.of(side), scale=recipe.body.foot_scale) for side in SIDES
        }
        self._travel = _travel(recipe, schedule)
        self._phase = _phase(schedule)
        self._bounce = _bounce(recipe, schedule)
        self._lead_side = schedule.steps[0].side
        self._schedule = schedule
        self._hip_height: CubicSpline = CubicSpline([-FAR_S, FAR_S], [0.0, 0.0])
        self._hip_height = self._highest(schedule)

    def at(self, time_s: FloatArray) -> BodyPose:
        """Return the pose at instants inside the recorded stretch."""
        feet = {side: self._feet[side].at(time_s) for side in SIDES}
        left = {side: self._sideways(side, feet[side]) for side in SIDES}
        ankle = {side: self._ankle(feet[side], left[side]) for side in SIDES}
        middle = self._hip_middle(time_s)
        axes = self._pelvis_axes(time_s, feet)
        half = 0.5 * self._recipe.body.pelvis_width_m
        hip = {side: middle + _sign(side) * half * axes[:, :, 1] for side in SIDES}
        body = self._recipe.body
        knee = {
            side: bend_knee(hip[side], ankle[side], thigh_m=body.thigh_m, shank_m=body.shank_m)
            for side in SIDES
        }
        drop = HIP_DROP_M * body.foot_scale
        return BodyPose(middle + drop * axes[:, :, 2], axes, hip, knee, ankle, feet, left)

    def _sideways(self, side: Side, foot: FootPose) -> FloatArray:
        swing = np.nan_to_num(foot.swing)
        half_width_m = 0.5 * self._recipe.step_width_m
        swung_m = self._recipe.foot(side).circumduction_m * np.sin(math.pi * swing) ** 2
        return np.asarray(_sign(side) * (half_width_m + swung_m))

    def _ankle(self, foot: FootPose, left_m: FloatArray) -> FloatArray:
        x, z = foot.point(ANKLE_AHEAD_M, ANKLE_HEIGHT_M, scale=self._recipe.body.foot_scale)
        return np.column_stack((x, left_m, z))

    def _hip_middle(self, time_s: FloatArray) -> FloatArray:
        phase = self._phase(time_s)
        sway = _sign(self._lead_side) * SWAY_M * np.cos(math.pi * (phase - 0.45))
        height = self._hip_height(time_s) - self._bounce(time_s) * np.cos(
            2 * math.pi * (phase - LOWEST_AT)
        )
        return np.column_stack((self._travel(time_s), sway, height - self._dips(time_s)))

    def _dips(self, time_s: FloatArray) -> FloatArray:
        """Sinking of the pelvis on a yielding leg, over the first 40 % of its stance."""
        dip = np.zeros(time_s.shape)
        for step in self._schedule.steps:
            if step.foot.loading_dip_m and math.isfinite(step.toe_off_s):
                share = (time_s - step.contact_s) / (0.45 * (step.toe_off_s - step.contact_s))
                inside = (share > 0) & (share < 1)
                dip[inside] += step.foot.loading_dip_m * np.sin(math.pi * share[inside]) ** 2
        return dip

    def _pelvis_axes(self, time_s: FloatArray, feet: Mapping[Side, FootPose]) -> FloatArray:
        phase = self._phase(time_s)
        turn = math.radians(self._recipe.pelvic_rotation_deg) * np.cos(math.pi * phase)
        turn = -_sign(self._lead_side) * turn
        hike = np.zeros(time_s.shape)
        for side in SIDES:
            swing = np.nan_to_num(feet[side].swing)
            amount = math.radians(self._recipe.foot(side).hip_hike_deg)
            hike += _sign(side) * amount * np.sin(math.pi * swing) ** 2
        return _axes(turn, hike, math.radians(self._recipe.pelvic_tilt_deg))

    def _highest(self, schedule: Schedule) -> CubicSpline:
        """Smooth curve of the hip height that overstretches neither leg at any instant."""
        time_s = np.arange(schedule.start_s - GRID_S, schedule.end_s + 2 * GRID_S, GRID_S)
        pose = self.at(time_s)
        leg_m = self._recipe.body.leg_m
        longest = STRAIGHTEST * leg_m
        room = np.min(
            [
                pose.ankle[side][:, 2]
                + np.sqrt(longest**2 - np.minimum(_level_distance(pose, side), 0.99 * longest) ** 2)
                - pose.hip[side][:, 2]
                for side in SIDES
            ],
            axis=0,
        )
        if room.min() < LOWEST_HIP * leg_m:
            raise ValueError(
                f"this recipe cannot be walked: the hips would have to sink to {room.min():.2f} m "
                f"with a leg of {leg_m:.2f} m; shorten reach_hold_s or the steps"
            )
        width = max(round(SETTLING * step_time_s(self._recipe) / GRID_S), 1)
        lowest = minimum_filter1d(room, 2 * width + 1, mode="nearest")
        weights = np.hanning(2 * width + 3)[1:-1]
        return CubicSpline(time_s, correlate1d(lowest, weights / weights.sum(), mode="nearest"))


def _level_distance(pose: BodyPose, side: Side) -> FloatArray:
    apart = pose.hip[side][:, :2] - pose.ankle[side][:, :2]
    return np.asarray(np.hypot(apart[:, 0], apart[:, 1]))


def _sign(side: Side) -> float:
    return 1.0 if side == "left" else -1.0


def bend_knee(hip: FloatArray, ankle: FloatArray, *, thigh_m: float, shank_m: float) -> FloatArray:
    """Return the knee between a hip and an ankle, bent forward; arrays of shape (n, 3)."""
    along = ankle - hip
    distance = np.linalg.norm(along, axis=1, keepdims=True)
    along = along / distance
    ahead = np.array([1.0, 0.0, 0.0]) - along * along[:, :1]
    ahead = ahead / np.linalg.norm(ahead, axis=1, keepdims=True)
    down = (thigh_m**2 - shank_m**2 + distance**2) / (2 * distance)
    out = np.sqrt(np.maximum(thigh_m**2 - down**2, 0.0))
    return np.asarray(hip + down * along + out * ahead)


def _axes(turn: FloatArray, hike: FloatArray, tilt: float) -> FloatArray:
    """Pelvis axes from its turn to the left, its left-side-up hike and its front-down tilt."""
    forward = np.column_stack(
        (
            np.cos(turn) * math.cos(tilt),
            np.sin(turn) * math.cos(tilt),
            np.full_like(turn, -math.sin(tilt)),
        )
    )
    level_left = np.column_stack((-np.sin(turn), np.cos(turn), np.zeros_like(turn)))
    level_up = np.cross(forward, level_left)
    left = np.cos(hike)[:, None] * level_left + np.sin(hike)[:, None] * level_up
    return np.stack((forward, left, np.cross(forward, left)), axis=2)


def _travel(recipe: WalkRecipe, schedule: Schedule) -> CubicSpline:
    """Place of the pelvis along the way: midway between the ankles at each contact."""
    ankle_m = ANKLE_AHEAD_M * recipe.body.foot_scale
    steps = schedule.steps
    knots = [
        (
            there.contact_s,
            0.5 * (here.heel_m + there.heel_m)
            + ankle_m
            + PELVIS_AHEAD * (there.heel_m - here.heel_m),
        )
        for here, there in zip(steps[:-1], steps[1:], strict=True)
        if there.contact_s > -FAR_S / 2
    ]
    if recipe.starts_inside:
        knots = [(when, steps[0].heel_m + ankle_m) for when in (-0.4, 0.0, 0.4)] + knots
    if recipe.stops_inside:
        last = steps[-1].contact_s
        knots += [
            (last + share * STANDING_S, steps[-1].heel_m + ankle_m) for share in (0.4, 0.7, 1.1)
        ]
    times, places = zip(*knots, strict=True)
    return CubicSpline(times, places)


def _phase(schedule: Schedule) -> CubicSpline:
    """Count steps since the first, as a smooth function of time: whole numbers at contacts."""
    known = [
        (step.contact_s, number)
        for number, step in enumerate(schedule.steps)
        if step.contact_s > -FAR_S / 2
    ]
    times, numbers = zip(*known, strict=True)
    return CubicSpline(times, numbers, bc_type="natural")


def _bounce(recipe: WalkRecipe, schedule: Schedule) -> PchipInterpolator:
    """Half range of the pelvis' rise and fall, from the length of each step."""
    steps = schedule.steps
    knots = [(-FAR_S, 0.0), (0.5 * STANDING_S, 0.0)] if recipe.starts_inside else []
    knots += [
        (there.contact_s, BOUNCE * (there.heel_m - here.heel_m) ** 2 / recipe.body.leg_m)
        for here, there in zip(steps[:-1], steps[1:], strict=True)
        if there.contact_s > -FAR_S / 2
    ]
    if recipe.stops_inside:
        knots[-1] = (steps[-1].contact_s + 0.5 * STANDING_S, 0.0)
        knots.append((steps[-1].contact_s + FAR_S, 0.0))
    times, sizes = zip(*knots, strict=True)
    return PchipInterpolator(times, sizes)
