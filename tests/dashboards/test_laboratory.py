"""Laboratory: what is set here says who and why, and goes back; the guide stands beside it."""

import json

from gaittrack.compare.walked.declared_outcomes import ImportantChange
from gaittrack.reasons import Reason, as_plain
from gaittrack.study.laboratory import (
    declared_outcomes_of,
    laboratory_answers,
    laboratory_release,
)
from gaittrack.study.laboratory_history import setting_changes
from gaittrack.study.named_maps import keep_map, map_texts
from tests.dashboards.axe_check import violations
from tests.dashboards.settled import until
from tests.study.planted_results import plant

WARNED = {"level": "warning", "reason": as_plain(Reason("no_heel")), "where": "left foot"}


def test_an_answer_is_kept_with_its_reason_and_goes_back(open_page, served_copy):
    """No change without a reason; what cannot be made of these people says what it needs."""
    with served_copy.study.write() as connection:
        plant(connection, problems=json.dumps([WARNED]))
    page = open_page(served_copy, "/laboratory")
    message = page.locator("#message")

    def title(words):
        page.wait_for_selector(f"#laboratory-title:has-text('{words}')")

    title("set nothing of its own")
    answer = page.get_by_role("button", name="It is so here")
    answer.click()
    page.wait_for_selector("#message:has-text('no reason yet')")
    page.get_by_role("textbox", name="Why").fill("no heel marker in shoes")
    answer.click()
    title("Set by this laboratory: answered warnings")
    with served_copy.study.read() as connection:
        assert laboratory_answers(connection) == {"no_heel": "no heel marker in shoes"}
        (change,) = setting_changes(connection)
    assert (change.who, change.why) == ("tester", "no heel marker in shoes")
    page.get_by_text("Typical values from our own").click()
    page.get_by_role("button", name="Look at their values").click()
    page.wait_for_selector("#message:has-text('their cause is “able-bodied”')")
    page.get_by_text("Measurement errors from our own").click()
    page.get_by_role("button", name="Look at their errors").click()
    page.wait_for_selector("#message:has-text('measurement errors need 3')")
    page.evaluate("dash_clientside.set_props('laboratory-errors-take', {hidden: false})")
    page.get_by_role("textbox", name="Their markers were").click()
    page.get_by_role("option", name="left on").click()  # what was looked at was another choice
    page.locator("#laboratory-errors-take").wait_for(state="hidden")
    page.get_by_text("How we record", exact=True).click()
    page.get_by_role("textbox", name="Frames per second").fill("50")
    page.get_by_role("checkbox", name="Force plates").check()
    page.get_by_role("button", name="Keep", exact=True).click()
    page.get_by_text("50 frames per second by default, force plates ignored").first.wait_for()
    page.get_by_role("button", name="Back to not set: how we record").click()
    until(page, "document.getElementById('laboratory-rate').value === ''")
    page.get_by_role("button", name="Back to not set: answered").first.click()
    title("set nothing of its own")
    assert "as before" in message.inner_text()


def test_licence_makers_and_outcomes_are_said_on_the_screen(open_page, served_copy):
    """Checked as their files are, kept with who and why, shown again, and readable as files."""
    page = open_page(served_copy, "/laboratory")
    page.get_by_role("textbox", name="Why").fill("first release")
    page.locator("summary:has-text('What is said of exports')").click()
    keep = page.get_by_role("button", name="Keep for exports")
    keep.click()
    page.wait_for_selector("#message:has-text('No licence'):has-text('SPDX')")
    page.get_by_role("textbox", name="Licence", exact=True).fill("CC-BY-4.0")
    keep.click()
    page.wait_for_selector("#message:has-text('Nobody is named')")
    makers = page.get_by_role("textbox", name="Who made the data")
    makers.fill("Made-up laboratory; Hospital; 12\nA “second” one")
    keep.click()
    page.wait_for_selector("#message:has-text('12 is no ORCID')")
    makers.fill("Made-up laboratory; Hospital; 0000-0000-0000-0001\nA “second” one")
    page.get_by_role("textbox", name="Description").fill('Walks, "made up"')
    keep.click()
    page.wait_for_selector("#message:has-text('CC-BY-4.0, by Made-up laboratory; A “second” one')")
    page.locator("summary:has-text('Declared outcomes')").click()
    declare = page.get_by_role("button", name="Declare", exact=True)
    declare.click()
    page.wait_for_selector("#message:has-text('No primary outcome')")
    page.get_by_role("textbox", name="Primary outcome").fill("Walking speed")
    page.get_by_role("option", name="Walking speed").first.click()
    important = page.get_by_role("textbox", name="Important changes")
    important.fill("Walking speed; much; a guess")
    declare.click()
    page.wait_for_selector("#message:has-text('needs a difference other than 0')")
    important.fill("walking_speed_m_s; 0,1; a guess")
    declare.click()
    page.wait_for_selector("#message:has-text('Declared: primary walking_speed_m_s')")
    until(page, "document.getElementById('laboratory-important').value.includes('speed; 0.1; a')")
    assert violations(page) == []
    with served_copy.study.read() as connection:
        facts, declared = laboratory_release(connection), declared_outcomes_of(connection)
        told = {each.name: (each.who, each.why) for each in setting_changes(connection)}
    assert facts.creators == (
        {"name": "Made-up laboratory", "affiliation": "Hospital", "orcid": "0000-0000-0000-0001"},
        {"name": "A “second” one"},
    )
    assert facts.description == 'Walks, "made up"'
    assert declared.important == {"walking_speed_m_s": ImportantChange(0.1, "a guess")}
    assert told == dict.fromkeys(("releases", "outcomes"), ("tester", "first release"))


def test_maps_are_renamed_removed_and_brought_back(open_page, served_copy):
    """Each with what it names and who takes it; no act without a reason."""
    keep_map(served_copy.study, "hall", '[landmarks]\nleft_heel = "Q1"\n', who="ada", why="new")
    page = open_page(served_copy, "/laboratory")
    maps = page.locator("#laboratory-maps")
    maps.locator("tr:has-text('1 label'):has-text('0 walks')").wait_for()
    name = page.get_by_role("textbox", name="Name of the map hall")
    name.fill("room B")
    page.get_by_role("button", name="Rename: hall").click()
    page.wait_for_selector("#message:has-text('no reason yet')")
    page.get_by_role("textbox", name="Why").fill("moved")
    page.get_by_role("button", name="Rename: hall").click()
    page.wait_for_selector("#message:has-text('hall is called room B now')")
    page.get_by_role("button", name="Remove: room B").click()
    maps.get_by_text("No map is kept").wait_for()
    page.get_by_role("button", name="Bring room B back").click()
    page.get_by_role("textbox", name="Name of the map room B").wait_for()
    assert violations(page) == []
    with served_copy.study.read() as connection:
        assert list(map_texts(connection)) == ["room B"]


def test_the_guide_is_a_page_of_its_own(open_page, served):
    """From People by its link: for all eyes, light and dark, and no wider than a phone."""
    page = open_page(served, "/guide", width=390)
    assert page.locator("svg.leg").count() == 8
    assert page.title().endswith(" · gaittrack")
    assert "of this laboratory's walks" in page.inner_text("main")
    assert violations(page) == []
    assert not page.evaluate("document.documentElement.scrollWidth > innerWidth")
    page.emulate_media(color_scheme="dark")
    assert violations(page, again=True) == []
    page.get_by_role("link", name="Back to the study").click()
    page.wait_for_selector("a[href='/guide']")
