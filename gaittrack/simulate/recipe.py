"""The recipe of a made-up walk: every quantity it is built from, with its unit.

In comes nothing, out go frozen dataclasses: :class:`FootRecipe` for one foot, :class:`WalkRecipe`
for the walk. The relations between speed, cadence and step length stand here too. Numbers without
a source are common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from typing import Literal

from gaittrack.vocabulary import Side

WALK_RATIO_M_MIN = 0.0064
"""Step length over cadence of an adult, m per step/min; common practice, no source."""
ADULT_LEG_M = 0.85
"""Thigh plus shank the walk ratio stands for, m; common practice, no source."""
TYPICAL_SPEED_M_S = 1.3
"""Comfortable adult speed; 1.34 (0.12) m/s in 40 adults is a published figure."""
TYPICAL_STANCE = 0.615
"""Stance as a fraction of the cycle at the typical speed; common practice, no source."""
STANCE_PER_M_S = 0.09
"""Growth of the stance fraction per m/s of slowing; common practice, no source."""

Upright = Literal["Z", "Y"]
Direction = Literal["+", "-"]


@dataclass(frozen=True, slots=True)
class FootRecipe:
    """What one foot does in each of its strides.

    Attributes
    ----------
    contact_pitch_deg : float
        Foot pitch at initial contact; heel first above 0, forefoot first below.
    lowering_time_s : float
        Contact to foot-flat; the pitch goes to 0 along a raised cosine.
    heel_rise_fraction : float
        Start of heel rise as a fraction of stance.
    toe_off_pitch_deg : float
        Foot pitch at toe-off, below 0.
    swing_pitch_deg : float
        Foot pitch in the middle of swing.
    clearance_m : float
        Height of the lowest point of the sole in the middle of swing.
    minimum_share : float
        Share of strides in which the height of the forefoot has a local minimum in mid-swing.
    early_lift_m : float
        How much higher than ``clearance_m`` the sole is in early swing.
    heel_skim_m : float
        Height of the lowest point of the sole in the last 60 ms of swing.
    touch_down_speed_m_s : float
        Downward speed of the touching point just before contact; it stops at once.
    reach_hold_s : float
        Time the foot hangs over its place before it is put down (limp foot: up to 0.25).
    circumduction_m : float
        Sideways excursion of the foot in swing.
    hip_hike_deg : float
        Pelvic obliquity added in swing, swing side up.
    loading_dip_m : float
        How far the pelvis sinks on this leg after contact; flexes the knee in loading.
    length_factor, time_factor : float
        Step length and step time of this foot relative to the walk's mean.
    stance_shift : float
        Added to the stance fraction of the cycle.
    """

    contact_pitch_deg: float = 22.0
    lowering_time_s: float = 0.11
    heel_rise_fraction: float = 0.5
    toe_off_pitch_deg: float = -62.0
    swing_pitch_deg: float = -16.0
    clearance_m: float = 0.022
    minimum_share: float = 1.0
    early_lift_m: float = 0.018
    heel_skim_m: float = 0.014
    touch_down_speed_m_s: float = 0.16
    reach_hold_s: float = 0.0
    circumduction_m: float = 0.0
    hip_hike_deg: float = 0.0
    loading_dip_m: float = 0.0
    length_factor: float = 1.0
    time_factor: float = 1.0
    stance_shift: float = 0.0


def healthy_foot(speed_m_s: float) -> FootRecipe:
    """Return the foot of an unimpaired walker at a speed, slower being flatter and longer.

    Common practice, no source: contact pitch 8–23°, toe-off pitch −45–−68°, lowering 0.1–0.2 s.
    """
    brisk = min(max((speed_m_s - 0.2) / 1.4, 0.0), 1.0)
    return FootRecipe(
        contact_pitch_deg=8.0 + 15.0 * brisk,
        lowering_time_s=0.19 - 0.095 * brisk,
        toe_off_pitch_deg=-44.0 - 22.0 * brisk,
        clearance_m=0.018 + 0.006 * brisk,
        touch_down_speed_m_s=0.10 + 0.08 * brisk,
        heel_rise_fraction=0.6 - 0.1 * brisk,
    )


@dataclass(frozen=True, slots=True)
class Body:
    """Segment lengths of a walker, metres.

    Attributes
    ----------
    thigh_m, shank_m : float
        Joint centre to joint centre.
    foot_scale : float
        1 is an adult's shoe with 0.19 m from heel to ball.
    pelvis_width_m : float
        Between the hip joint centres.
    """

    thigh_m: float = 0.43
    shank_m: float = 0.42
    foot_scale: float = 1.0
    pelvis_width_m: float = 0.17
    mass_kg: float = 72.0

    @property
    def leg_m(self) -> float:
        """Thigh plus shank."""
        return self.thigh_m + self.shank_m


@dataclass(frozen=True, slots=True)
class Scatter:
    """Stride-to-stride scatter as standard deviations; none with all zeros.

    Attributes
    ----------
    time, length : float
        Of step time and step length, relative.
    lowering_time : float
        Relative.
    """

    time: float = 0.015
    length: float = 0.015
    contact_pitch_deg: float = 1.2
    swing_pitch_deg: float = 1.2
    clearance_m: float = 0.002
    lowering_time: float = 0.06


NO_SCATTER = Scatter(**dict.fromkeys((item.name for item in fields(Scatter)), 0.0))
"""Every stride alike."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Samples of one marker that are missing, in seconds from the first frame."""

    label: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class WalkRecipe:
    """One made-up walk.

    Attributes
    ----------
    speed_m_s : float
        Walking speed, 0.2–1.6; cadence and step length follow from it.
    n_strides : int
        Full gait cycles of each foot in view.
    left, right : FootRecipe or None
        None: the foot of an unimpaired walker at this speed.
    step_width_m : float
        Between the midlines of the feet.
    pelvic_tilt_deg : float
        Front down positive.
    pelvic_rotation_deg : float
        Amplitude of the turn of the pelvis about the vertical.
    starts_inside, stops_inside : bool
        Whether the walker starts from standing, stops to standing, in view.
    turn_after_m : float or None
        Walk this far, turn round to the left and come back.
    view_m : (float, float) or None
        Stretch of the way (metres along it) in which markers are seen.
    marker_noise_m : float
        Standard deviation of each coordinate.
    left_out : tuple of str
        Labels of markers that are not there.
    direction : {"+", "-"}
        Along the file's first horizontal axis, or against it.
    belt_speed_m_s : float
        Treadmill belt; 0 overground.
    floor_tilt : float
        Rise of the floor per metre of way (0.001 is 10 mm in 10 m).
    with_plates : bool
        Two force plates, one under a middle stance of each foot.
    """

    speed_m_s: float = 1.2
    n_strides: int = 4
    left: FootRecipe | None = None
    right: FootRecipe | None = None
    body: Body = field(default_factory=Body)
    step_width_m: float = 0.10
    pelvic_tilt_deg: float = 10.0
    pelvic_rotation_deg: float = 4.0
    scatter: Scatter = field(default_factory=Scatter)
    starts_inside: bool = False
    stops_inside: bool = False
    turn_after_m: float | None = None
    view_m: tuple[float, float] | None = None
    rate_hz: float = 100.0
    marker_noise_m: float = 0.0004
    gaps: tuple[Gap, ...] = ()
    left_out: tuple[str, ...] = ()
    up_axis: Upright = "Z"
    direction: Direction = "+"
    belt_speed_m_s: float = 0.0
    floor_tilt: float = 0.0
    with_plates: bool = False

    def foot(self, side: Side) -> FootRecipe:
        """Return the recipe of one foot."""
        given = self.left if side == "left" else self.right
        return given if given is not None else healthy_foot(self.speed_m_s)


def step_time_s(recipe: WalkRecipe) -> float:
    """Return the mean step time from speed and leg length (constant walk ratio)."""
    ratio = WALK_RATIO_M_MIN * (recipe.body.leg_m / ADULT_LEG_M) ** 1.5
    return 60.0 / math.sqrt(60.0 * recipe.speed_m_s / ratio)


def step_length_m(recipe: WalkRecipe) -> float:
    """Return the mean step length: speed times step time."""
    return recipe.speed_m_s * step_time_s(recipe)


def stance_fraction(recipe: WalkRecipe) -> float:
    """Return the mean stance share of the cycle, longer when slow."""
    slowing = TYPICAL_SPEED_M_S - recipe.speed_m_s
    return TYPICAL_STANCE + STANCE_PER_M_S * slowing
