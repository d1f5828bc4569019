"""People: what is recorded of a person beside the walks, shown, filled in and corrected there."""

import pytest
from playwright.sync_api import expect

from dashboards.overview import about_person, things_form
from gaittrack.record.closed_lists import LISTS
from gaittrack.study.history import entries
from gaittrack.study.people.fact_changes import change_facts, recorded
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.results.comparing import conditions_of
from tests.dashboards.axe_check import violations
from tests.dashboards.settled import cut_off, settle
from tests.planted_facts import examine_nothing


@pytest.fixture
def blank(served_copy):
    """Serve a copy in which nothing of an examination is recorded."""
    examine_nothing(served_copy.study)
    return served_copy


def open_about(open_page, served, **more):
    """Open People with P01 chosen and the facts unfolded."""
    page = open_page(served, "/overview", choice={"person": 1}, **more)
    page.locator("#people-about-head").click()
    page.wait_for_selector("h1")
    return page


def choose_what(page, label):
    settle(page)  # what was kept before closes the form
    page.get_by_role("textbox", name="Fill in or correct").click()
    page.get_by_role("option", name=label).locator("visible=true").click()
    page.locator("#people-form").wait_for()


def scale_of(page, field):
    return page.get_by_role("radiogroup", name=field, exact=True)


def choose_word(page, field, word):
    scale_of(page, field).get_by_text(word, exact=True).click()


def test_one_press_says_the_same_of_both_legs(open_page, blank):
    """What is empty of the other leg is filled; what was said stays, and is shown next time.

    A value that cannot be is refused with words and stays to be corrected.
    """
    page = open_about(open_page, blank)
    choose_what(page, "visit-1: examination and body")
    a_height_in_metres_is_refused(page, blank.study)
    choose_word(page, "strength of the quadriceps, left", "4")
    choose_word(page, "muscle tone of the calf, left", "1+")
    choose_word(page, "muscle tone of the calf, right", "0")
    page.get_by_role("button", name="Same on both").click()
    other = scale_of(page, "strength of the quadriceps, right")
    expect(other.get_by_role("radio", name="4", exact=True)).to_be_checked()
    by_key = scale_of(page, "clonus of the ankle, left").get_by_role("radio").first
    by_key.focus()
    page.keyboard.press("Space")
    expect(by_key).to_be_checked()
    page.get_by_role("textbox", name="Reason", exact=True).fill("not examined before")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Recorded for P01/visit-1").wait_for()
    facts = facts_of_person(blank.study, 1).visits[0].facts
    names = ("left_quadriceps_strength", "right_quadriceps_strength", "left_tone", "right_tone")
    assert [facts[name] for name in names] == ["4", "4", "1+", "0"]
    the_next_visit_is_confirmed_by_keys(page, blank.study)


def the_next_visit_is_confirmed_by_keys(page, study):
    """Mark what was last time, which nobody chose; Enter confirms a line and goes on.

    What is taken over together stands as not examined, and is no value of that day.
    """
    choose_what(page, "visit-2: examination and body")
    page.get_by_text("0 of 3 lines done. 3 wait as last time").wait_for()
    quadriceps = scale_of(page, "strength of the quadriceps, left")
    assert page.locator(".legs :checked").count() == 0
    quadriceps.locator(".as-last input").focus()
    page.keyboard.press("3")
    expect(quadriceps.get_by_role("radio", name="3")).to_be_checked()
    page.keyboard.press("=")
    expect(scale_of(page, "strength of the quadriceps, right").locator(":checked")).to_have_value(
        "3"
    )
    page.keyboard.press("Enter")
    page.locator("[data-state=changed]").wait_for()
    assert "tone" in page.evaluate("document.activeElement.closest('td').dataset.legField")
    page.get_by_text("Take over the lines left open").click()
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Recorded for P01/visit-2").wait_for()
    settle(page)
    facts = facts_of_person(study, 1).visits[1].facts
    assert facts["as_last_time"] == "tone, clonus" and facts["left_tone"] is None
    assert facts["right_quadriceps_strength"] == "3"
    assert "1+ as before, not examined" in page.locator("#people-about-facts").inner_text()


