"""What the rate's estimators do to whole walks: ``python -m tests.golden.rate_repeatability``.

Recorded walks, with noise added to their markers, show how far noise moves an estimator and how
much it scatters one and the same stride; the reference is the peak at 25 Hz without added noise.
Made-up walks, whose true rates are known, show what of the scatter between strides and between
walks is the walker's own. No two walks of one person in one condition are among the recordings.
In deg/s; kept is per cent of the reference, which is true of made-up walks; error_sd that of a
stride about the mean error; sd_ between strides of a walk and between means of walks, own_ the
true rates'.
"""

from __future__ import annotations

import csv
import itertools
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from unittest.mock import patch

import numpy as np

from gaittrack.cycles import Cycle, cut_cycles
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion, walker_points
from gaittrack.kinematics.motion import Motion
from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.loading_window import lowering_window
from gaittrack.measures.recording import PreparedMotion
from gaittrack.read import read_trial
from gaittrack.simulate.person import WalkScatter, scatter_walk
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import FloatArray, Trial
from gaittrack.vocabulary import Joint, Side
from tests.golden.rate_estimators import (
    CONTACT_S,
    ESTIMATORS,
    LENGTH_S,
    Estimator,
    peak_at,
)

REFERENCE = Path(__file__).parents[1] / "reference"
SEED, REPEATS, N_WALKS = 20260302, 10, 10
RECORDED = (
    "walk_two_plates_100hz.c3d",
    "walk_right_leg_with_force_a_150hz.txt",
    "handbook_walk_2d_raw_digitised_70hz.txt",
)
COMPARED = (
    *("peak, 6 Hz", "peak, 15 Hz", "peak, 20 Hz", "20 Hz, when 8 Hz is highest"),
    *("20 Hz, when 10 Hz is highest", "raised cosine fitted"),
)
FEET = {
    "slap": FootRecipe(contact_pitch_deg=11.0, lowering_time_s=0.06, swing_pitch_deg=-29.0),
    "braced": FootRecipe(contact_pitch_deg=17.0, lowering_time_s=0.11, swing_pitch_deg=-20.0),
}
JOINTS: tuple[Joint, ...] = ("ankle", "foot_pitch")
NOISES_MM = (0.5, 1.0, 2.0)
COLUMNS = (
    *("walks", "angle", "estimator", "noise_mm", "n", "reference_deg_s", "kept_percent"),
    *("error_sd", "sd_strides", "own_sd_strides", "sd_walks", "own_sd_walks"),
)
LANDED_S = 0.03
"""What the estimators look past the end of a fall."""


@dataclass(frozen=True)
class Stride:
    """The angle around one contact, unfiltered: contact at ``CONTACT_S``, its window's length."""

    angles: dict[Joint, FloatArray]
    rate_hz: float
    window_s: float
    start_s: float

    def peak(self, joint: Joint, estimator: Estimator) -> float:
        """Return what an estimator finds."""
        return estimator(self.angles[joint], self.rate_hz, self.window_s - LANDED_S)


def strides_of(trial: Trial, cycles: list[tuple[Cycle, float]]) -> list[Stride]:
    """Return the strides of a trial, cut as given."""
    with patch.object(walker_points, "FALL_CUTOFF_HZ", float("inf")):
        unfiltered = describe_motion(trial)
    return [_stride(unfiltered, cycle, window_s) for cycle, window_s in cycles]


def _stride(motion: Motion, cycle: Cycle, window_s: float) -> Stride:
    first = round((cycle.start_s - CONTACT_S) * motion.rate_hz)
    n_frames = round(LENGTH_S * motion.rate_hz)
    angles = {}
    for joint in JOINTS:
        values = motion.falling_angles[cycle.side, joint].values
        before = max(-first, 0)
        padded = np.pad(values, (before, 0), mode="reflect", reflect_type="odd")
        angles[joint] = padded[first + before : first + before + n_frames]
    return Stride(angles, motion.rate_hz, window_s, cycle.start_s)


def heel_contacts(trial: Trial, side: Side | None = None) -> list[tuple[Cycle, float]]:
    """Return the cycles that begin with the heel, with the length of the window."""
    motion = describe_motion(trial)
    recording = PreparedMotion(motion)
    return [
        (cycle, lowering_window(CyclesView(recording, [cycle])).span.end[0] * cycle.duration_s)
        for cycle in cut_cycles(motion, detect_events(motion))
        if cycle.contact == "heel" and side in (None, cycle.side) and cycle.duration_s > 0
    ]


