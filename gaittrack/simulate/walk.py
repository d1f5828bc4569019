"""Make a walk from its recipe.

In comes a :class:`WalkRecipe` and a seed, out goes a :class:`SimulatedWalk`: the trial as a reader
would give it, and the truth it was built from.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

import numpy as np

from gaittrack.simulate.forces import make_plates
from gaittrack.simulate.leg import BodyPath
from gaittrack.simulate.placing import place_markers, to_file_axes
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.schedule import plan_steps
from gaittrack.simulate.truth import WalkTruth, find_truth
from gaittrack.trial import FloatArray, Provenance, Trial

SPEED_RANGE_M_S = (0.15, 1.8)
"""Speeds the relations of the recipe are meant for, with a margin."""


@dataclass(frozen=True, eq=False, slots=True)
class SimulatedWalk:
    """A made-up recording and what is true of it."""

    trial: Trial
    truth: WalkTruth
    recipe: WalkRecipe


def simulate_walk(recipe: WalkRecipe, *, seed: int) -> SimulatedWalk:
    """Make one walk.

    Parameters
    ----------
    seed : int
        Same recipe and seed, same walk.

    Raises
    ------
    ValueError
        The speed is outside what the recipe's relations are meant for.
    """
    slowest, fastest = SPEED_RANGE_M_S
    if not slowest <= recipe.speed_m_s <= fastest:
        raise ValueError(
            f"speed_m_s must be {slowest}–{fastest} m/s, got {recipe.speed_m_s}; "
            "running and standing are not simulated"
        )
    rng = np.random.default_rng(seed)
    schedule = plan_steps(recipe, rng)
    body = BodyPath(recipe, schedule)
    n_frames = int((schedule.end_s - schedule.start_s) * recipe.rate_hz) + 1
    time_s = schedule.start_s + np.arange(n_frames) / recipe.rate_hz
    placed = place_markers(body.at(time_s), recipe)
    markers = {label: _recorded(xyz, time_s, recipe, label, rng) for label, xyz in placed.items()}
    plates = make_plates(recipe, schedule, body, n_frames) if recipe.with_plates else ()
    trial = Trial(
        rate_hz=recipe.rate_hz,
        n_frames=n_frames,
        provenance=_provenance(recipe, seed),
        markers=markers,
        plates=plates,
    )
    return SimulatedWalk(trial, find_truth(recipe, schedule, body, time_s), recipe)


def stand(recipe: WalkRecipe, *, seed: int, duration_s: float = 1.0) -> Trial:
    """Make a standing trial of the recipe's walker: both feet flat, side by side.

    Returns
    -------
    Trial
        Without steps; quiet standing with marker noise.
    """
    standing = replace(recipe, starts_inside=True, turn_after_m=None, view_m=None, gaps=())
    rng = np.random.default_rng(seed)
    planned = plan_steps(standing, rng)
    body = BodyPath(standing, replace(planned, start_s=0.0, end_s=0.1))
    n_frames = round(duration_s * recipe.rate_hz)
    placed = place_markers(body.at(np.zeros(n_frames)), standing)
    time_s = np.zeros(n_frames)
    return Trial(
        rate_hz=recipe.rate_hz,
        n_frames=n_frames,
        provenance=_provenance(standing, seed),
        markers={
            label: _recorded(xyz, time_s, standing, label, rng) for label, xyz in placed.items()
        },
    )


def _recorded(
    xyz: FloatArray, time_s: FloatArray, recipe: WalkRecipe, label: str, rng: np.random.Generator
) -> FloatArray:
    since_s = time_s - time_s[0]
    seen = to_file_axes(xyz, since_s, recipe)
    seen = seen + recipe.marker_noise_m * rng.standard_normal(seen.shape)
    if recipe.view_m is not None:
        first, last = recipe.view_m
        seen[(xyz[:, 0] < first) | (xyz[:, 0] > last)] = np.nan
    for gap in recipe.gaps:
        if gap.label == label:
            seen[(since_s >= gap.start_s) & (since_s < gap.end_s)] = np.nan
    return seen


def _provenance(recipe: WalkRecipe, seed: int) -> Provenance:
    digest = hashlib.sha256(f"{recipe!r} {seed}".encode()).hexdigest()
    return Provenance("simulated walk", digest, "simulated walk", ("simulated",))
