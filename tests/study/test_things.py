"""A brace and an aim are recorded once, in the order in which things can have happened."""

import tomllib

import pytest

from gaittrack.compare.fair.condition import parse_conditions
from gaittrack.errors import FactError, GaitTrackError, StudyError
from gaittrack.record.aims import parse_aims
from gaittrack.record.braces import parse_braces
from gaittrack.study.history import entries
from gaittrack.study.people.description import make_visit
from gaittrack.study.people.enrolled import check_against_study, ensure_condition
from gaittrack.study.people.fact_changes import add_thing, change_facts, recorded
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.results.comparing import conditions_of
from gaittrack.study.store import create_study

FITTED = """
[braces.B1]
orthosis_side = "left"
orthosis_made_on = "2026-01-05"
orthosis_fitted_on = "2026-01-12"
[braces.B1.settings.a]
orthosis_adjusted_on = "2026-01-12"
orthosis_ankle_angle_deg = 0
"""
CHANGED = """
[braces.B1.settings.b]
orthosis_adjusted_on = "2026-02-20"
orthosis_ankle_angle_deg = 3
orthosis_change = "lifted by 3 degrees"
orthosis_change_reason = "function"
"""
AIMED = """
[aims.A1]
aim_question = "how the toe clears the floor"
aim_reached = "to the baker without looking down"
"""
WORN = '[conditions.brace]\northosis = "ankle-foot orthosis"\nbrace = "B1"\nsetting = "{}"\n'
PERSON = {"affected_side": "left"}


def visit_of(text, code, day):
    """Return a visit of P01 as its file describes it."""
    table = tomllib.loads(text)
    things = parse_braces(table, "file"), parse_aims(table, "file")
    worn = parse_conditions(table, where="file")
    about = table.get("visit", {}) | ({"date": day} if day else {})
    return make_visit("P01", code, PERSON, about, worn, "file", is_described=True, things=things)


def keep(study, text, code="v1", day="2026-01-15"):
    """Store the condition of a visit."""
    visit = visit_of(text, code, day)
    with study.read() as connection:
        check_against_study(connection, visit, "brace")
    with study.write() as connection:
        ensure_condition(connection, visit, "brace", who="tester")


def worn(study):
    """Return what was worn at each visit."""
    return {each.visit: each.worn for each in conditions_of(study, 1)}


@pytest.fixture
def fitted(tmp_path):
    """Give a study with a brace that was fitted, and an aim."""
    study = create_study(tmp_path / "study")
    keep(study, FITTED + AIMED + WORN.format("a"))
    yield study
    study.close()


def test_a_second_visit_names_the_brace_and_has_all_of_it(fitted):
    """Nothing of it is said again; the change has a setting, a day and a reason of its own."""
    keep(fitted, CHANGED + WORN.format("b"), "v2", "2026-03-01")
    first, second = worn(fitted).values()
    assert second.orthosis_side == first.orthosis_side == "left"
    assert (first.orthosis_ankle_angle_deg, second.orthosis_ankle_angle_deg) == (0, 3)
    assert second.orthosis_change_reason == "function" and first.orthosis_change is None


def test_a_correction_of_the_brace_holds_wherever_it_was_worn(fitted):
    """With its reason in the history; another setting keeps its own."""
    keep(fitted, CHANGED + WORN.format("b"), "v2", "2026-03-01")
    brace, setting = recorded(fitted, "brace", 1), recorded(fitted, "setting", 1)
    assert setting.place == "P01/B1/a"
    change_facts(fitted, brace, {"orthosis_side": "both"}, who="tester", why="both, in fact")
    change_facts(fitted, setting, {"orthosis_ankle_angle_deg": None}, who="tester", why="guessed")
    first, second = worn(fitted).values()
    assert first.orthosis_side == second.orthosis_side == "both"
    assert first.orthosis_ankle_angle_deg is None and second.orthosis_ankle_angle_deg == 3
    with fitted.read() as connection:
        last = entries(connection, person="P01")[-1]
    assert (last["what"], last["why"]) == ("correct setting", "guessed")


