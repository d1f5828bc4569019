"""Promises of the verdict table."""

import math

import numpy as np
import pytest

from gaittrack.compare.interval import Interval, no_interval, within_walk_interval
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
    Verdict,
    judge,
    typical_direction,
    why_clearance_not_comparable,
    why_rate_not_comparable,
)
from gaittrack.reasons import Reason

KIND = Reason("welch")
FIVE = Floor(5.0, Reason("floor_swing"))


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
    found = judge((low + high) / 2, Interval(low, high, KIND), FIVE)
    assert found.code == word
    mirrored = judge(-(low + high) / 2, Interval(-high, -low, KIND), FIVE)
    assert mirrored.code == word


def test_direction_is_said_only_past_error_and_rates_are_slower_or_faster():
    """A rate is never better or worse."""
    assert judge(-8, Interval(-10, -6, KIND), FIVE).direction == "lower"
    assert judge(-8, Interval(-10, -6, KIND), FIVE, is_rate=True).direction == "slower"
    assert judge(8, Interval(6, 10, KIND), FIVE, is_rate=True).direction == "faster"
    assert judge(2, Interval(1, 3, KIND), FIVE).direction == ""


def test_without_a_floor_no_change_is_called():
    """However far the interval lies from zero."""
    assert judge(50, Interval(40, 60, KIND), Floor(math.nan, Reason(NO_FLOOR))).code == NO_FLOOR


def test_without_an_interval_nothing_is_shown():
    """With the reason, never "no effect"."""
    found = judge(50, no_interval(Reason("only_one_walk")), FIVE)
    assert (found.code, found.reason) == (NOT_SHOWN, Reason("only_one_walk"))


def test_interval_within_one_walk_shows_nothing_of_another():
    """Neither a change nor its absence."""
    for shift in (8, 0):
        strides = np.random.default_rng(0).normal(size=(2, 60))
        interval = within_walk_interval(strides[0] + shift, strides[1])
        assert interval.excludes_zero == (shift == 8)
        found = judge(shift, interval, FIVE)
        assert (found.code, found.reason) == (NOT_SHOWN, Reason("one_walk_interval"))


def test_words_are_descriptive():
    """No advice, no effect claims."""
    said = [Verdict(code).say() for code in VERDICTS]
    assert not any("effect" in words or "significant" in words for words in said)
    assert said[:3] == ["larger than measurement error", "within measurement error", "not shown"]


def test_a_verdict_is_said_with_reason_and_direction():
    """As one phrase."""
    assert Verdict(LARGER, None, "higher", TOWARD).say() == (
        "larger than measurement error, higher, toward typical"
    )
    assert Verdict(NOT_SHOWN, Reason("no_strides")).say() == "not shown: no strides"


def test_toward_and_away_go_by_distance_to_the_range():
    """Inside the range there is neither."""
    norm = TypicalRange("m", -5, 5, "s")
    assert typical_direction(-6, -12, norm) == TOWARD
    assert typical_direction(9, 0, norm) == AWAY
    assert typical_direction(4, -4, norm) == ""
    assert typical_direction(4, -4, None) == ""


@pytest.mark.parametrize(
    ("own", "reference", "code"),
    [
        ((20, 20), (2, 20), "contact_type_changed"),
        ((2, 20), (20, 20), "contact_type_changed"),
        ((2, 20), (2, 20), "heel_seldom_first"),
        ((4, 5), (20, 20), "too_few_heel_contacts"),
        ((0, 0), (20, 20), "contact_type_not_known"),
        ((10, 20), (20, 20), None),
        ((5, 5), (5, 10), None),
    ],
)
def test_rate_needs_heel_contacts_in_both(own, reference, code):
    """At least half and at least five; both shares are given where they are known."""
    found = why_rate_not_comparable(ContactShares(*own), ContactShares(*reference))
    assert (found.code if found else None) == code
    if found and code != "contact_type_not_known":
        assert found["own_percent"] == 100 * own[0] / own[1]
        assert found["reference_percent"] == 100 * reference[0] / reference[1]


@pytest.mark.parametrize(
    ("own", "reference", "comparable"),
    [(100, 80, True), (100, 79, False), (49, 60, False), (50, 50, True), (math.nan, 90, False)],
)
def test_clearance_needs_minima_in_both_alike(own, reference, comparable):
    """At least 50 % each, at most 20 points apart."""
    assert (why_clearance_not_comparable(own, reference) is None) == comparable
    assert (why_clearance_not_comparable(reference, own) is None) == comparable


def test_closed_list_covers_every_random_case():
    """Whatever the numbers, the word is one of the list."""
    rng = np.random.default_rng(0)
    for low, width, floor in rng.uniform(-10, 10, (200, 3)):
        interval = Interval(low, low + abs(width), KIND)
        assert (
            judge(low + abs(width) / 2, interval, Floor(abs(floor), Reason("floor_swing"))).code
            in VERDICTS
        )