def a_height_in_metres_is_refused(page, study):
    """Say so beside the field, where what was typed still stands; nothing is stored."""
    field = page.get_by_role("textbox", name="Height (cm)")
    field.fill("1.79")
    page.get_by_role("textbox", name="Reason", exact=True).fill("measured again")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Height (cm) is 1.79. Give a number from 40 to 250 cm.").wait_for()
    assert field.get_attribute("aria-invalid") == "true"
    settle(page)
    assert violations(page, ".mantine-InputWrapper-root:has([aria-invalid=true])") == []
    assert field.input_value() == "1.79"
    assert facts_of_person(study, 1).visits[0].facts["height_cm"] == 179
    field.fill("179")


def last_entry(study):
    with study.read() as connection:
        return entries(connection, person="P01")[-1]


def test_an_examination_is_filled_in_shown_and_stands_in_the_history(open_page, blank):
    """Strength, range, words for skin and ankle; then the same is corrected, with a reason."""
    page = open_about(open_page, blank)
    choose_what(page, "visit-2: examination and body")
    choose_word(page, "strength of the quadriceps, left", "4")
    page.get_by_role("textbox", name="passive dorsiflexion, knee straight (°), left").fill("-5")
    page.get_by_role("textbox", name="Skin under the brace, in words").fill("reddened at the shin")
    stability = "mediolateral stability of the ankle under load, left"
    offered = scale_of(page, stability).locator("label[for]")
    assert offered.all_inner_texts() == [*LISTS["stability"], "not tested"]
    choose_word(page, stability, "tilts into varus")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Recorded for P01/visit-2").wait_for()
    settle(page)
    shown = page.locator("#people-about-facts").inner_text()
    assert "reddened at the shin" in shown
    assert "not recorded" in shown, "visit-1 has none"
    assert violations(page, "#people-about-facts") == []
    facts = facts_of_person(blank.study, 1).visits[1].facts
    assert facts["left_passive_dorsiflexion_knee_straight_deg"] == -5
    assert facts["left_quadriceps_strength"] == "4"
    assert facts["left_mediolateral_stability"] == "tilts into varus"
    assert last_entry(blank.study)["who"] == "tester"
    choose_what(page, "visit-2: examination and body")
    choose_word(page, "strength of the quadriceps, left", "3")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Say why").wait_for()
    page.get_by_role("textbox", name="Reason", exact=True).fill("read from the wrong line")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Recorded for P01/visit-2").wait_for()
    last = last_entry(blank.study)
    name = "left_quadriceps_strength"
    assert (last["before"][name], last["after"][name]) == ("4", "3")
    assert last["why"] == "read from the wrong line"


def test_what_was_worn_is_corrected_where_it_hangs_together(open_page, served_copy):
    """The mass of the brace; one on the sound side, and who comes second, is refused."""
    page = open_about(open_page, served_copy)
    choose_what(page, "Setting B1/a")
    page.get_by_role("textbox", name="Mass of the orthosis (g)").fill("120")
    page.get_by_role("textbox", name="Reason", exact=True).fill("weighed")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Recorded for P01/B1/a").wait_for()
    worn = conditions_of(served_copy.study, 1)
    assert {each.worn.orthosis_mass_g for each in worn if each.worn.is_braced} == {120}
    choose_what(page, "Brace B1")
    page.get_by_role("textbox", name="Side of the orthosis").click()
    page.get_by_role("option", name="right", exact=True).locator("visible=true").click()
    page.get_by_role("textbox", name="Reason", exact=True).fill("typed wrong")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("brace is on the right").wait_for()
    the_second_of_two_is_told(page, served_copy.study)


def the_second_of_two_is_told(page, study):
    """Record the cause while somebody has the form open: nothing is overwritten."""
    choose_what(page, "The person")
    page.get_by_role("textbox", name="Notes on the person").wait_for()
    seen = recorded(study, "person", 1)
    change_facts(study, seen, {"cause": "injury"}, who="Ada", why="letter")
    page.get_by_role("textbox", name="Notes on the person").fill("walks to work")
    page.get_by_role("textbox", name="Reason", exact=True).fill("typed wrong")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Somebody changed this meanwhile").wait_for()
    assert recorded(study, "person", 1).facts["cause"] == "injury"