def test_what_is_said_of_a_brace_where_it_is_worn_is_recorded_of_the_brace(tmp_path):
    """As a sheet and a form say it, without a table of braces; the first setting is called a."""
    study = create_study(tmp_path / "study")
    plain = '[conditions.brace]\northosis = "ankle-foot orthosis"\nbrace = "B1"\n'
    keep(study, plain + 'orthosis_side = "left"\northosis_mass_g = 90\n')
    keep(study, plain, "v2", "2026-03-01")
    assert recorded(study, "brace", 1).facts == {"orthosis_side": "left"}
    assert recorded(study, "setting", 1).facts == {"orthosis_mass_g": 90}
    assert worn(study)["v2"].orthosis_mass_g == 90
    with pytest.raises(StudyError, match="orthosis_mass_g"):
        keep(study, f"{plain}orthosis_mass_g = 120\n", "v3", "2026-03-02")
    assert list(worn(study)) == ["v1", "v2"]
    study.close()


def test_a_brace_named_later_takes_over_what_was_said_without_it(tmp_path):
    """A gap of the condition is filled, and nothing that was recorded is lost."""
    study = create_study(tmp_path / "study")
    plain = '[conditions.brace]\northosis = "ankle-foot orthosis"\northosis_side = "left"\n'
    keep(study, f"{plain}orthosis_mass_g = 90\n")
    keep(study, f'{plain}brace = "B1"\n')
    assert recorded(study, "setting", 1).facts == {"orthosis_mass_g": 90}
    assert worn(study)["v1"].orthosis_mass_g == 90
    study.close()


IMPOSSIBLE = {
    "adjusted before the fitting": (
        FITTED.replace("fitted_on", "fitted_on").replace(
            'adjusted_on = "2026-01-12"', 'adjusted_on = "2026-01-11"'
        )
        + WORN.format("a"),
        "orthosis_adjusted_on",
    ),
    "fitted before it was made": (
        FITTED.replace('made_on = "2026-01-05"', 'made_on = "2026-01-13"') + WORN.format("a"),
        "orthosis_fitted_on",
    ),
    "worn before it was made": (
        '[braces.B1]\northosis_side = "left"\northosis_made_on = "2026-01-16"\n' + WORN.format("a"),
        "orthosis_made_on",
    ),
    "worn in a setting to come": (
        '[braces.B1]\northosis_side = "left"\n[braces.B1.settings.a]\n'
        'orthosis_adjusted_on = "2026-01-16"\n' + WORN.format("a"),
        "orthosis_adjusted_on",
    ),
    "worn after it ended": (
        '[braces.B1]\northosis_side = "left"\northosis_ended_on = "2026-01-14"\n'
        + WORN.format("a"),
        "orthosis_ended_on",
    ),
    "made on a day to come": (
        '[braces.B1]\northosis_made_on = "2999-01-01"\n' + WORN.format("a"),
        "orthosis_made_on",
    ),
    "metres for millimetres": (
        FITTED + WORN.format("a") + "heel_height_mm = 2500\n",
        "heel_height_mm",
    ),
    "says otherwise than its brace": (
        FITTED + WORN.format("a") + "orthosis_ankle_angle_deg = 9\n",
        "orthosis_ankle_angle_deg",
    ),
    "a setting of no brace": (
        '[conditions.brace]\northosis = "ankle-foot orthosis"\nsetting = "a"\n',
        "setting",
    ),
    "two aims alike": (
        FITTED + AIMED + AIMED.replace("A1", "A2") + WORN.format("a"),
        "aim_question",
    ),
    "two aims alike in own words": (
        '[aims.A1]\naim_words = "to the baker"\n[aims.A2]\naim_words = " To the  baker"\n',
        "aim_words",
    ),
    "an aim that says nothing": ('[aims.A1]\naim_reached = "there and back"\n', "aim_question"),
    "rated before it was set": (
        AIMED + 'aim_set_on = "2026-01-16"\n[visit]\naim_level = "A1: 1"\n',
        "aim_level",
    ),
    "a level that there is not": (AIMED + '[visit]\naim_level = "A1: 3"\n', "aim_level"),
    "a level of no aim": (AIMED + '[visit]\naim_level = "A2: 1"\n', "aim_level"),
    "two levels of an aim": (AIMED + '[visit]\naim_level = "A1: 1; A1: 0"\n', "aim_level"),
}


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_what_cannot_be_is_refused_of_a_fact_and_nothing_is_stored(tmp_path, name):
    """Each by the fact that a form marks."""
    text, fact = IMPOSSIBLE[name]
    study = create_study(tmp_path / "study")
    with pytest.raises(FactError) as refusal:
        keep(study, text)
    assert refusal.value.fact == fact
    with study.read() as connection:
        assert entries(connection) == []
    study.close()