def noisy(trial: Trial, noise_mm: float, rng: np.random.Generator) -> Trial:
    """Return the trial with noise added to every marker."""
    markers = {
        label: xyz + rng.normal(0.0, noise_mm / 1000, xyz.shape)
        for label, xyz in trial.markers.items()
    }
    return replace(trial, markers=markers)


def recorded_rows() -> Iterator[tuple[str, ...]]:
    """Give the rows of the recordings."""
    trials = [read_trial(REFERENCE / name) for name in RECORDED]
    cut = [(trial, heel_contacts(trial)) for trial in trials]
    rng = np.random.default_rng(SEED)
    clean = [stride for trial, cycles in cut for stride in strides_of(trial, cycles)]
    for noise_mm in (0.0, *NOISES_MM):
        runs = [
            [s for trial, cycles in cut for s in strides_of(noisy(trial, noise_mm, rng), cycles)]
            for _ in range(REPEATS if noise_mm else 1)
        ]
        for joint in JOINTS:
            known = np.array([stride.peak(joint, peak_at(25.0)) for stride in clean])
            for name in COMPARED:
                found = np.array([[s.peak(joint, ESTIMATORS[name]) for s in run] for run in runs])
                kept = 100 * found.mean() / known.mean()
                sd = float(np.sqrt(found.var(axis=0, ddof=1).mean())) if noise_mm else 0.0
                told = (f"{noise_mm:g}", f"{len(known)}", f"{known.mean():.0f}", f"{kept:.0f}")
                yield ("recorded", joint, name, *told, f"{sd:.0f}", *("",) * 4)


def made_up_rows(
    noises_mm: Sequence[float] = (0.3, *NOISES_MM), compared: Sequence[str] = COMPARED
) -> Iterator[tuple[str, ...]]:
    """Give the rows of the made-up walks."""
    for foot, recipe in FEET.items():
        for noise_mm in noises_mm:
            walk = WalkRecipe(speed_m_s=1.02, left=recipe, marker_noise_m=noise_mm / 1000)
            strides, true, walks = _made_up(walk)
            for name in compared:
                found = np.array([s.peak("ankle", ESTIMATORS[name]) for s in strides])
                told = (f"{noise_mm:g}", f"{len(true)}", f"{true.mean():.0f}")
                kept = f"{100 * found.mean() / true.mean():.0f}"
                spread = (f"{value:.0f}" for value in _spreads(found, true, walks))
                yield (f"made up, {foot}", "ankle", name, *told, kept, *spread)


def _made_up(recipe: WalkRecipe) -> tuple[list[Stride], FloatArray, FloatArray]:
    """Return left strides of several walks, their true rates, and which walk each is of."""
    strides: list[Stride] = []
    true: list[float] = []
    walks: list[int] = []
    for number in range(N_WALKS):
        rng = np.random.default_rng([SEED, number])
        drawn = scatter_walk(recipe, WalkScatter(), rng)
        walk = simulate_walk(drawn, seed=int(rng.integers(2**31)))
        known = walk.truth.of("left")
        for stride in strides_of(walk.trial, heel_contacts(walk.trial, "left")):
            truth = min(known, key=lambda cycle, at=stride.start_s: abs(cycle.start_s - at))
            if not np.isnan(truth.loading_plantarflexion_rate_deg_s):
                strides.append(stride)
                true.append(truth.loading_plantarflexion_rate_deg_s)
                walks.append(number)
    return strides, np.array(true), np.array(walks)


def _spreads(found: FloatArray, true: FloatArray, walks: FloatArray) -> Iterator[float]:
    """Give the error's SD, then between strides and walks that of what was found and is true."""
    yield float((found - true).std(ddof=1))
    means = [np.array([v[walks == k].mean() for k in np.unique(walks)]) for v in (found, true)]
    inside = [
        np.concatenate([v[walks == k] - v[walks == k].mean() for k in np.unique(walks)])
        for v in (found, true)
    ]
    freedom = len(walks) - len(np.unique(walks))
    yield from (float(np.sqrt((each**2).sum() / freedom)) for each in inside)
    yield from (float(each.std(ddof=1)) for each in means)


if __name__ == "__main__":
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(itertools.chain(recorded_rows(), made_up_rows()))
