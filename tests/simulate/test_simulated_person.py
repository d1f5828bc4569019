"""Made-up persons scatter between walks as ordered."""

import numpy as np
import pytest

from gaittrack.simulate.person import Person, WalkScatter, simulate_person_walks
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe

PERSON = Person(
    "P90", {"without brace": WalkRecipe(n_strides=1, left=FootRecipe())}, WalkScatter(0.05)
)


def test_first_walks_do_not_depend_on_how_many_are_made():
    """Asking for more walks adds to the same ones."""
    two = simulate_person_walks(PERSON, "without brace", n_walks=2, seed=1)
    three = simulate_person_walks(PERSON, "without brace", n_walks=3, seed=1)
    assert [walk.recipe for walk in two] == [walk.recipe for walk in three[:2]]


def test_speed_scatters_between_walks_as_ordered():
    """Standard deviation of the walks' speeds is the ordered 0.05 m/s within sampling error."""
    walks = simulate_person_walks(PERSON, "without brace", n_walks=40, seed=2)
    speeds = [walk.recipe.speed_m_s for walk in walks]
    assert np.std(speeds, ddof=1) == pytest.approx(0.05, rel=0.35)


def test_unknown_condition_names_the_known_ones():
    """The message lists what there is."""
    with pytest.raises(ValueError, match="without brace"):
        simulate_person_walks(PERSON, "barefoot", n_walks=1, seed=1)
