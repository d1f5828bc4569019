"""Made-up persons: their walks scatter from walk to walk as well as from stride to stride.

In comes the recipe of a person's walking and how much it scatters, out comes that of one walk.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
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
