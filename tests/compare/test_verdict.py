"""Promises of the verdict table."""

import math

import numpy as np
import pytest

from gaittrack.compare.interval import WITHIN_THIS_WALK, Interval, no_interval
from gaittrack.compare.measurement_error import NO_FLOOR, Floor
from gaittrack.compare.typical import TypicalRange
from gaittrack.compare.verdict import (
    AWAY,
    LARGER,
    NOT_SHOWN,
    TOWARD,
    VERDICTS,
    WITHIN,
    ContactShares,
    judge,
    typical_direction,
    why_clearance_not_comparable,
    why_rate_not_comparable,
)

FIVE = Floor(5.0, "table")


@pytest.mark.parametrize(
    ("low", "high", "word"),
    [
        (3, 13, LARGER),
        (0.1, 9.9, LARGER),
        (1, 8, WITHIN),
        (-4, 4, WITHIN),
        (-4, 6, NOT_SHOWN),
        (-2, 14, NOT_SHOWN),
        (0.5, 4.9, WITHIN),
    ],
)
def test_verdict_table(low, high, word):
    """Design table: excludes 0 and reaches the floor; inside, or excludes 0 short of it; else."""
    found = judge((low + high) / 2, Interval(low, high, "kind"), FIVE)
    assert found.word == word
    mirrored = judge(-(low + high) / 2, Interval(-high, -low, "kind"), FIVE)
    assert mirrored.word == word


def test_direction_is_said_only_past_error_and_rates_are_slower_or_faster():
    """A rate is never better or worse."""
    assert judge(-8, Interval(-10, -6, "k"), FIVE).direction == "lower"
    assert judge(-8, Interval(-10, -6, "k"), FIVE, is_rate=True).direction == "slower"
    assert judge(8, Interval(6, 10, "k"), FIVE, is_rate=True).direction == "faster"
    assert judge(2, Interval(1, 3, "k"), FIVE).direction == ""


def test_without_a_floor_no_change_is_called():
    """However far the interval lies from zero."""
    assert judge(50, Interval(40, 60, "k"), Floor(math.nan, NO_FLOOR)).word == NO_FLOOR


def test_without_an_interval_nothing_is_shown():
    """With the reason, never "no effect"."""
    found = judge(50, no_interval("only one walk"), FIVE)
    assert (found.word, found.reason) == (NOT_SHOWN, "only one walk")


def test_interval_within_one_walk_shows_nothing_of_another():
    """Neither a change nor its absence."""
    for low, high in ((6, 10), (-1, 1)):
        found = judge((low + high) / 2, Interval(low, high, f"blocks; {WITHIN_THIS_WALK}"), FIVE)
        assert found.word == NOT_SHOWN and WITHIN_THIS_WALK in found.reason


def test_words_are_descriptive():
    """No advice, no effect claims."""
    assert not any("effect" in word or "significant" in word for word in VERDICTS)


def test_toward_and_away_go_by_distance_to_the_range():
    """Inside the range there is neither."""
    norm = TypicalRange("m", -5, 5, "s")
    assert typical_direction(-6, -12, norm) == TOWARD
    assert typical_direction(9, 0, norm) == AWAY
    assert typical_direction(4, -4, norm) == ""
    assert typical_direction(4, -4, None) == ""


@pytest.mark.parametrize(
    ("own", "reference", "words"),
    [
        ((20, 20), (2, 20), "contact type changed: heel contact in 10 % of reference strides and"),
        ((2, 20), (20, 20), "contact type changed"),
        ((2, 20), (2, 20), "seldom touches first"),
        ((4, 5), (20, 20), "too few heel contacts"),
        ((0, 0), (20, 20), "not known"),
        ((10, 20), (20, 20), ""),
        ((5, 5), (5, 10), ""),
    ],
)
def test_rate_needs_heel_contacts_in_both(own, reference, words):
    """At least half and at least five; both shares are said."""
    found = why_rate_not_comparable(ContactShares(*own), ContactShares(*reference))
    assert words in found and bool(found) == bool(words)


@pytest.mark.parametrize(
    ("own", "reference", "comparable"),
    [(100, 80, True), (100, 79, False), (49, 60, False), (50, 50, True), (math.nan, 90, False)],
)
def test_clearance_needs_minima_in_both_alike(own, reference, comparable):
    """At least 50 % each, at most 20 points apart."""
    assert (why_clearance_not_comparable(own, reference) == "") == comparable
    assert (why_clearance_not_comparable(reference, own) == "") == comparable


def test_closed_list_covers_every_random_case():
    """Whatever the numbers, the word is one of the list."""
    rng = np.random.default_rng(0)
    for low, width, floor in rng.uniform(-10, 10, (200, 3)):
        interval = Interval(low, low + abs(width), "k")
        assert judge(low + abs(width) / 2, interval, Floor(abs(floor), "s")).word in VERDICTS
