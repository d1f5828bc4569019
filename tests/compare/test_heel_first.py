"""Heel-first steps, counted walk by walk."""

import pytest

from gaittrack.compare.counts import compare_counts
from gaittrack.compare.heel_first import HeelFirst, count_heel_first, heel_first_counts
from tests.compare.made_up_walks import walk


@pytest.mark.parametrize(
    ("contacts", "counted"),
    [
        (["heel", "flat", "heel", "forefoot"], HeelFirst(2, 4, 0)),
        (["uncertain", "unknown", "heel"], HeelFirst(1, 1, 1)),
        (["unknown"], HeelFirst(0, 0, 0)),
        ([], HeelFirst(0, 0, 0)),
    ],
)
def test_heel_contacts_are_counted_of_the_known_ones(contacts, counted):
    """Uncertain ones stand apart; unknown ones count nowhere."""
    assert count_heel_first(contacts) == counted


def test_counts_are_those_that_walks_are_compared_by():
    """Four walks with heel contacts against four without: the walks themselves show it."""
    heel = [walk("a", at, {}, n_strides=3, contact="heel") for at in range(4)]
    flat = [walk("b", at, {}, n_strides=3, contact="flat") for at in range(4)]
    counts = [heel_first_counts(walks, "left") for walks in (heel, flat)]
    assert counts == [[(3, 3)] * 4, [(0, 3)] * 4]
    assert compare_counts(*counts).is_changed
    assert heel_first_counts(heel, "right") == [(0, 0)] * 4
