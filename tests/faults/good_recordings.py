"""Recordings that are right, made up and recorded, for finding out what a fault does to them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np

from gaittrack.kinematics.landmarks import find_landmarks
from gaittrack.lab_map import LabMap
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.pipeline import InputFile, Recording, measure_recording
from gaittrack.read import read_here
from gaittrack.simulate.recipe import Body, FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Trial

ROOT = Path(__file__).parents[2]
REFERENCE = ROOT / "tests" / "reference"
SAMPLES = ROOT / "sample_trials"
RECORDED = (
    REFERENCE / "walk_two_plates_100hz.c3d",
    REFERENCE / "handbook_walk_2d_coordinates_70hz.txt",
    SAMPLES / "P01" / "visit-1" / "without-brace" / "walk-1.c3d",
    SAMPLES / "P02" / "visit-1" / "with-brace" / "walk-2.c3d",
)
BARE = FootRecipe(contact_pitch_deg=11.0, lowering_time_s=0.06, swing_pitch_deg=-29.0)
LIMP = FootRecipe(contact_pitch_deg=-8.0, swing_pitch_deg=-22.0, clearance_m=0.018)
RECIPES = {
    "simulated, unimpaired": WalkRecipe(n_strides=4),
    "simulated, drop foot": WalkRecipe(speed_m_s=1.0, left=BARE),
    "simulated, forefoot first": WalkRecipe(speed_m_s=0.8, n_strides=3, right=LIMP),
}


@dataclass(frozen=True)
class Good:
    """A recording that is right."""

    name: str
    trial: Trial
    standing: Trial | None = None

    @cached_property
    def labels(self) -> dict[str, str]:
        """Landmark to label."""
        lone = "right" if "handbook" in self.name else None
        return dict(find_landmarks(self.trial.markers, LabMap(), lone_side=lone).labels)


def good_recordings() -> Iterator[Good]:
    """Give the recordings that faults are planted in."""
    for path in RECORDED:
        yield Good(path.stem if "P0" not in str(path) else _sample_name(path), read(path))
    for seed, (name, recipe) in enumerate(RECIPES.items(), 11):
        yield Good(name, simulate_walk(recipe, seed=seed).trial)


def _sample_name(path: Path) -> str:
    return " ".join(path.with_suffix("").parts[-4:])


def read(path: Path) -> Trial:
    """Read a recording in this process."""
    return read_here(str(path), (), None)


def measured(trial: Trial, standing: Trial | None = None) -> object:
    """Measure a trial that is in no file."""
    recording = Recording(InputFile(Path("made_up.c3d")))
    return measure_recording(recording, trial=lambda: trial, standing=standing)


def random_recipes(n: int, seed: int) -> Sequence[WalkRecipe]:
    """Return recipes of ordinary and impaired walks, drawn over all that a patient may show."""
    rng = np.random.default_rng(seed)
    return [_random_recipe(rng) for _ in range(n)]


def _random_recipe(rng: np.random.Generator) -> WalkRecipe:
    speed = rng.uniform(0.35, 1.5)
    size = rng.uniform(0.75, 1.1)
    body = Body(0.43 * size, 0.42 * size, foot_scale=size, pelvis_width_m=0.17 * size)
    recipe = WalkRecipe(
        speed_m_s=float(speed * size),
        n_strides=int(rng.integers(2, 6)),
        body=body,
        step_width_m=float(rng.uniform(0.07, 0.16)),
        pelvic_tilt_deg=float(rng.uniform(4.0, 16.0)),
        rate_hz=float(rng.choice([60.0, 100.0, 120.0, 200.0])),
        marker_noise_m=float(rng.choice([0.0002, 0.0004, 0.001])),
        direction="+" if rng.random() < 0.5 else "-",
        up_axis="Z" if rng.random() < 0.7 else "Y",
        starts_inside=bool(rng.random() < 0.15),
        stops_inside=bool(rng.random() < 0.15),
    )
    feet = {side: _random_foot(rng, speed) for side in ("left", "right") if rng.random() < 0.6}
    return replace(recipe, **feet)


def _random_foot(rng: np.random.Generator, speed: float) -> FootRecipe:
    return FootRecipe(
        contact_pitch_deg=float(rng.uniform(-9.0, 22.0)),
        lowering_time_s=float(rng.uniform(0.05, 0.16)),
        toe_off_pitch_deg=float(rng.uniform(-60.0, -38.0)),
        swing_pitch_deg=float(rng.uniform(-29.0, -14.0)),
        clearance_m=float(rng.uniform(0.014, 0.04)),
        minimum_share=float(rng.uniform(0.3, 1.0)),
        hip_hike_deg=float(rng.uniform(0.0, 8.0)),
        circumduction_m=float(rng.uniform(0.0, 0.04)),
        touch_down_speed_m_s=float(rng.uniform(0.1, 0.18)),
        reach_hold_s=float(rng.uniform(0.0, 0.16)) if speed < 0.6 else 0.0,
    )


def is_walk(result: object) -> bool:
    """Whether anything was measured."""
    return isinstance(result, MeasuredWalk)
