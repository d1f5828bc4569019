"""Force plates under a made-up walk.

In come the planned steps and the body path, out come two plates: the vertical force is above 20 N
exactly between contact and toe-off of the foot that steps on them, the centre of pressure runs
from the part that touched first to the tip of the sole. Sideways and forward forces are left 0.
"""

from __future__ import annotations

import math

import numpy as np

from gaittrack.simulate.foot_path import ARC_M, BALL_M
from gaittrack.simulate.leg import BodyPath
from gaittrack.simulate.placing import to_file_axes
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.schedule import Schedule, Step
from gaittrack.trial import FloatArray, ForcePlate
from gaittrack.vocabulary import SIDES

SAMPLES_PER_FRAME = 10
"""Force samples per marker frame; 1000 Hz at 100 frames/s is common practice, no source."""
THRESHOLD_N = 20.0
"""Force that counts as contact; common practice, no source."""
GRAVITY_M_S2 = 9.81
MARGIN_M = 0.06
"""Plate beyond the ends of the shoe."""
PLATE_WIDTH_M = 0.35
"""Width of a plate, from the line of progression outward."""


def make_plates(
    recipe: WalkRecipe, schedule: Schedule, body: BodyPath, n_frames: int
) -> tuple[ForcePlate, ...]:
    """Return two plates, each hit by one middle stance of one foot."""
    rate_hz = recipe.rate_hz * SAMPLES_PER_FRAME
    time_s = schedule.start_s + np.arange(n_frames * SAMPLES_PER_FRAME) / rate_hz
    return tuple(
        _plate(recipe, _middle_step(schedule, number), body, time_s, f"plate {number + 1}")
        for number in range(len(SIDES))
    )


def _middle_step(schedule: Schedule, number: int) -> Step:
    inside = [
        step
        for step in schedule.steps
        if step.contact_s > schedule.start_s and step.toe_off_s < schedule.end_s
    ]
    return inside[len(inside) // 2 - 1 + number]


def _plate(
    recipe: WalkRecipe, step: Step, body: BodyPath, time_s: FloatArray, name: str
) -> ForcePlate:
    loaded = (time_s >= step.contact_s) & (time_s <= step.toe_off_s)
    share = (time_s[loaded] - step.contact_s) / (step.toe_off_s - step.contact_s)
    since_s = time_s - time_s[0]
    vertical = np.zeros(time_s.shape)
    vertical[loaded] = vertical_force_n(share, mass_kg=recipe.body.mass_kg)
    up = 2 if recipe.up_axis == "Z" else 1
    force = np.zeros((time_s.size, 3))
    force[:, up] = vertical
    centre = np.full((time_s.size, 3), np.nan)
    pose = body.at(time_s[loaded])
    along = _pressure_m(recipe, step, share)
    floor = np.column_stack((along, pose.foot_left_m[step.side], np.zeros(along.shape)))
    centre[loaded] = to_file_axes(floor, since_s[loaded], recipe)
    corners = to_file_axes(_corners(recipe, step), np.zeros(4), recipe)
    return ForcePlate(force, centre, corners, recipe.rate_hz * SAMPLES_PER_FRAME, name)


def vertical_force_n(share: FloatArray, *, mass_kg: float) -> FloatArray:
    """Return a two-humped vertical force over stance, above 20 N throughout.

    Parameters
    ----------
    share : ndarray
        Share of stance that is over, 0–1.

    Returns
    -------
    ndarray
        Newtons; humps of about 1.1 body weights, common practice, no source.
    """
    hump = np.sin(math.pi * share) + 0.36 * np.sin(3 * math.pi * share)
    body_weight = mass_kg * GRAVITY_M_S2
    return np.asarray(1.001 * THRESHOLD_N + 1.1 * body_weight * np.maximum(hump, 0.0))


def _pressure_m(recipe: WalkRecipe, step: Step, share: FloatArray) -> FloatArray:
    scale = recipe.body.foot_scale
    pitch = step.foot.contact_pitch_deg
    start = 0.01 if pitch > 0 else BALL_M
    tip = BALL_M + ARC_M * 0.9
    ahead = np.interp(share, [0.0, 0.25, 0.75, 1.0], [start, 0.08, BALL_M, tip])
    return np.asarray(step.heel_m + scale * ahead)


def _corners(recipe: WalkRecipe, step: Step) -> FloatArray:
    """Corners seen from above: front left, front right, back right, back left of the walker."""
    length = (BALL_M + ARC_M) * recipe.body.foot_scale
    back, front = step.heel_m - MARGIN_M, step.heel_m + length + MARGIN_M
    inner, outer = (0.0, PLATE_WIDTH_M) if step.side == "left" else (-PLATE_WIDTH_M, 0.0)
    return np.array(
        [[front, outer, 0.0], [front, inner, 0.0], [back, inner, 0.0], [back, outer, 0.0]]
    )
