"""Own typical values: mean and scatter of the able-bodied people, and where they hold."""

import math
from dataclasses import replace

import numpy as np
import pytest

from gaittrack.cohort.people.able_bodied import able_bodied_group, typical_rows
from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.intervals.verdict import TOWARD
from gaittrack.compare.typical_values.own_typical import (
    LEAST_PERSONS,
    own_typical,
    write_own_typical,
)
from gaittrack.compare.typical_values.typical import OwnRange
from gaittrack.compare.typical_values.typical_curves import curves_at, read_own_typical
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.errors import ComparisonError
from gaittrack.study.laboratory import typical_for
from tests.cohort.made_up_cohort import RATE, SPEED, SWING, cohort
from tests.compare.made_up_walks import row_of, walks


@pytest.fixture(scope="module")
def source():
    """Give 14 people: two barefoot, one with a cane; a brace in the other condition of all."""
    found = cohort(14, n_visits=3)
    conditions = dict(found.conditions)
    for place in [each for each in conditions if each[2] == "without"]:
        worn = conditions[place]
        if place[0] in ("MRN-000", "MRN-001"):
            conditions[place] = worn.known_as(footwear="barefoot")
        if place[0] == "MRN-002":
            conditions[place] = worn.known_as(walking_aid="cane")
    return replace(found, conditions=conditions)


def test_ranges_are_of_one_leg_from_person_to_person(source, tmp_path):
    """By hand: of 11 people in shoes, newest visit, without the brace; read back as written."""
    group = able_bodied_group(source)
    assert [each.code for each in group.people] == [f"MRN-{n:03}" for n in range(3, 14)]
    assert group.left_out == {
        "MRN-000": "walked barefoot",
        "MRN-001": "walked barefoot",
        "MRN-002": "no walk without brace and aid",
    }
    walks = [w for w in source.walks if w.visit == "visit-3" and w.record.condition == "without"]
    people = [
        np.mean([w.record.tables[SWING, "left"].values.mean() for w in walks if w.person == each])
        for each in (one.code for one in group.people)
    ]
    own = own_typical(group.people, made_on="2026-11-28")
    swing = own.ranges[SWING]
    assert (swing.low + swing.high) / 2 == pytest.approx(np.mean(people), abs=1e-4)
    assert (swing.high - swing.low) / 4 == pytest.approx(np.std(people, ddof=1), abs=1e-4)
    (ankle,) = own.curves
    lines = [
        np.mean(
            [w.record.curves["left", "ankle"].mean(axis=0) for w in walks if w.person == each.code],
            axis=0,
        )
        for each in group.people
    ]
    assert np.allclose(ankle.mean, np.mean(lines, axis=0), atol=1e-3)
    assert np.allclose(ankle.sd, np.std(lines, axis=0, ddof=1), atol=1e-3)
    path = tmp_path / "own.toml"
    path.write_text(write_own_typical(own))
    assert read_own_typical(path) == own
    assert {row.own.measure: row.published is None for row in typical_rows(own)} == {
        SWING: True,
        SPEED: False,
    }


def test_both_legs_scatter_as_one_leg_does(source):
    """A person whose legs differ widens the range: it is held against one leg."""
    people = able_bodied_group(source).people
    apart = [
        replace(
            each,
            values={
                (SWING, "left"): n + 5.0,
                (SWING, "right"): n - 5.0 * (-1) ** n,
                (RATE, "left"): 100.0 + n,
                ("heel_contact_share_percent", "left"): 100.0 - n,
            },
            curves={},
        )
        for n, each in enumerate(people)
    ]
    ranges = own_typical(apart, made_on="").ranges
    assert list(ranges) == [SWING]  # neither a rate nor a count has a typical range
    found = ranges[SWING]
    n = np.arange(len(people))
    legs = [n + 5.0, n - 5.0 * (-1.0) ** n]
    sd = math.sqrt(np.mean([each.var(ddof=1) for each in legs]))
    assert found.high - found.low == pytest.approx(4 * sd, abs=1e-3)


def test_they_hold_for_ages_feet_and_speeds_of_the_people(source):
    """Speed itself at any speed; elsewhere the published ranges come back, or there is none."""
    own = own_typical(able_bodied_group(source).people, made_on="")
    swing, speed = own.ranges[SWING], own.ranges[SPEED]
    assert (swing.youngest_years, swing.oldest_years, swing.feet) == (52.4, 52.4, "in shoes")
    assert (swing.holds_at(1.0), swing.holds_at(1.2), speed.holds_at(1.2)) == (True, False, True)
    assert [swing.holds_on(each) for each in (False, True, None)] == [True, False, False]
    assert typical_for(own.ranges, "", 52.4) == own.ranges
    assert typical_for(own.ranges, "60-69", None) == "adult_60_69"
    assert typical_for(own.ranges, "", None) == "adult"
    assert curves_at(own.curves, [(1.0, False)]) and not curves_at(own.curves, [(1.0, True)])


def test_too_few_people_have_no_typical_values(source):
    """The refusal says how many there are, how many it takes, and how somebody counts."""
    *people, last = able_bodied_group(source).people[:LEAST_PERSONS]
    with pytest.raises(ComparisonError, match=r"9 able-bodied people .*in shoes.* need 10.*cause"):
        own_typical(people, made_on="")
    ten = own_typical([*people, last], made_on="")
    assert SWING in ten.ranges and ten.curves, "ten are enough"
    ten = own_typical([*people, replace(last, values={}, curves={})], made_on="")
    assert not ten.ranges and not ten.curves, "but not where one of them lacks it"
    braced = replace(
        source,
        conditions={
            key: Condition(key[2], orthosis="ankle-foot orthosis") for key in source.conditions
        },
    )
    assert able_bodied_group(braced).people == ()
    few = [
        replace(each, values={(SPEED, "left"): 1.0 + 0.1 * n})
        for n, each in enumerate(able_bodied_group(source).people)
    ]
    few[0] = replace(few[0], values={(name, "left"): 1.0 for name in MEASURE_BY_NAME})
    assert list(own_typical(few, made_on="").ranges) == [SPEED]


@pytest.mark.parametrize(
    ("feet", "worn_feet", "typical"),
    [("in shoes", "shoe", TOWARD), ("in shoes", "barefoot", ""), ("in shoes", None, "")]
    + [("barefoot", "shoe", ""), ("", None, TOWARD)],
)
def test_an_own_range_of_other_feet_is_silent(feet, worn_feet, typical):
    """What was found in shoes says nothing barefoot, nor on feet that are not recorded."""
    norm = OwnRange(SWING, 2.0, 6.0, "own", feet=feet)
    given = [*walks("shoe", {SWING: -10.0}), *walks("brace", {SWING: 4.0})]
    worn = {name: Condition(name, footwear=worn_feet) for name in ("shoe", "brace")}
    compared = compare_walks(given, reference="shoe", conditions=worn, typical={SWING: norm})
    assert row_of(compared, SWING).typical == typical