@pytest.mark.parametrize(
    ("part", "given", "fact"),
    [
        ("brace", {"orthosis_made_on": "2026-01-20"}, "orthosis_fitted_on"),
        (
            "brace",
            {"orthosis_fitted_on": None, "orthosis_made_on": "2026-01-14"},
            "orthosis_adjusted_on",
        ),
        ("brace", {"orthosis_ended_on": "2026-01-14"}, "orthosis_ended_on"),
        ("setting", {"orthosis_adjusted_on": "2026-01-16"}, "orthosis_adjusted_on"),
        ("condition", {"orthosis_ankle_angle_deg": 7}, "orthosis_ankle_angle_deg"),
        ("condition", {"orthosis_mass_g": 100}, "orthosis_mass_g"),
        ("condition", {"brace": "B7"}, "brace"),
        ("condition", {"setting": "c"}, "setting"),
        ("visit", {"date": "2026-01-04"}, "orthosis_made_on"),
    ],
)
def test_a_correction_to_what_cannot_be_changes_nothing(fitted, part, given, fact):
    """Days against those of other visits too."""
    before = {each: recorded(fitted, each, 1).facts for each in ("brace", "setting", "condition")}
    with pytest.raises(FactError) as refusal:
        change_facts(fitted, recorded(fitted, part, 1), given, who="tester", why="try")
    assert refusal.value.fact == fact
    assert {each: recorded(fitted, each, 1).facts for each in before} == before


def test_a_brace_made_after_it_was_worn_at_another_visit_is_refused(fitted):
    """What a file says is held against the visits in the study, before anything is kept."""
    later = '[braces.B1]\northosis_ended_on = "2026-01-13"\n' + WORN.format("a")
    with pytest.raises(FactError, match="worn on"):
        keep(fitted, later, "v0", "2026-01-13")


def test_settings_and_aims_are_added_by_hand(fitted):
    """Of the brace, of the person; one of the same code, or an aim alike, is refused."""
    person, brace = recorded(fitted, "person", 1), recorded(fitted, "brace", 1)
    facts = {"orthosis_adjusted_on": "2026-02-01", "orthosis_change": "softer"}
    number = add_thing(fitted, "setting", brace, "b", facts, who="tester")
    assert recorded(fitted, "setting", number).facts == facts
    with pytest.raises(StudyError, match="of that code"):
        add_thing(fitted, "setting", brace, "b", {}, who="tester")
    alike = {"aim_question": "how the toe clears the floor"}
    with pytest.raises(FactError):
        add_thing(fitted, "aim", person, "A2", alike, who="tester")
    with pytest.raises(GaitTrackError):
        add_thing(fitted, "aim", person, " ", {"aim_words": "to the baker"}, who="tester")


def test_an_aim_has_a_level_at_each_visit(fitted):
    """From -2 to 2; the level of a visit stays when another visit rates it otherwise."""
    change_facts(fitted, recorded(fitted, "visit", 1), {"aim_level": "A1: -1"}, who="tester")
    keep(fitted, '[visit]\naim_level = "A1: 1"\n', "v9", "2026-03-01")
    first, second = (visit.facts["aim_level"] for visit in facts_of_person(fitted, 1).visits)
    assert (first, second) == ("A1: -1", "A1: 1")
    seen = recorded(fitted, "visit", 1)
    with pytest.raises(FactError, match="not recorded of this person"):
        change_facts(fitted, seen, {"aim_level": "A9: 1"}, who="tester", why="try")


def test_who_edits_what_somebody_else_changed_meanwhile_is_told(fitted):
    """A visit, a brace, a setting and an aim; the first change stays."""
    changes = {
        "visit": {"visit_notes": "tired"},
        "brace": {"orthosis_notes": "squeaks"},
        "setting": {"orthosis_reason": "first try"},
        "aim": {"aim_set_on": "2026-01-12"},
    }
    for part, first in changes.items():
        seen = recorded(fitted, part, 1)
        change_facts(fitted, seen, first, who="one")
        with pytest.raises(StudyError, match="meanwhile"):
            change_facts(fitted, seen, {name: None for name in first}, who="two", why="no")
        assert recorded(fitted, part, 1).facts == {**seen.facts, **first}
