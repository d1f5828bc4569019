"""The made-up patients of a made-up rehabilitation department.

In comes nothing, out go four persons with what they wear and how they walk at three visits. No
person stands behind any of them; the sizes of the brace's effects are of the order found in
published comparisons (swing dorsiflexion up by 6–9°, toe clearance up by some millimetres, hip
flexion unchanged in stroke and lower in peripheral weakness).
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from importlib.resources import files
from typing import Any, Final, Literal

from gaittrack.simulate.person import WalkScatter
from gaittrack.simulate.recipe import Body, FootRecipe, Scatter, WalkRecipe

Wear = Literal["without-brace", "with-brace"]
WEARS: tuple[Wear, ...] = ("without-brace", "with-brace")
VISIT_DAYS = (0, 42, 126)
"""Days from the first visit to each."""
Fields = Mapping[str, str | int | float | bool]


@dataclass(frozen=True, slots=True)
class Patient:
    """One made-up patient.

    Attributes
    ----------
    about : mapping
        What a department would note of the person; no name.
    examination : mapping
        What was found at every visit, as fields of a visit; by ``left`` and ``right`` of the legs.
    shoe, brace : mapping
        What is worn, as fields of a condition.
    days_worn : tuple of int
        Days the brace has been worn at each visit.
    first_worn : tuple of Wear
        Which condition was recorded first at each visit.
    recipe : callable (visit, wear) -> WalkRecipe
        ``visit`` counts from 0.
    n_walks : tuple of int
        Walks per condition at each visit.
    kind : {"c3d", "time series", "cycles"}
        How the walks are kept.
    """

    code: str
    about: Fields
    examination: Mapping[str, Any]
    shoe: Fields
    brace: Fields
    days_worn: tuple[int, int, int]
    first_worn: tuple[Wear, Wear, Wear]
    recipe: Callable[[int, Wear], WalkRecipe]
    n_walks: tuple[int, int, int]
    kind: Literal["c3d", "time series", "cycles"]
    between_walks: WalkScatter = WalkScatter()


def _nerve_palsy(visit: int, wear: Wear) -> WalkRecipe:
    """Left drop foot, slap and steppage; the nerve recovers a little from visit to visit."""
    bare = FootRecipe(
        contact_pitch_deg=11.0 + 0.8 * visit,
        lowering_time_s=0.06 + 0.005 * visit,
        toe_off_pitch_deg=-60.0,
        swing_pitch_deg=-29.0 + 1.5 * visit,
        clearance_m=0.024,
    )
    braced = replace(
        bare,
        contact_pitch_deg=17.0,
        lowering_time_s=0.11,
        toe_off_pitch_deg=-56.0,
        swing_pitch_deg=-20.0 + 0.5 * visit,
        clearance_m=0.027,
    )
    speed = (1.02, 1.04, 1.07)[visit] + (0.04 if wear == "with-brace" else 0.0)
    left = braced if wear == "with-brace" else bare
    return WalkRecipe(speed_m_s=speed, left=left, body=Body(mass_kg=78.0))


_STROKE_OTHER_FOOT = FootRecipe(
    contact_pitch_deg=12.0,
    lowering_time_s=0.15,
    toe_off_pitch_deg=-46.0,
    length_factor=0.92,
    time_factor=0.88,
    stance_shift=0.05,
)
"""The less affected foot after the stroke: quick short steps, long stance."""


def _stroke(visit: int, wear: Wear) -> WalkRecipe:
    """Right side slow and stiff, forefoot first; with the brace the knee gives in loading."""
    bare = FootRecipe(
        contact_pitch_deg=-8.0,
        lowering_time_s=0.12,
        heel_rise_fraction=0.65,
        toe_off_pitch_deg=-40.0,
        swing_pitch_deg=-20.5,
        clearance_m=0.016,
        minimum_share=0.35,
        early_lift_m=0.010,
        touch_down_speed_m_s=0.10,
        reach_hold_s=0.16,
        circumduction_m=0.040,
        hip_hike_deg=8.0,
        length_factor=1.08,
        time_factor=1.12,
        stance_shift=-0.05,
    )
    braced = replace(
        bare,
        contact_pitch_deg=8.5,
        swing_pitch_deg=-17.5 + 0.5 * visit,
        clearance_m=0.025,
        minimum_share=0.85,
        reach_hold_s=0.08,
        circumduction_m=0.030,
        hip_hike_deg=6.3,
        loading_dip_m=0.020,
    )
    return WalkRecipe(
        speed_m_s=(0.42, 0.45, 0.47)[visit] + (0.03 if wear == "with-brace" else 0.0),
        n_strides=3,
        left=_STROKE_OTHER_FOOT,
        right=braced if wear == "with-brace" else bare,
        body=Body(thigh_m=0.41, shank_m=0.40, mass_kg=69.0),
        step_width_m=0.15 if wear == "with-brace" else 0.16,
        pelvic_tilt_deg=12.0,
        scatter=Scatter(time=0.025, length=0.03, contact_pitch_deg=1.3),
        left_out=("left metatarsal 5", "right metatarsal 5"),
    )


def _neuropathy(visit: int, wear: Wear) -> WalkRecipe:
    """Both feet drop, a little more from visit to visit; both are braced."""
    bare = FootRecipe(
        contact_pitch_deg=9.5 - 0.5 * visit,
        lowering_time_s=0.065,
        toe_off_pitch_deg=-52.0,
        swing_pitch_deg=-27.0 - 0.8 * visit,
        clearance_m=0.026,
    )
    braced = replace(
        bare,
        contact_pitch_deg=15.0,
        lowering_time_s=0.11,
        toe_off_pitch_deg=-48.0,
        swing_pitch_deg=-19.5 - 0.4 * visit,
        clearance_m=0.028,
    )
    foot = braced if wear == "with-brace" else bare
    speed = (0.92, 0.91, 0.89)[visit] + (0.05 if wear == "with-brace" else 0.0)
    return WalkRecipe(
        speed_m_s=speed,
        left=foot,
        right=replace(foot, swing_pitch_deg=foot.swing_pitch_deg + 2.0),
        step_width_m=0.12,
    )


def _child(visit: int, wear: Wear) -> WalkRecipe:
    """Right drop foot of a child, forefoot first without the brace."""
    bare = FootRecipe(
        contact_pitch_deg=-7.0,
        lowering_time_s=0.07,
        toe_off_pitch_deg=-50.0,
        swing_pitch_deg=-24.0 + visit,
        clearance_m=0.018,
        touch_down_speed_m_s=0.15,
    )
    braced = replace(bare, contact_pitch_deg=12.0, lowering_time_s=0.09, swing_pitch_deg=-16.0)
    grown = 0.006 * visit
    return WalkRecipe(
        speed_m_s=0.98 + 0.02 * visit + (0.04 if wear == "with-brace" else 0.0),
        right=braced if wear == "with-brace" else bare,
        body=Body(
            thigh_m=0.31 + grown,
            shank_m=0.30 + grown,
            foot_scale=0.75,
            pelvis_width_m=0.13,
            mass_kg=26.0,
        ),
        step_width_m=0.09,
        scatter=Scatter(
            time=0.03, length=0.03, contact_pitch_deg=1.8, swing_pitch_deg=2.0, clearance_m=0.003
        ),
    )


def _patients() -> tuple[Patient, ...]:
    """Read the patients; a tuple stands in the file as a list."""
    text = files("gaittrack.simulate").joinpath("patients.toml").read_text(encoding="utf-8")
    return tuple(
        Patient(code=code, recipe=_RECIPES[code], **{k: _fixed(v) for k, v in facts.items()})
        for code, facts in tomllib.loads(text).items()
    )


def _fixed(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


_RECIPES: Final = {"P01": _nerve_palsy, "P02": _stroke, "P03": _neuropathy, "P04": _child}
PATIENTS: Final = _patients()
