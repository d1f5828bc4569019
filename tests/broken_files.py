"""Write one small file per way of being wrong.

In comes a folder, out go the files of ``BROKEN``; ``sample_trials/broken/README.md`` says what is
wrong with each and what must be said of it. The tests of the reading room and of the command line
go through this list.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.placing import TURN_RADIUS_M
from gaittrack.simulate.recipe import Gap, WalkRecipe
from gaittrack.simulate.sheets import cycle_rows, write_time_series, write_workbook
from gaittrack.simulate.walk import SimulatedWalk, simulate_walk, stand
from gaittrack.trial import FloatArray, Trial

SEED = 7
BLOCK = 512
"""Size of a block of a C3D file, bytes."""
MIPS_CODE = 86
"""Fourth byte of the parameter section for the MIPS byte order."""
RECIPE = WalkRecipe(speed_m_s=1.1, n_strides=2)
FOOT_LABELS = tuple(
    f"{side} {name}"
    for side in ("left", "right")
    for name in ("heel", "toe", "metatarsal 5", "ankle")
)


@dataclass(frozen=True, slots=True)
class Broken:
    """One broken file: its name, and how it is written."""

    name: str
    write: Callable[[Path], None]


def write_broken(folder: Path) -> None:
    """Write every broken file into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    for broken in BROKEN:
        broken.write(folder / broken.name)


def _walk(recipe: WalkRecipe = RECIPE) -> SimulatedWalk:
    return simulate_walk(recipe, seed=SEED)


def _write(path: Path, trial: Trial, *, rate_hz: float | None = None) -> None:
    rate = rate_hz if rate_hz is not None else trial.rate_hz
    write_c3d(path, rate_hz=rate, markers=trial.markers, storage="integer")


def _empty(path: Path) -> None:
    path.write_bytes(b"")


def _text(path: Path) -> None:
    path.write_text("This is a letter, not a recording.\n" * 40, encoding="utf-8", newline="\n")


def _cut_in_parameters(path: Path) -> None:
    _write(path, _walk().trial)
    path.write_bytes(path.read_bytes()[: 2 * BLOCK + 100])


def _cut_in_data(path: Path) -> None:
    _write(path, _walk().trial)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(0.6 * len(whole))])


def _mips(path: Path) -> None:
    _write(path, _walk().trial)
    content = bytearray(path.read_bytes())
    content[BLOCK + 3] = MIPS_CODE
    path.write_bytes(bytes(content))


def _analog_rate_zero(path: Path) -> None:
    trial = _walk(replace(RECIPE, n_strides=1)).trial
    samples = np.zeros(trial.n_frames * 2)
    write_c3d(
        path,
        rate_hz=trial.rate_hz,
        markers=trial.markers,
        storage="integer",
        analog={"switch": samples},
        samples_per_frame=2,
        parameters={"ANALOG": {"RATE": 0.0}},
    )


def _wrong_rate(path: Path) -> None:
    trial = _walk(replace(RECIPE, n_strides=1, rate_hz=200.0)).trial
    _write(path, trial, rate_hz=60.0)


def _no_heel(path: Path) -> None:
    _write(path, _walk(replace(RECIPE, left_out=("left heel", "right heel"))).trial)


def _half_missing(path: Path) -> None:
    trial = _walk().trial
    missing = np.arange(trial.n_frames) % 100 < 50
    _write(path, _with_markers(trial, lambda xyz: np.where(missing[:, None], np.nan, xyz)))


def _with_markers(trial: Trial, change: Callable[[FloatArray], FloatArray]) -> Trial:
    return replace(trial, markers={key: change(xyz) for key, xyz in trial.markers.items()})


def _long_gap(path: Path) -> None:
    gaps = tuple(Gap(f"left {name}", 1.0, 1.7) for name in ("heel", "toe", "metatarsal 5"))
    _write(path, _walk(replace(RECIPE, gaps=gaps)).trial)


def _duplicate_labels(path: Path) -> None:
    trial = _walk().trial
    medial = {
        f"{side} knee ": trial.markers[f"{side} knee"] + [0.0, shift, 0.0]
        for side, shift in (("left", -0.1), ("right", 0.1))
    }
    _write(path, replace(trial, markers={**trial.markers, **medial}))


def _unclear_sheet(path: Path) -> None:
    walk = _walk(replace(RECIPE, n_strides=1))
    columns = [walk.truth.angles_deg["left", "ankle"], walk.truth.angles_deg["left", "knee"]]
    rows = ["A;B", *(f"{one:.2f};{two:.2f}" for one, two in zip(*columns, strict=True))]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8", newline="\n")


def _no_toe_off(path: Path) -> None:
    write_workbook(path, cycle_rows(_walk(), with_timing=False))


def _radians(path: Path) -> None:
    write_time_series(path, _walk(), rad=True)
    text = path.read_text(encoding="utf-8").replace(" (rad)", "")
    path.write_text(text, encoding="utf-8", newline="\n")


def _metres_called_cm(path: Path) -> None:
    trial = _walk().trial
    write_c3d(path, rate_hz=trial.rate_hz, markers=trial.markers, unit="cm", units_per_m=1.0)


def _standing(path: Path) -> None:
    _write(path, stand(RECIPE, seed=SEED, duration_s=2.0))


def _no_feet(path: Path) -> None:
    trial = _walk().trial
    lost = np.full((trial.n_frames, 3), np.nan)
    markers = {key: lost if key in FOOT_LABELS else xyz for key, xyz in trial.markers.items()}
    _write(path, replace(trial, markers=markers))


def _turning_only(path: Path) -> None:
    walk = _walk(replace(RECIPE, speed_m_s=0.6, n_strides=4, turn_after_m=1.2))
    middle = np.mean([xyz for key, xyz in walk.trial.markers.items() if "sis" in key], axis=0)
    in_turn = (middle[:, 0] > 1.2) & (np.abs(middle[:, 1] - TURN_RADIUS_M) < TURN_RADIUS_M)
    frames = np.flatnonzero(in_turn)
    kept = slice(int(frames[0]), int(frames[-1]) + 1)
    markers = {key: xyz[kept] for key, xyz in walk.trial.markers.items()}
    n_frames = kept.stop - kept.start
    _write(path, replace(walk.trial, n_frames=n_frames, markers=markers))


def _two_frames(path: Path) -> None:
    trial = _walk().trial
    markers = {key: xyz[:2] for key, xyz in trial.markers.items()}
    _write(path, replace(trial, n_frames=2, markers=markers))


BROKEN: tuple[Broken, ...] = (
    Broken("empty.c3d", _empty),
    Broken("text.c3d", _text),
    Broken("cut_in_parameters.c3d", _cut_in_parameters),
    Broken("cut_in_data.c3d", _cut_in_data),
    Broken("mips.c3d", _mips),
    Broken("analog_rate_zero.c3d", _analog_rate_zero),
    Broken("wrong_rate.c3d", _wrong_rate),
    Broken("no_heel.c3d", _no_heel),
    Broken("half_missing.c3d", _half_missing),
    Broken("long_gap.c3d", _long_gap),
    Broken("duplicate_labels.c3d", _duplicate_labels),
    Broken("unclear_sheet.csv", _unclear_sheet),
    Broken("no_toe_off.xlsx", _no_toe_off),
    Broken("radians.csv", _radians),
    Broken("metres_called_cm.c3d", _metres_called_cm),
    Broken("standing.c3d", _standing),
    Broken("no_feet.c3d", _no_feet),
    Broken("turning_only.c3d", _turning_only),
    Broken("two_frames.c3d", _two_frames),
)
