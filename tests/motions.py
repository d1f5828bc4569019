"""Made-up walks in closed form, as motions and cycles, for tests of measures.

Angles run through known turning points joined by half cosine waves; points move along straight
lines. Nothing here is filtered, so every value that a measure should find is known beforehand.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from gaittrack.cycles import Cycle
from gaittrack.kinematics.motion import FootNeutral, Motion
from gaittrack.trial import FloatArray, Provenance, Signal, Trial
from gaittrack.vocabulary import SIDES, Joint, Side, opposite

Knots = tuple[tuple[float, float], ...]

CYCLE_S, TOE_OFF, OPPOSITE_TOE_OFF, OPPOSITE_CONTACT = 1.0, 0.6, 0.12, 0.5
FLAT_FROM, FLAT_TO = 0.09, 0.4
STRIDE_M, FOOT_M, HALF_WIDTH_M = 1.2, 0.2, 0.05
TOE_HEIGHT_M, HEEL_HEIGHT_M = 0.03, 0.04
CLEARANCE_A_M, CLEARANCE_B_M = 0.03, 0.01

ANGLE_KNOTS: dict[Joint, Knots] = {
    "ankle": ((0, 0), (0.08, -6), (0.45, 10), (0.62, -15), (0.82, 4), (1, 0)),
    "knee": ((0, 2), (0.11, 18), (0.4, -3), (0.72, 62), (1, 2)),
    "hip_pelvis_thigh": ((0, 30), (0.5, -8), (0.87, 34), (1, 30)),
    "hip_thigh_vertical": ((0, 20), (0.5, -18), (0.87, 25), (1, 20)),
    "foot_pitch": ((0, 20), (0.08, 0), (0.4, 0), (0.62, -60), (0.9, 22), (1, 20)),
    "shank_lean": ((0, -20), (0.3, 8), (0.62, 48), (1, -20)),
    "pelvic_tilt": ((0, 10), (1, 10)),
    "pelvic_obliquity": ((0, 0), (0.15, -4), (0.8, 5), (1, 0)),
}


def eased(knots: Knots, phase: FloatArray) -> FloatArray:
    """Return a curve through turning points, joined by half cosine waves."""
    at, values = (np.array(column, dtype=float) for column in zip(*knots, strict=True))
    place = np.clip(np.searchsorted(at, phase, side="right") - 1, 0, len(at) - 2)
    share = (phase - at[place]) / (at[place + 1] - at[place])
    rise = (1 - np.cos(np.pi * share)) / 2
    return values[place] + rise * (values[place + 1] - values[place])


def double_hump(swing: FloatArray) -> FloatArray:
    """Return height over foot-flat: maxima at 25 and 75 %, minimum a - b = 20 mm at 50 %."""
    return CLEARANCE_A_M - CLEARANCE_B_M * np.cos(4 * np.pi * swing)


def single_hump(swing: FloatArray) -> FloatArray:
    """Return height over foot-flat with one maximum and no minimum inside."""
    return CLEARANCE_A_M + CLEARANCE_B_M * np.sin(np.pi * swing)


@dataclass(frozen=True)
class Walk:
    """A made-up walk; change a field with ``dataclasses.replace``.

    The right foot makes contact at ``start_s``, the left half a cycle later; both walk alike.
    """

    rate_hz: float = 100.0
    start_s: float = 0.5
    n_cycles: int = 3
    knots: Mapping[Joint, Knots] = field(default_factory=lambda: ANGLE_KNOTS)
    toe_height: Callable[[FloatArray], FloatArray] = double_hump
    first_side: Side = "right"
    floor_tilt: float = 0.0

    @property
    def time_s(self) -> FloatArray:
        """Time of the frames, from 0 to half a cycle after the last contact."""
        return np.arange(round((self.start_s + self.n_cycles + 1) * self.rate_hz)) / self.rate_hz

    def contact_s(self, side: Side) -> float:
        """Return the first contact of a side in seconds."""
        return self.start_s + (0.0 if side == self.first_side else OPPOSITE_CONTACT * CYCLE_S)

    def phase(self, side: Side) -> tuple[FloatArray, FloatArray]:
        """Return number and fraction of the cycle at each frame."""
        cycles = np.round((self.time_s - self.contact_s(side)) / CYCLE_S, 9)
        return np.floor(cycles), cycles - np.floor(cycles)

    def motion(self) -> Motion:
        """Return the walk as a motion."""
        angles = {
            (side, joint): Signal(eased(knots, self.phase(side)[1]), "deg", joint)
            for side in SIDES
            for joint, knots in self.knots.items()
        }
        points = {key: xyz for side in SIDES for key, xyz in self._points(side).items()}
        flat = {}
        for side in SIDES:
            _, u = self.phase(side)
            flat[side] = (u >= FLAT_FROM) & (u <= FLAT_TO)
        neutral = FootNeutral(0.0, HEEL_HEIGHT_M, TOE_HEIGHT_M, "standing trial")
        return Motion(
            trial=Trial(
                rate_hz=self.rate_hz,
                n_frames=len(self.time_s),
                provenance=Provenance("made_up.c3d", "", "C3D"),
            ),
            axes=None,
            landmark_labels={},
            points=points,
            fast_points=points,
            filled={key: np.zeros(len(self.time_s), dtype=bool) for key in points},
            angles=angles,
            angle_origin={key: "markers" for key in angles},
            marker_angles=angles,
            fast_marker_angles={
                key: signal
                for key, signal in angles.items()
                if key[1] in ("ankle", "knee", "foot_pitch", "shank_lean")
            },
            falling_angles={
                key: signal for key, signal in angles.items() if key[1] in ("ankle", "foot_pitch")
            },
            neutral={side: neutral for side in SIDES},
            foot_flat=flat,
            toe_point_name={side: "toe" for side in SIDES},
            foot_pitch_name={side: "heel to fifth metatarsal" for side in SIDES},
            smoothing="none",
            problems=(),
        )

    def _points(self, side: Side) -> dict[str, FloatArray]:
        number, u = self.phase(side)
        swing = np.clip((u - TOE_OFF) / (1 - TOE_OFF), 0, 1)
        lead = STRIDE_M * (self.contact_s(side) - self.start_s) / CYCLE_S
        heel_x = lead + STRIDE_M * (number + swing)
        left = HALF_WIDTH_M if side == "left" else -HALF_WIDTH_M
        outward = np.sign(left) * 0.03 * np.sin(np.pi * swing)
        floor = self.floor_tilt * heel_x
        toe_z = floor + TOE_HEIGHT_M + np.where(u > TOE_OFF, self.toe_height(swing), 0)
        heel_up = eased(((0, 0), (0.3, 0), (0.6, 0.2), (0.9, 0.05), (1, 0)), u)
        hip_x = STRIDE_M * (self.time_s - self.start_s) / CYCLE_S

        def xyz(x: FloatArray, y: FloatArray, z: FloatArray) -> FloatArray:
            return np.stack(np.broadcast_arrays(x, y, z), axis=1).astype(float)

        return {
            f"{side}_heel": xyz(heel_x, left + outward, floor + HEEL_HEIGHT_M + heel_up),
            f"{side}_toe_point": xyz(heel_x + FOOT_M, left + outward, toe_z),
            f"{side}_forefoot": xyz(heel_x + 0.15, left + outward, toe_z + 0.01 * swing),
            f"{side}_ankle_centre": xyz(heel_x + 0.05, left + outward, np.float64(0.1)),
            f"{side}_knee_centre": xyz(heel_x + 0.05, left + outward, np.float64(0.5)),
            f"{side}_hip_centre": xyz(hip_x, np.float64(left), np.float64(0.9)),
            "pelvis": xyz(hip_x, np.float64(0.0), np.float64(1.0)),
        }

    def cycles(self) -> tuple[Cycle, ...]:
        """Return the cycles of both sides, all heel contacts."""
        return tuple(
            Cycle(
                id=f"{side}-{number + 1:02d}",
                side=side,
                start_s=start,
                toe_off_s=start + TOE_OFF * CYCLE_S,
                end_s=start + CYCLE_S,
                opposite_toe_off_s=start + OPPOSITE_TOE_OFF * CYCLE_S,
                opposite_contact_s=start + OPPOSITE_CONTACT * CYCLE_S,
                contact="heel",
                sources=("markers",),
                speed_m_s=STRIDE_M / CYCLE_S,
            )
            for side in SIDES
            for number in range(self.n_cycles)
            for start in (self.contact_s(side) + number * CYCLE_S,)
            if start + CYCLE_S <= self.time_s[-1]
        )


def one_cycle(walk: Walk, **changes: object) -> Cycle:
    """Return the first right cycle of a walk, changed."""
    cycle = next(c for c in walk.cycles() if c.side == "right")
    return replace(cycle, **changes)  # type: ignore[arg-type]


def with_filled(motion: Motion, point: str, start_s: float, end_s: float) -> Motion:
    """Return the motion with samples of one point marked as filled."""
    mask = motion.filled[point].copy()
    mask[round(start_s * motion.rate_hz) : round(end_s * motion.rate_hz) + 1] = True
    return replace(motion, filled={**motion.filled, point: mask})


def with_gap(motion: Motion, side: Side, joint: Joint, start_s: float, end_s: float) -> Motion:
    """Return the motion with a gap in one angle, at every smoothing."""
    values = motion.angles[side, joint].values.copy()
    values[round(start_s * motion.rate_hz) : round(end_s * motion.rate_hz) + 1] = np.nan
    signal = Signal(values, "deg", joint)
    fast, falling = (
        {key: signal if key == (side, joint) else own for key, own in angles.items()}
        for angles in (motion.fast_marker_angles, motion.falling_angles)
    )
    return replace(
        motion,
        angles={**motion.angles, (side, joint): signal},
        fast_marker_angles=fast,
        falling_angles=falling,
    )


def angles_only(motion: Motion) -> Motion:
    """Return the motion as a sheet of angles over time gives it: no markers."""
    return replace(
        motion,
        points={},
        fast_points={},
        filled={},
        marker_angles={},
        fast_marker_angles={},
        falling_angles={},
        angle_origin={key: "file" for key in motion.angles},
        neutral={},
        foot_flat={},
    )


def swapped(motion: Motion) -> Motion:
    """Return the motion seen in a mirror: left and right exchanged."""

    def other(key: str) -> str:
        for side in SIDES:
            if key.startswith(side):
                return key.replace(side, opposite(side), 1)
        return key

    mirror = np.array([1.0, -1.0, 1.0])
    points = {other(key): xyz * mirror for key, xyz in motion.points.items()}
    return replace(
        motion,
        points=points,
        fast_points=points,
        filled={other(key): mask for key, mask in motion.filled.items()},
        angles={(opposite(s), j): signal for (s, j), signal in motion.angles.items()},
        angle_origin={(opposite(s), j): word for (s, j), word in motion.angle_origin.items()},
        marker_angles={(opposite(s), j): v for (s, j), v in motion.marker_angles.items()},
        fast_marker_angles={(opposite(s), j): v for (s, j), v in motion.fast_marker_angles.items()},
        falling_angles={(opposite(s), j): v for (s, j), v in motion.falling_angles.items()},
        neutral={opposite(s): n for s, n in motion.neutral.items()},
        foot_flat={opposite(s): m for s, m in motion.foot_flat.items()},
    )
