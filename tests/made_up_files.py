"""Made-up recordings as files, for tests of what happens from file to output."""

from __future__ import annotations

from pathlib import Path

from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import SimulatedWalk, simulate_walk, stand

RECIPE = WalkRecipe(speed_m_s=1.2, n_strides=4)


def write_walk(
    path: Path, *, seed: int = 1, recipe: WalkRecipe = RECIPE, unit: str = "mm"
) -> SimulatedWalk:
    """Write a made-up walk as C3D and return it with its truth."""
    walk = simulate_walk(recipe, seed=seed)
    write_c3d(path, rate_hz=walk.trial.rate_hz, markers=walk.trial.markers, unit=unit)
    return walk


def write_standing(path: Path, *, seed: int = 1, recipe: WalkRecipe = RECIPE) -> None:
    """Write the same person standing as C3D."""
    trial = stand(recipe, seed=seed)
    write_c3d(path, rate_hz=trial.rate_hz, markers=trial.markers)
