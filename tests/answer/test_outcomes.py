"""Everyday outcomes: every repeat, no change without the same shoe and aid, whose error it is."""

import math

import pytest

from gaittrack.answer.outcome_words import outcome_title, told_repeats, told_value
from gaittrack.answer.outcomes import OF_CONDITION, counted_outcomes, outcomes_of_pair
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.intervals.verdict import (
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NO_CHANGE,
    NO_ERROR_FIGURE,
    NOT_COMPARABLE,
    NOT_SHOWN,
)
from gaittrack.record.closed_lists import LISTS, NOT_DONE
from gaittrack.record.published_errors import OUTCOMES

FAIR = {"footwear": "shoe", "walking_aid": "cane", "walk_10m_start": "flying"}
TUG, TEN, PAIN = "timed_up_and_go_s", "walk_10m_comfortable_s", "pain_walking"


def outcome(name, before, here, *, cause="stroke", own=FAIR, reference=FAIR, **more):
    """Compare one outcome of two conditions."""
    pair = [
        Condition(code, **worn, **({} if value is None else {name: value}))
        for code, worn, value in (("with", own, here), ("without", reference, before))
    ]
    found = outcomes_of_pair(*pair, cause=cause, **more)
    return next(each for each in found if each.fact.name == name)


@pytest.mark.parametrize(
    ("name", "before", "here", "verdict"),
    [
        (TUG, "30; 29", "17; 16.5", LARGER),
        (TUG, "18.4; 17.4", "17.4; 16.6", NO_CHANGE),
        (TUG, "20; 18", "16; 14.5", NOT_SHOWN),
        (TUG, "20; 20.1", "18; 18.1", CHANGE_IN_THESE_WALKS),
        (TUG, "30; 8", "11; 9", NOT_SHOWN),
        (TUG, "20", "10", LARGER),
        (TUG, "20", "19", NOT_SHOWN),
        (PAIN, 4, 1, LARGER),
        (PAIN, 3, 2, NOT_SHOWN),
        (PAIN, 3, 3, NO_CHANGE),
        ("comfort_worn", 3, 9, NO_ERROR_FIGURE),
    ],
)
def test_a_change_has_the_verdict_of_its_error_and_its_repeats(name, before, here, verdict):
    """Swapping the two conditions changes none; 28 % of the mean is the error in stroke."""
    found = outcome(name, before, here)
    swapped = outcome(name, here, before)
    assert (found.verdict.code, swapped.verdict.code) == (verdict, verdict)
    assert found.difference == -swapped.difference
    if name == TUG:
        assert found.error == pytest.approx(0.28 * (found.own.value + found.reference.value) / 2)


def test_seconds_over_ten_metres_are_a_speed_and_every_repeat_is_seen():
    """The mean is of the speeds of each try; unit, title and repeats say both."""
    found = outcome(TEN, "20; 25", "10; 12.5")
    assert (found.reference.value, found.own.value) == pytest.approx((0.45, 0.9))
    assert outcome_title(found) == "10-metre walk, comfortable (m/s)"
    assert told_repeats(found.own, found.fact) == "10; 12.5 s"
    assert told_value(found.own, found.decimals) == "0.90"
    assert (found.error, str(found.error_source)) == (
        0.2,
        "61 people with chronic stroke: Hiengkaew 2012",
    )


@pytest.mark.parametrize("answer", [*NOT_DONE, None])
def test_an_answer_is_no_number(answer):
    """Unable, not asked and not recorded are told as such; no change is made of them."""
    found = outcome(TUG, "20; 21", answer)
    assert found.own.repeats == () and math.isnan(found.own.value)
    assert math.isnan(found.difference) and found.verdict.code == NOT_COMPARABLE
    assert found.verdict.say() == f"cannot be compared: with: {answer or 'not recorded'}"


@pytest.mark.parametrize(
    ("other", "code"),
    [
        ({"footwear": "boot"}, "other_shoes"),
        ({"footwear": "barefoot"}, "other_shoes"),
        ({"footwear": None}, "shoes_not_known_in_both"),
        ({"heel_height_mm": 10}, None),
        ({"insole": "wedged"}, None),
        ({"walking_aid": "none"}, "other_aid"),
        ({"walking_aid": None}, "aid_not_known_in_both"),
        ({"hand_support": "person"}, "other_support"),
        ({"walk_10m_start": "standing"}, "start_of_walk_differs"),
    ],
)
def test_no_change_without_the_same_shoe_aid_and_start(other, code):
    """What lies in the shoe may differ: it is what is tried."""
    reference = FAIR | {"hand_support": "none", "insole": "none"}
    found = outcome(TEN, "20; 21", "10; 11", own=reference | other, reference=reference)
    assert (found.verdict.reason.code if math.isnan(found.difference) else None) == code
    assert (found.verdict.code == NOT_COMPARABLE) is (code is not None)


def test_no_change_between_days():
    """The same test of another day stands beside, without a difference."""
    found = outcome(TUG, "20; 21", "10; 11", is_other_day=True)
    assert found.verdict.reason.code == "on_other_day" and math.isnan(found.difference)


def test_the_error_is_of_people_alike_else_the_largest_and_it_says_whose():
    """Of the same cause first; nobody's figure is moved to other people in silence."""
    walk = {cause: outcome("walk_6min_m", "200", "210", cause=cause) for cause in LISTS["cause"]}
    assert walk["stroke"].error == pytest.approx(0.23 * 205)
    assert walk["muscle disease"].error == pytest.approx(38.8)
    assert "neuromuscular" in str(walk["muscle disease"].error_source)
    other = walk["spinal cord injury"]
    assert other.error == max(each.error for each in walk.values())
    assert str(other.error_source).startswith(
        "the largest known, none being of people with a cause"
    )
    assert outcome(TEN, "20", "19", cause=None).error == 0.17


def test_several_outcomes_are_one_family():
    """A change past its error by itself may be chance among many, and is then said to be."""
    near = {"walk_6min_m": "150", PAIN: 2, "comfort_worn": 4, "stairs_up_s": "10; 10"}
    without = Condition("without", **FAIR, **{TUG: "20"}, **near)
    found = outcomes_of_pair(Condition("with", **FAIR, **{TUG: "14.9"}, **near), without)
    tug = next(each for each in found if each.fact.name == TUG)
    assert tug.p < 0.05 < tug.adjusted_p and tug.verdict.code == CHANGE_IN_THESE_WALKS
    assert tug.verdict.reason.code == "one_of_many_questions"
    alone = outcome(TUG, "20", "14.9", cause=None)
    assert alone.verdict.code == LARGER


def test_every_outcome_is_a_fact_and_every_cause_is_of_the_list():
    """The figures' file names nothing that is not recorded."""
    causes = {c for line in OUTCOMES.values() for e in line.errors for c in e.causes or ()}
    assert causes <= set(LISTS["cause"])
    assert all(fact.error == "" or OUTCOMES[fact.name].errors for fact in OF_CONDITION)
    counted = {"falls_4_weeks": 0, "questionnaire_total": 40.0, "questionnaire_name": "own"}
    counted |= {"questionnaire_low": 0.0, "questionnaire_high": 90.0}
    assert [said for _, said in counted_outcomes(counted)] == ["0", "own: 40 of 0 to 90"]
