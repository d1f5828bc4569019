"""Made-up persons scatter between walks as ordered."""

import numpy as np
import pytest

from gaittrack.simulate.person import WalkScatter, scatter_walk
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe


def test_speed_scatters_between_walks_as_ordered():
    """Standard deviation of the walks' speeds is the ordered 0.05 m/s within sampling error."""
    recipe, scatter = WalkRecipe(n_strides=1, left=FootRecipe()), WalkScatter(0.05)
    walks = [scatter_walk(recipe, scatter, np.random.default_rng([2, n])) for n in range(40)]
    assert np.std([walk.speed_m_s for walk in walks], ddof=1) == pytest.approx(0.05, rel=0.35)
