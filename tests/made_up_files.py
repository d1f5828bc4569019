"""Made-up recordings as files, for tests of what happens from file to output."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd

from gaittrack.read import read_trial
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import SimulatedWalk, simulate_walk, stand

SAMPLES = Path(__file__).parents[1] / "sample_trials"
RECIPE = WalkRecipe(speed_m_s=1.2, n_strides=4)


def sample_visit(code: str, number: int, folder: Path) -> Path:
    """Copy a visit of the sample trials: what ``write_visit`` would write."""
    return Path(shutil.copytree(SAMPLES / code / f"visit-{number}", folder))


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


def sheet_without_time(path: Path, *, suffix: str = "") -> Path:
    """Write a sheet of joint angles over time that does not say its frames a second.

    Parameters
    ----------
    suffix : str, optional
        Added to each column's name.
    """
    source = SAMPLES / "P03" / "visit-1" / "with-brace" / "walk-1.csv"
    head, *rows = source.read_text(encoding="utf-8").splitlines()
    heads = [name + suffix for name in head.split(";")[1:]]
    kept = [";".join(heads), *(row.partition(";")[2] for row in rows)]
    path.write_text("\n".join(kept), encoding="utf-8")
    return path


def exported_again(recording: Path, table: Path) -> None:
    """Write the markers of a recording as a table, as another program would export them."""
    trial = read_trial(recording)
    points = {
        f"{label} {axis}": 1000 * xyz[:, n]
        for label, xyz in trial.markers.items()
        for n, axis in enumerate("XYZ")
    }
    written = pd.DataFrame(points).round(1)
    written.insert(0, "time", written.index / trial.rate_hz)
    written.to_csv(table, index=False)
