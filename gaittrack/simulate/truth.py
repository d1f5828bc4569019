"""What is true of a made-up walk, before noise and gaps.

In come the planned steps and the body path, out goes a :class:`WalkTruth`: events, the angle
curves at the recording's frames, and per gait cycle the quantities that the measures look for,
taken on a 1 ms grid from the noise-free points.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gaittrack.simulate.foot_path import ARC_M
from gaittrack.simulate.leg import BodyPath, BodyPose
from gaittrack.simulate.placing import FOOT_MARKERS, shoe_point
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.schedule import Schedule, Step
from gaittrack.trial import Event, FloatArray
from gaittrack.vocabulary import SIDES, ContactType, Joint, Side

FLAT_BAND_DEG = 5.0
"""Foot pitch at contact within ± this is a flat contact, beyond it heel or forefoot."""
GRID_S = 0.001
"""Time step on which a cycle's quantities are taken."""
MIDDLE_OF_SWING = (0.25, 0.85)
"""Part of swing in which a minimum of the toe's height counts."""


@dataclass(frozen=True, slots=True)
class CycleTruth:
    """Quantities of one gait cycle; NaN where the cycle does not have them.

    Attributes
    ----------
    start_s, toe_off_s, end_s : float
        On the trial's clock.
    speed_m_s : float
        Stride length over cycle time.
    loading_plantarflexion_deg : float
        Fall of the ankle angle from contact to its lowest before foot-flat; NaN without a heel
        contact or a fall.
    loading_plantarflexion_rate_deg_s : float
        Greatest speed of that fall.
    peak_swing_dorsiflexion_deg : float
        Over all of swing.
    middle_swing_dorsiflexion_deg : float
        At half of swing.
    forefoot_clearance_m : float
        Lowest local minimum in mid-swing of the lowest point of the sole's fore part.
    toe_clearance_m : float
        The same of the toe marker, less its height at foot-flat; may be negative.
    peak_hip_flexion_thigh_vertical_deg, peak_hip_flexion_pelvis_thigh_deg : float
        In swing.
    peak_loading_knee_flexion_deg : float
        From contact to 20 % of the cycle.
    """

    side: Side
    start_s: float
    toe_off_s: float
    end_s: float
    contact: ContactType
    speed_m_s: float
    loading_plantarflexion_deg: float
    loading_plantarflexion_rate_deg_s: float
    peak_swing_dorsiflexion_deg: float
    middle_swing_dorsiflexion_deg: float
    forefoot_clearance_m: float
    toe_clearance_m: float
    peak_hip_flexion_thigh_vertical_deg: float
    peak_hip_flexion_pelvis_thigh_deg: float
    peak_loading_knee_flexion_deg: float


@dataclass(frozen=True, eq=False, slots=True)
class WalkTruth:
    """Truth of one walk.

    Attributes
    ----------
    events : tuple of Event
        In time order, on the trial's clock; ``source`` is ``corrected``: known for certain.
    cycles : tuple of CycleTruth
        Contact to contact, both inside the recording, by side and then by time.
    angles_deg : mapping of (side, joint) to ndarray, shape (n_frames,)
    """

    events: tuple[Event, ...]
    cycles: tuple[CycleTruth, ...]
    angles_deg: Mapping[tuple[Side, Joint], FloatArray]

    def of(self, side: Side) -> tuple[CycleTruth, ...]:
        """Return the cycles of one side."""
        return tuple(cycle for cycle in self.cycles if cycle.side == side)


def contact_type(pitch_deg: float) -> ContactType:
    """Return which part of the foot touches first, from the pitch at contact."""
    if abs(pitch_deg) <= FLAT_BAND_DEG:
        return "flat"
    return "heel" if pitch_deg > 0 else "forefoot"


def sagittal_angles(pose: BodyPose, side: Side, *, tilt_deg: float) -> dict[Joint, FloatArray]:
    """Return the sagittal angles of one side in degrees, signs as in ``vocabulary``."""
    thigh = _lean(pose.hip[side] - pose.knee[side])
    shank = _lean(pose.knee[side] - pose.ankle[side])
    pitch = np.degrees(pose.feet[side].pitch_rad)
    return {
        "ankle": shank + pitch,
        "knee": shank - thigh,
        "hip_thigh_vertical": -thigh,
        "hip_pelvis_thigh": tilt_deg - thigh,
        "foot_pitch": pitch,
        "shank_lean": shank,
    }


def _lean(upward: FloatArray) -> FloatArray:
    """Lean of a segment from the vertical, its upper end ahead positive, degrees."""
    return np.asarray(np.degrees(np.arctan2(upward[:, 0], upward[:, 2])))


