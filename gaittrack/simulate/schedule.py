"""When and where each foot is put down.

In comes a recipe and a random generator, out goes the list of steps, left and right in turn, with
the instants of contact and toe-off and the place of the foot. Everything else is built around it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from gaittrack.simulate.recipe import (
    FootRecipe,
    Scatter,
    WalkRecipe,
    stance_fraction,
    step_length_m,
    step_time_s,
)
from gaittrack.vocabulary import Side, opposite

FAR_S = 1000.0
"""Stands for "before the walk" and "after it" in the times of standing feet."""
STANDING_S = 0.8
"""Quiet standing before the first and after the last step, in view."""
SHORTEST_DOUBLE_SUPPORT_S = 0.03
"""Walking has double support; keeps scatter from turning it into running."""
LEAD_STEPS = 4
"""Steps outside the view before and after a walk that neither starts nor stops in view."""


@dataclass(frozen=True, slots=True)
class Step:
    """One footfall.

    Attributes
    ----------
    heel_m : float
        Place of the back of the sole along the way while the foot is flat.
    foot : FootRecipe
        Of this stride, scatter included: how the foot came down here and how it leaves.
    """

    side: Side
    contact_s: float
    toe_off_s: float
    heel_m: float
    foot: FootRecipe


@dataclass(frozen=True, slots=True)
class Schedule:
    """All steps of a walk and the stretch of time that is recorded."""

    steps: tuple[Step, ...]
    start_s: float
    end_s: float

    def of(self, side: Side) -> tuple[Step, ...]:
        """Return the steps of one foot."""
        return tuple(step for step in self.steps if step.side == side)


def plan_steps(recipe: WalkRecipe, rng: np.random.Generator) -> Schedule:
    """Plan the steps of a walk.

    Parameters
    ----------
    rng : numpy Generator
        Source of the scatter.

    Returns
    -------
    Schedule
        Contacts strictly in time order, sides in turn.
    """
    before, after = _lead_steps(recipe)
    n_steps = before + 2 * recipe.n_strides + 2 + after
    sides = _alternating(n_steps)
    feet = [_scattered(recipe.foot(side), recipe.scatter, rng) for side in sides]
    times, places = _times_and_places(recipe, sides, rng)
    toe_offs = _toe_offs(recipe, sides, times)
    steps = [
        Step(side, when, off, place, foot)
        for side, when, off, place, foot in zip(sides, times, toe_offs, places, feet, strict=True)
    ]
    return Schedule(tuple(steps), *_recorded(recipe, times))


def _lead_steps(recipe: WalkRecipe) -> tuple[int, int]:
    return (2 if recipe.starts_inside else LEAD_STEPS), (0 if recipe.stops_inside else LEAD_STEPS)


def _alternating(n_steps: int) -> list[Side]:
    first: Side = "right"
    return [first if number % 2 == 0 else opposite(first) for number in range(n_steps)]


def _scattered(foot: FootRecipe, scatter: Scatter, rng: np.random.Generator) -> FootRecipe:
    draws = rng.standard_normal(4)
    return replace(
        foot,
        contact_pitch_deg=foot.contact_pitch_deg + scatter.contact_pitch_deg * draws[0],
        swing_pitch_deg=foot.swing_pitch_deg + scatter.swing_pitch_deg * draws[1],
        clearance_m=max(foot.clearance_m + scatter.clearance_m * draws[2], 0.002),
        minimum_share=float(rng.random() < foot.minimum_share),
        lowering_time_s=foot.lowering_time_s * math.exp(scatter.lowering_time * draws[3]),
    )


def _times_and_places(
    recipe: WalkRecipe, sides: list[Side], rng: np.random.Generator
) -> tuple[list[float], list[float]]:
    mean_time, mean_length = step_time_s(recipe), step_length_m(recipe)
    n_steps = len(sides)
    noise = rng.standard_normal((n_steps, 2))
    factors = [recipe.foot(side) for side in sides]
    durations = [
        mean_time * foot.time_factor * (1 + recipe.scatter.time * noise[number, 0])
        for number, foot in enumerate(factors)
    ]
    lengths = [
        mean_length * foot.length_factor * (1 + recipe.scatter.length * noise[number, 1])
        for number, foot in enumerate(factors)
    ]
    if recipe.starts_inside:
        durations[2] = STANDING_S + mean_time
        lengths[1], lengths[2] = 0.0, 0.5 * lengths[2]
    if recipe.stops_inside:
        lengths[-1] = 0.0
    times = (np.cumsum(durations) - durations[0]).tolist()
    places = (np.cumsum(lengths) - lengths[0]).tolist()
    if recipe.starts_inside:
        times = [when - times[1] for when in times]
        times[0], times[1] = -FAR_S - 1.0, -FAR_S
    return times, places


def _toe_offs(recipe: WalkRecipe, sides: list[Side], times: list[float]) -> list[float]:
    mean = stance_fraction(recipe)
    toe_offs = []
    for number, side in enumerate(sides):
        if number + 2 >= len(sides):
            toe_offs.append(math.inf)
            continue
        stance = mean + recipe.foot(side).stance_shift
        stride_s = times[number + 2] - times[number]
        if stride_s > FAR_S / 2:
            stride_s = 2 * step_time_s(recipe)
        off = times[number + 2] - (1 - stance) * stride_s
        earliest = max(times[number + 1], -STANDING_S) + SHORTEST_DOUBLE_SUPPORT_S
        toe_offs.append(max(off, earliest))
    return toe_offs


def _recorded(recipe: WalkRecipe, times: list[float]) -> tuple[float, float]:
    margin_s = 0.45 * step_time_s(recipe)
    before, after = _lead_steps(recipe)
    start_s = 0.0 if recipe.starts_inside else times[before] - margin_s
    end_s = times[-1] + STANDING_S if recipe.stops_inside else times[-after - 1] + margin_s
    return start_s, end_s
