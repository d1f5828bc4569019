"""What is recorded of a person beside the walks: said in words, filled in, corrected, kept."""

import pytest
from sqlalchemy import select

from gaittrack.errors import LayoutError, StudyError
from gaittrack.record.visit_facts import (
    EXAMINATION,
    examined_words,
    person_words,
    visit_table,
)
from gaittrack.study.history import entries, faults
from gaittrack.study.people.fact_changes import change_facts, recorded
from gaittrack.study.people.facts import facts_of_conditions, facts_of_person
from gaittrack.study.tables import CONDITION


def history_of(study):
    with study.read() as connection:
        assert faults(connection) == []
        return entries(connection, person="P01")


def condition_id(study, code="with-brace"):
    with study.read() as connection:
        query = select(CONDITION.c.id).where(CONDITION.c.code == code).order_by(CONDITION.c.id)
        return connection.execute(query).scalars().first()


def test_facts_stand_by_visit_and_what_is_missing_is_said(study):
    """One column per visit, in the order of time; facts of no visit are named apart."""
    person = facts_of_person(study, 1)
    assert ("cause", "stroke") in person_words(person)
    change_facts(
        study,
        recorded(study, "visit", person.visits[1].id),
        {"left_clonus": "1-2 beats", "right_clonus": "not tested"},
        who="x",
    )
    person = facts_of_person(study, 1)
    assert [visit.code for visit in person.visits] == ["visit-1", "visit-2"]
    told, untold = visit_table(person.visits, EXAMINATION)
    assert told == [
        ["strength of the quadriceps, left", "4", "4"],
        ["clonus of the ankle, left", "not recorded", "1-2 beats"],
        ["clonus of the ankle, right", "not recorded", "not tested"],
    ]
    assert "skin after wear" in untold
    assert len(told) - 1 + len(untold) == len(EXAMINATION)


def test_what_no_recording_shows_is_told_by_visit(study):
    """In words, of visits at which it was examined; strength is not among it."""
    assert examined_words(facts_of_person(study, 1).visits) == ""
    found = {"left_correctable_to_neutral": False, "right_mediolateral_stability": "stable"}
    found |= {"left_mediolateral_stability": "tilts into valgus"}
    change_facts(study, recorded(study, "visit", 2), found, who="x")
    ankle = "mediolateral stability of the ankle under load"
    assert examined_words(facts_of_person(study, 1).visits) == (
        f"Examined at visit-2: {ankle}, left: tilts into valgus; {ankle}, right: stable; "
        "foot correctable to neutral, left: no."
    )


def test_a_comparison_gets_the_facts_of_its_own_visits_only(study):
    """Those of the conditions that are compared; nobody for conditions that are gone."""
    found = facts_of_conditions(study, [condition_id(study)])
    assert (found.code, [visit.code for visit in found.visits]) == ("P01", ["visit-1"])
    assert facts_of_conditions(study, [999]) is None
    assert facts_of_person(study, 999) is None


def test_a_gap_is_filled_without_a_reason_and_stands_in_the_history(study):
    """Who, where, what it is now; it reads back in the study's types."""
    seen = recorded(study, "visit", 1)
    given = {"left_passive_dorsiflexion_knee_bent_deg": 5, "left_correctable_to_neutral": True}
    assert change_facts(study, seen, given, who="Ada") == {
        "left_passive_dorsiflexion_knee_bent_deg": 5.0,
        "left_correctable_to_neutral": True,
    }
    last = history_of(study)[-1]
    assert (last["what"], last["who"]) == ("complete visit", "Ada")
    assert last["after"]["left_correctable_to_neutral"] is True
    assert (
        facts_of_person(study, 1).visits[0].facts["left_passive_dorsiflexion_knee_bent_deg"] == 5.0
    )