FORMS = (
    *("visit-1, with-brace: what was worn", "visit-1: examination", "The person"),
    *("A new brace", "Brace B1", "Setting B1/a", "A new aim"),
)
"""Each with inputs of its own; a new setting and a known aim have those of two of these."""


def test_each_form_is_for_everybody_on_a_phone_too(open_page, served):
    """With the form open, light and dark: WCAG, and nothing reaches over the edge."""
    page = open_about(open_page, served, width=390)
    for what in FORMS:
        choose_what(page, what)
        for theme, is_again in (("Dark", False), ("Light", True)):
            page.get_by_role("button", name=theme, exact=True).click()
            settle(page)
            assert violations(page, "#people-form", again=is_again) == [], (what, theme)
        wide = "document.documentElement.scrollWidth > innerWidth"
        assert not page.evaluate(wide), (what, cut_off(page))


def fill(page, name, text):
    page.get_by_role("textbox", name=name, exact=True).fill(text)


def save(page):
    page.get_by_role("button", name="Save").click()


def test_a_change_of_a_brace_an_aim_and_their_notes(open_page, served_copy):
    """The change is a setting of its own with reason and day; what cannot be is said beside it."""
    study = served_copy.study
    page = open_about(open_page, served_copy)
    choose_what(page, "B1 was changed: a new setting")
    fill(page, "What was changed", "the leaf ground thinner")
    fill(page, "Day of this setting", "2999-01-01")
    save(page)
    page.get_by_text("Day of this setting is 2999-01-01, a day to come. Correct it.").wait_for()
    assert len(things_form.things_of_person(study, 1)) == 3, "nothing is stored"
    fill(page, "Day of this setting", "2026-02-01")
    save(page)
    page.get_by_text("Recorded for P01/B1: b.").wait_for()
    (added,) = [each for each in things_form.things_of_person(study, 1) if each.place == "B1/b"]
    assert added.facts == {
        "orthosis_adjusted_on": "2026-02-01",
        "orthosis_change": "the leaf ground thinner",
        "orthosis_ankle_angle_deg": 2,
        "orthosis_foot_plate_length": "to the ball",
        "orthosis_mass_g": 95,
    }
    choose_what(page, "A new aim")
    page.get_by_role("textbox", name="Aim", exact=True).click()
    alike = page.get_by_role("option", name="how the foot meets the floor").locator("visible=true")
    alike.click()
    save(page)
    page.get_by_text("Aim is that of aim A1 too. Keep one of both.").wait_for()
    choose_what(page, "visit-1: examination")
    choose_word(page, "A1: how the foot meets the floor", "2")
    fill(page, "Who rated the aims", "lab-2")
    save(page)
    page.get_by_text("Recorded for P01/visit-1").wait_for()
    page.get_by_role("columnheader", name="visit-1", exact=True).last.wait_for(state="attached")
    levels = [visit.facts["aim_level"] for visit in facts_of_person(study, 1).visits]
    assert levels[0] == "A1: 2"
    page.get_by_role("link", name="People", exact=True).click()
    page.locator("summary").get_by_text("Search the notes").click()
    fill(page, "Words in a note", "THINNER")
    page.get_by_role("cell", name="P01/B1/b").wait_for()
    settle(page)
    assert violations(page, "details:has(#people-notes-found)") == []


def test_a_row_of_somebody_else_is_refused(served):
    """What a browser sends is looked up again: visit 3 is of P02."""
    with pytest.raises(about_person.StudyError, match="not of the chosen person"):
        about_person._chosen(served.study, "visit:3", {"person": 1})
    for nonsense in ("visit:x", "table:1", "visit:", "", "visit:1:2"):
        with pytest.raises(about_person.StudyError):
            about_person._chosen(served.study, nonsense, {"person": 1})
