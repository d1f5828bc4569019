"""Promises of the verdict table."""

import math

import numpy as np
import pytest

from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.intervals.decision import VERDICTS
from gaittrack.compare.intervals.interval import Interval, no_interval, within_walk_interval
from gaittrack.compare.intervals.verdict import (
    AWAY,
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NOT_SHOWN,
    TOWARD,
    ContactShares,
    Verdict,
    judge,
    typical_direction,
    why_clearance_not_comparable,
    why_rate_not_comparable,
)
from gaittrack.compare.measurement_error.marker_errors import NO_ERROR_FIGURE, MeasurementError
from gaittrack.compare.measurement_error.placement import UNTOUCHED, Placement
from gaittrack.compare.typical_values.typical import TypicalRange
from gaittrack.reasons import Reason
from tests.compare.made_up_walks import SWING, row_of, walks

KIND = Reason("welch")
FIVE = MeasurementError(UNTOUCHED, 5.0, Reason("error_left_on"), False, True)
INSIDE = MeasurementError(Placement(2, 2), 5.5, Reason("error_ankle"), True, True)
NONE = MeasurementError(UNTOUCHED, math.nan, Reason(NO_ERROR_FIGURE), False, False)


def said(low, high, error=FIVE, p=0.01, adjusted_p=0.02, **more):
    """Judge a difference in the middle of an interval of the walks."""
    middle = (low + high) / 2
    return judge(middle, Interval(low, high, KIND), error, p=p, adjusted_p=adjusted_p, **more)


def test_an_error_inside_the_interval_is_not_asked_for_again():
    """Where the family passed, a difference short of it is larger all the same."""
    assert said(2, 4, INSIDE).code == LARGER
    assert said(2, 4, FIVE).code == CHANGE_IN_THESE_WALKS


def test_a_change_in_these_walks_says_whether_it_is_error_or_many_questions():
    """Past the error by itself, "of a size that measuring error can make" would be false."""
    error, many = Reason("size_of_error"), Reason("one_of_many_questions")
    assert said(2, 14, INSIDE, p=0.3, adjusted_p=1.0).reason == error
    assert said(2, 14, INSIDE, p=0.04, adjusted_p=0.2).reason == many
    assert said(2, 14, FIVE, p=0.04, adjusted_p=0.2).reason == many
    assert said(1, 4, FIVE, p=0.04, adjusted_p=0.2).reason == error
    assert said(1, 4, FIVE).say() == (
        "a change in these walks, of a size that measuring error can make"
    )


def test_direction_is_said_only_past_error_and_rates_are_slower_or_faster():
    """A rate is never better or worse."""
    assert said(-10, -6).direction == "lower"
    assert said(-10, -6, is_rate=True).direction == "slower"
    assert said(6, 10, is_rate=True).direction == "faster"
    assert said(1, 3).direction == ""


def test_without_an_interval_nothing_is_shown():
    """With the reason."""
    none = no_interval(Reason("only_one_walk"))
    found = judge(50, none, FIVE, p=math.nan, adjusted_p=math.nan)
    assert (found.code, found.reason) == (NOT_SHOWN, Reason("only_one_walk"))


def test_interval_within_one_walk_shows_nothing_of_another():
    """Neither a change nor its absence."""
    for shift in (8, 0):
        strides = np.random.default_rng(0).normal(size=(2, 60))
        interval = within_walk_interval(strides[0] + shift, strides[1])
        assert (interval.low > 0) == (shift == 8)
        found = judge(shift, interval, FIVE, p=math.nan, adjusted_p=math.nan)
        assert (found.code, found.reason) == (NOT_SHOWN, Reason("one_walk_interval"))


def test_words_are_descriptive():
    """No advice, no effect claims."""
    words = [Verdict(code).say() for code in VERDICTS]
    banned = ("effect", "significant", "about the same", "within")
    assert not any(word in each for each in words for word in banned)
    assert words[:4] == [
        "larger than measurement error",
        "a change in these walks",
        "no change larger than measurement error",
        "not shown",
    ]


def test_a_verdict_is_said_with_reason_and_direction():
    """As one phrase."""
    assert Verdict(LARGER, None, "higher", TOWARD).say() == (
        "larger than measurement error, higher, toward typical"
    )
    assert Verdict(NOT_SHOWN, Reason("no_strides")).say() == "not shown: no strides"


def test_toward_and_away_go_by_distance_to_the_range():
    """Inside the range there is neither."""
    norm = TypicalRange("m", -5, 5, "s")
    assert typical_direction(-6, -12, norm, 3) == TOWARD
    assert typical_direction(9, 0, norm, 3) == AWAY
    assert typical_direction(4, -4, norm, 3) == ""
    assert typical_direction(4, -4, None, 3) == ""


def test_toward_and_away_need_more_than_the_error_in_the_distance():
    """From 6 below the range to 4 above it: 10 of difference, 2 nearer."""
    norm = TypicalRange("m", -5, 5, "s")
    assert typical_direction(9, -11, norm, 3) == ""
    assert typical_direction(9, -11, norm, 1.9) == TOWARD
    assert typical_direction(-6, -9, norm, 3) == ""


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


def test_two_reasons_why_nothing_is_defined_are_told_each_of_its_condition():
    """First that of the reference; alike in both, they are told once."""
    gap, none = Reason("gap", of="ankle"), Reason("no_samples", of="ankle")
    given = walks("shoe", {SWING: 0.0}, reasons={SWING: gap})
    for other, code in ((none, "in_both_conditions"), (gap, "in_both_alike")):
        after = walks("brace", {SWING: 0.0}, reasons={SWING: other})
        reason = row_of(compare_walks([*given, *after], reference="shoe"), SWING).verdict_reason
        assert reason.code == code
        if other is none:
            told = [(part["condition"], part["reason"]) for _, part in reason.parameters]
            assert told == [("shoe", gap), ("brace", none)]