def test_what_is_recorded_changes_only_with_a_reason_and_keeps_what_it_was(study):
    """Also taking it away is a change."""
    seen = recorded(study, "visit", 1)
    with pytest.raises(StudyError, match="changes what is recorded.*quadriceps_strength"):
        change_facts(study, seen, {"left_quadriceps_strength": "3"}, who="Ada", why=" ")
    n_before = len(history_of(study))
    change_facts(
        study, seen, {"left_quadriceps_strength": None}, who="Ada", why="of another person"
    )
    last = history_of(study)[-1]
    assert len(history_of(study)) == n_before + 1
    assert (last["what"], last["why"]) == ("correct visit", "of another person")
    assert last["before"]["left_quadriceps_strength"] == "4"
    assert last["after"]["left_quadriceps_strength"] is None
    assert "left_quadriceps_strength" not in recorded(study, "visit", 1).facts


def test_two_people_who_change_the_same_the_second_is_told(study):
    """Nothing of the first is overwritten."""
    seen = recorded(study, "person", 1)
    change_facts(study, seen, {"cause": "nerve palsy"}, who="Ada", why="typed wrong")
    with pytest.raises(StudyError, match="meanwhile; nothing was overwritten"):
        change_facts(study, seen, {"cause": "injury"}, who="Bob", why="typed wrong")
    assert recorded(study, "person", 1).facts["cause"] == "nerve palsy"


def test_entering_the_same_again_changes_nothing(study):
    """No entry in the history."""
    n_before = len(history_of(study))
    assert change_facts(study, recorded(study, "visit", 1), {"number": 1}, who="Ada") == {}
    assert len(history_of(study)) == n_before


@pytest.mark.parametrize(
    ("part", "given", "said"),
    [
        ("visit", {"height_cm": 1.72}, "height_cm is 1.72.*40 to 250"),
        ("visit", {"date": "31.1.2026"}, "no date.*2026-01-31"),
        ("visit", {"left_mediolateral_stability": "wobbly"}, "wobbly.*stable, tilts into varus"),
        ("visit", {"date": "2999-01-31"}, "date is 2999-01-31, a day to come"),
        ("visit", {"falls_4_weeks": -1}, "falls_4_weeks is -1.*0 to 1000"),
        ("visit", {"questionnaire_total": 9, "questionnaire_high": 5}, "total 9, high 5|high 5"),
        ("condition", {"walk_10m_fast_s": "quick"}, "quick.*unable, unsafe, refused"),
        ("condition", {"walk_10m_fast_s": "9.1; 0"}, "walk_10m_fast_s is 0"),
        ("visit", {"mass_kg": "heavy"}, "heavy.*a number"),
        ("person", {"affected_side": "links"}, "links.*left, right, both"),
        ("condition", {"heel_height_mm": "high"}, "heel_height_mm.*a number"),
    ],
)
def test_a_value_that_cannot_be_is_refused_and_nothing_changes(study, part, given, said):
    """The message says what to enter."""
    row = condition_id(study) if part == "condition" else 1
    seen = recorded(study, part, row)
    n_before = len(history_of(study))
    with pytest.raises(LayoutError, match=f"(?s){said}"):
        change_facts(study, seen, given, who="Ada", why="typed wrong")
    assert recorded(study, part, row) == seen
    assert len(history_of(study)) == n_before


def test_a_side_that_contradicts_a_brace_is_refused_whole(study):
    """The drop foot on the right, the brace on the left."""
    seen = recorded(study, "person", 1)
    with pytest.raises(StudyError, match="brace is on the left"):
        change_facts(study, seen, {"affected_side": "right"}, who="Ada", why="typed wrong")
    assert recorded(study, "person", 1) == seen


def test_new_heights_of_a_shoe_give_a_new_differential(study):
    """The old one is no contradiction; one that is entered with them is."""
    row = condition_id(study)
    heights = {"heel_height_mm": 30.0, "fore_sole_height_mm": 20.0}
    change_facts(study, recorded(study, "condition", row), heights, who="Ada")
    assert recorded(study, "condition", row).facts["heel_sole_differential_mm"] == 10.0
    seen = recorded(study, "condition", row)
    change_facts(study, seen, {"heel_height_mm": 35.0}, who="Ada", why="new shoe")
    seen = recorded(study, "condition", row)
    assert seen.facts["heel_sole_differential_mm"] == 15.0
    wrong = {"heel_height_mm": 36.0, "heel_sole_differential_mm": 3.0}
    with pytest.raises(LayoutError, match="heel_sole_differential_mm is 3"):
        change_facts(study, seen, wrong, who="Ada", why="new shoe")
