"""What is proposed for a person's next visit."""

import json

import pytest
from sqlalchemy import insert, update

from gaittrack.record.closed_lists import LISTS
from gaittrack.record.registry import LEG
from gaittrack.study.people.last_visit import next_visit
from gaittrack.study.store import create_study
from gaittrack.study.tables import CONDITION, PERSON, VISIT


@pytest.fixture
def empty(tmp_path):
    """Make an empty study."""
    study = create_study(tmp_path / "study")
    yield study
    study.close()


def add_visits(study, *codes, worn=()):
    with study.write() as connection:
        connection.execute(insert(PERSON).values(id=1, code="A", facts='{"cause": "stroke"}'))
        for number, code in enumerate(codes, 1):
            connection.execute(insert(VISIT).values(person_id=1, code=code, number=number))
        for name, one in worn:
            row = {"visit_id": len(codes), "code": name, "description": json.dumps(one)}
            connection.execute(insert(CONDITION).values(row))


def proposed(study, code="A"):
    with study.read() as connection:
        return next_visit(connection, code)


def test_somebody_new_gets_a_first_visit(empty):
    """Nothing is known of who is not in the study."""
    found = proposed(empty, "new")
    assert (found.is_known, found.code, found.number, found.conditions) == (False, "visit-1", 1, {})


@pytest.mark.parametrize(
    ("codes", "code"),
    [
        (("visit-1",), "visit-2"),
        (("V09",), "V10"),
        (("baseline",), "baseline-2"),
        (("visit-2", "visit-1"), "visit-3"),
        ((), "visit-1"),
    ],
)
def test_the_last_code_is_counted_up_and_never_taken(empty, codes, code):
    """The proposal follows the laboratory's own way of naming."""
    add_visits(empty, *codes)
    found = proposed(empty)
    assert (found.code, found.number) == (code, len(codes) + 1)
    assert found.facts == {"cause": "stroke"}


def test_what_stayed_as_last_time_is_followed_back(empty):
    """It is last time's also at the visit after; what nobody said at a visit is not."""
    assert tuple(LEG) == LISTS["leg_line"]
    add_visits(empty, "v1", "v2", "v3")
    told = {
        1: {"left_tone": "1+", "left_clonus": "none", "right_pain": 3},
        2: {"as_last_time": "tone, clonus"},
        3: {"as_last_time": "tone", "left_clonus": "sustained"},
    }
    with empty.write() as connection:
        for number, facts in told.items():
            mine = update(VISIT).where(VISIT.c.number == number)
            connection.execute(mine.values(facts=json.dumps(facts)))
    assert proposed(empty).examined == {"left_tone": "1+", "left_clonus": "sustained"}


def test_what_was_worn_is_proposed_without_what_changes(empty):
    """Shoe and brace stay; days worn, order and markers are asked for anew."""
    brace = {"orthosis": "x", "order": 2, "days_worn": 21, "standing_trial": "s.c3d", "notes": "n"}
    brace |= {"markers_replaced": True, "markers_put_on_again": "foot", "footwear": "shoe"}
    add_visits(empty, "v1", worn=(("brace", brace), ("none", {"orthosis": "none", "order": 1})))
    found = proposed(empty)
    assert list(found.conditions) == ["none", "brace"]
    assert found.conditions["brace"] == {"orthosis": "x", "footwear": "shoe"}
    assert found.days_worn == {"brace": 21}
    assert found.last == "v1"


def test_nothing_that_alternates_and_nothing_of_a_named_brace_is_carried(empty):
    """Brace, setting, shoe and aid are proposed; of the brace itself nothing is said again."""
    kept = {"orthosis": "ankle-foot orthosis", "brace": "B1", "setting": "b"}
    kept |= {"footwear": "shoe", "walking_aid": "cane"}
    of_brace = {"orthosis_side": "left", "orthosis_mass_g": 90}
    of_the_day = {"order": 2, "markers_replaced": True, "days_worn": 30, "pain_walking": 2}
    add_visits(empty, "visit-1", worn=[("brace", kept | of_brace | of_the_day)])
    assert proposed(empty).conditions == {"brace": kept}
