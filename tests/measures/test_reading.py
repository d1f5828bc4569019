"""What is refused to one cycle, and read for one, is of no other."""

import numpy as np
import pytest

from gaittrack.ingredients import UPRIGHT, zero_of
from gaittrack.measures.reading import NotDefined, OpenCycles
from gaittrack.reasons import Reason

GAP, NONE = Reason("gap", of="ankle"), Reason("no_toe_off")
FIRST, SECOND = np.array([True, False]), np.array([False, True])


def joined(reads):
    names, origins = zip(*reads, strict=True)
    return frozenset().union(*names), frozenset().union(*origins)


@pytest.fixture
def cycles():
    two = OpenCycles(2, joined)
    two.read((frozenset({"events"}), frozenset()))
    return two


def read(cycles, name):
    cycles.read((frozenset({name}), frozenset({(name, ("file",))})))


def names(cycles):
    return [set(read[0]) for read in cycles.what_was_read()]


def test_the_first_reason_counts(cycles):
    """Who was refused is not refused again."""
    cycles.refuse(FIRST, GAP)
    cycles.refuse(np.array([True, True]), NONE)
    assert cycles.reasons() == [GAP, NONE]


def test_who_was_refused_has_read_no_more(cycles):
    """The other has."""
    read(cycles, "heel")
    cycles.refuse(FIRST, GAP)
    read(cycles, "toe")
    assert names(cycles) == [{"events", "heel"}, {"events", "heel", "toe"}]


def test_what_cancels_is_taken_from_those_that_are_open(cycles):
    """With the zero of a foot, of whatever each has read before."""
    read(cycles, UPRIGHT)
    cycles.refuse(FIRST, GAP)
    read(cycles, zero_of("left"))
    cycles.cancels(UPRIGHT)
    read(cycles, "toe")
    first, second = cycles.what_was_read()
    assert first[0] == {"events", UPRIGHT} and first[1]
    assert second[0] == {"events", zero_of("left"), "toe"}
    assert second[1] == {(UPRIGHT, ("file",)), ("toe", ("file",))}


def test_what_is_shared_counts_for_each_as_if_found_for_it_alone(cycles):
    """Found once; its reads and refusals are of those that still were open."""
    found = []

    def find():
        read(cycles, "heel")
        cycles.refuse(FIRST, GAP)
        read(cycles, "toe")
        found.append(1)
        return 7

    for refused, reasons in ((SECOND, [GAP, NONE]), (FIRST, [NONE, None])):
        cycles.begin()
        cycles.read((frozenset({"events"}), frozenset()))
        cycles.refuse(refused, NONE)
        assert cycles.once("key", find) == 7
        assert cycles.reasons() == reasons
    assert names(cycles) == [{"events"}, {"events", "heel", "toe"}]
    assert found == [1]


def test_what_nobody_has_is_told_each_time(cycles):
    """Also the second time, after what was refused on the way."""

    def find():
        cycles.refuse(FIRST, GAP)
        raise NotDefined(NONE)

    for _ in range(2):
        cycles.begin()
        with pytest.raises(NotDefined, match="toe-off"):
            cycles.once("key", find)
        assert cycles.reasons() == [GAP, None]


def test_what_is_found_for_some_is_read_by_them_alone(cycles):
    """The others stay open, with NaN."""

    def find():
        read(cycles, "toe")
        raise NotDefined(NONE)

    assert np.isnan(cycles.among(FIRST, find)).all()
    assert (names(cycles), cycles.reasons()) == ([{"events", "toe"}, {"events"}], [NONE, None])
    assert cycles.among(SECOND, lambda: np.array([1.0, 2.0])).tolist()[1] == 2.0
    assert cycles.among(FIRST, lambda: pytest.fail("nobody asks")) is not None


def test_an_attempt_refuses_nobody(cycles):
    """It tells for whom something was found; what was read stays."""

    def find():
        read(cycles, "toe")
        cycles.refuse(FIRST, GAP)
        return np.array([[1.0], [2.0]])

    found, seen = cycles.attempt(find)
    assert (found.tolist(), seen.tolist()) == ([[1], [2]], [False, True])
    assert (cycles.reasons(), names(cycles)) == ([None, None], [{"events", "toe"}] * 2)