def find_truth(
    recipe: WalkRecipe, schedule: Schedule, body: BodyPath, time_s: FloatArray
) -> WalkTruth:
    """Return the truth of a walk recorded at instants ``time_s`` of the schedule's clock."""
    pose = body.at(time_s)
    angles: dict[tuple[Side, Joint], FloatArray] = {}
    for side in SIDES:
        for joint, values in sagittal_angles(pose, side, tilt_deg=recipe.pelvic_tilt_deg).items():
            angles[side, joint] = values
    start_s, end_s = float(time_s[0]), float(time_s[-1])
    cycles = [
        _cycle(recipe, body, here, there, start_s)
        for side in SIDES
        for here, there in _pairs(schedule.of(side))
        if here.contact_s >= start_s and there.contact_s <= end_s
    ]
    return WalkTruth(_events(schedule, start_s, end_s), tuple(cycles), angles)


def _pairs(steps: tuple[Step, ...]) -> zip[tuple[Step, Step]]:
    return zip(steps[:-1], steps[1:], strict=True)


def _events(schedule: Schedule, start_s: float, end_s: float) -> tuple[Event, ...]:
    events = []
    for step in schedule.steps:
        kind = contact_type(step.foot.contact_pitch_deg)
        events += [
            Event(step.contact_s - start_s, step.side, "initial_contact", "corrected", kind),
            Event(step.toe_off_s - start_s, step.side, "toe_off", "corrected"),
        ]
    seen = [event for event in events if 0 <= event.time_s <= end_s - start_s]
    return tuple(sorted(seen, key=lambda event: event.time_s))


def _cycle(
    recipe: WalkRecipe, body: BodyPath, here: Step, there: Step, start_s: float
) -> CycleTruth:
    time_s = np.arange(here.contact_s, there.contact_s, GRID_S)
    pose, side = body.at(time_s), here.side
    angles = sagittal_angles(pose, side, tilt_deg=recipe.pelvic_tilt_deg)
    swing = time_s > here.toe_off_s
    loading = time_s <= here.contact_s + here.foot.lowering_time_s
    early = time_s <= here.contact_s + 0.2 * (there.contact_s - here.contact_s)
    kind = contact_type(here.foot.contact_pitch_deg)
    fall, rate = _fall(angles["ankle"][loading]) if kind == "heel" else (math.nan, math.nan)
    share = pose.feet[side].swing[swing]
    scale = recipe.body.foot_scale
    ahead, _, up = FOOT_MARKERS["toe"]
    toe = shoe_point(pose, side, ahead, 0.0, up, scale)[:, 2] - up * scale
    sole = pose.feet[side].arc_z_m - ARC_M * scale
    return CycleTruth(
        side=side,
        start_s=here.contact_s - start_s,
        toe_off_s=here.toe_off_s - start_s,
        end_s=there.contact_s - start_s,
        contact=kind,
        speed_m_s=(there.heel_m - here.heel_m) / (there.contact_s - here.contact_s),
        loading_plantarflexion_deg=fall,
        loading_plantarflexion_rate_deg_s=rate,
        peak_swing_dorsiflexion_deg=float(np.max(angles["ankle"][swing])),
        middle_swing_dorsiflexion_deg=float(np.interp(0.5, share, angles["ankle"][swing])),
        forefoot_clearance_m=_lowest_minimum(sole[swing], share),
        toe_clearance_m=_lowest_minimum(toe[swing], share),
        peak_hip_flexion_thigh_vertical_deg=float(np.max(angles["hip_thigh_vertical"][swing])),
        peak_hip_flexion_pelvis_thigh_deg=float(np.max(angles["hip_pelvis_thigh"][swing])),
        peak_loading_knee_flexion_deg=float(np.max(angles["knee"][early])),
    )


def _fall(ankle_deg: FloatArray) -> tuple[float, float]:
    """Fall from contact to the lowest angle of the lowering, and its greatest speed."""
    lowest = int(np.argmin(ankle_deg))
    if lowest < 2:
        return math.nan, math.nan
    speed = -np.gradient(ankle_deg[: lowest + 1], GRID_S)
    return float(ankle_deg[0] - ankle_deg[lowest]), float(np.max(speed))


def _lowest_minimum(height_m: FloatArray, share: FloatArray) -> float:
    """Lowest local minimum in mid-swing; NaN when there is none."""
    inner = height_m[1:-1]
    first, last = MIDDLE_OF_SWING
    is_minimum = (inner < height_m[:-2]) & (inner <= height_m[2:])
    is_minimum &= (share[1:-1] >= first) & (share[1:-1] <= last)
    return float(np.min(inner[is_minimum])) if is_minimum.any() else math.nan
