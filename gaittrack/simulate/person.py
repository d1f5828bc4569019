"""Made-up persons: walks that scatter between walks as well as between strides.

In comes a :class:`Person`, a condition's recipe and a seed, out come several walks. Used by the
sample scenario and to find out how well an interval or a verdict holds what it promises.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.walk import SimulatedWalk, simulate_walk
from gaittrack.vocabulary import SIDES


@dataclass(frozen=True, slots=True)
class WalkScatter:
    """Scatter of a person's mean from walk to walk, standard deviations.

    Attributes
    ----------
    lowering_time : float
        Relative.
    """

    speed_m_s: float = 0.02
    contact_pitch_deg: float = 0.6
    swing_pitch_deg: float = 0.6
    clearance_m: float = 0.001
    lowering_time: float = 0.03


@dataclass(frozen=True, slots=True)
class Person:
    """One made-up person.

    Attributes
    ----------
    code : str
        ``P01`` …
    conditions : mapping of condition name to WalkRecipe
        What the person's walking is in the mean of many walks.
    """

    code: str
    conditions: Mapping[str, WalkRecipe]
    between_walks: WalkScatter = field(default_factory=WalkScatter)


def simulate_person_walks(
    person: Person, condition: str, *, n_walks: int, seed: int
) -> tuple[SimulatedWalk, ...]:
    """Make several walks of one person in one condition.

    Parameters
    ----------
    condition : str
        A key of ``person.conditions``.
    seed : int
        Same person, condition and seed, same walks; the first walks do not depend on ``n_walks``.

    Raises
    ------
    ValueError
        The person has no such condition.
    """
    if condition not in person.conditions:
        known = ", ".join(person.conditions)
        raise ValueError(f"{person.code} has no condition {condition!r}; there are: {known}")
    recipe = person.conditions[condition]
    walks = []
    for number in range(n_walks):
        rng = np.random.default_rng([seed, number])
        this_time = scatter_walk(recipe, person.between_walks, rng)
        walks.append(simulate_walk(this_time, seed=int(rng.integers(2**31))))
    return tuple(walks)


def scatter_walk(recipe: WalkRecipe, scatter: WalkScatter, rng: np.random.Generator) -> WalkRecipe:
    """Return the recipe of one walk, drawn around a person's mean; left and right apart."""
    left, right = (_shifted(recipe.foot(side), scatter, rng) for side in SIDES)
    faster = scatter.speed_m_s * rng.standard_normal()
    return replace(recipe, speed_m_s=recipe.speed_m_s + faster, left=left, right=right)


def _shifted(foot: FootRecipe, scatter: WalkScatter, rng: np.random.Generator) -> FootRecipe:
    draws = rng.standard_normal(4)
    return replace(
        foot,
        contact_pitch_deg=foot.contact_pitch_deg + scatter.contact_pitch_deg * draws[0],
        swing_pitch_deg=foot.swing_pitch_deg + scatter.swing_pitch_deg * draws[1],
        clearance_m=max(foot.clearance_m + scatter.clearance_m * draws[2], 0.002),
        lowering_time_s=foot.lowering_time_s * float(np.exp(scatter.lowering_time * draws[3])),
    )
