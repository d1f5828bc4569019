"""Promises of levels that steps lie beyond."""

import numpy as np
import pytest

from gaittrack.compare.intervals.levels import count_beyond, find_level

NEVER = [np.array([10.0, 12.0])] * 3


def beyond(*walks, level=25.0, is_above=True):
    """Count steps of walks."""
    return count_beyond([np.array(each, dtype=float) for each in walks], level, is_above=is_above)


def test_steps_and_walks_beyond_are_counted():
    """Three of four, one of four, none: mostly in one walk, seen in two, first at walk 0 step 1."""
    found = beyond([20, 26, 27, 28], [26, 20, 20, 20], [20, 20])
    assert (found.n_beyond, found.n_steps) == (4, 10)
    assert (found.n_walks_seen, found.n_walks_mostly, found.first) == (2, 1, (0, 1))


@pytest.mark.parametrize(
    ("walks", "finding"),
    [
        (([26, 27], [26, 27, 20], [20, 20]), "new"),
        (([26, 20], [26, 20], [26, 20]), "some_steps"),
        (([26, 27, 28, 29], [20] * 4, [20] * 4), "seen_once"),
        (([20], [25.0], []), "none"),
    ],
)
def test_a_sign_takes_most_steps_of_two_walks(walks, finding):
    """Half is not most; one walk is seen once; the level itself is not beyond it."""
    assert find_level(beyond(*walks), beyond(*NEVER)) == finding


def test_a_level_that_the_reference_reaches_too_is_told_apart():
    """One step of it is enough."""
    own, reference = beyond([26, 27], [28, 29]), beyond([20, 26], [20, 20])
    assert find_level(own, reference) == "there_without_too"


def test_below_is_the_mirror_of_above():
    """Hyperextension counts downwards."""
    walks = [[-6, -4], [-7, -8]]
    mirrored = [[6, 4], [7, 8]]
    assert beyond(*walks, level=-5.0, is_above=False) == beyond(*mirrored, level=5.0)
