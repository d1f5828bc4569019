"""People: who is there and what waits, found fast, by keyboard, in a browser."""

import re
import shutil

import pytest
from sqlalchemy import insert, select

from dashboards.people.people_table import MOST_ROWS, fitting, people_table, whole
from dashboards.people.waiting import Lookout
from gaittrack.study.recordings.overview import ListedPerson, Waiting
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.store import open_study
from gaittrack.study.tables import PERSON, RESULT
from gaittrack.study.upkeep.erasing import erase_person
from tests.correcting import confirm_trial
from tests.study.planted_results import plant

WALK = "P01/visit-1/with-brace/walk-1"
WARNING = '[{"level": "warning", "what": "x", "where": "y", "action": "z"}]'
PEOPLE = [ListedPerson(n, f"P{n:03}", "stroke", "left", "v", "", 1, 2) for n in range(1, 251)]


def set_result(study, **values):
    with study.read() as connection:
        trial = find_trial(connection, WALK)
    with study.write() as connection:
        plant(connection, trial.id, **values)
    return trial


def text_of(component):
    return re.sub(r"\s+", " ", str(component.to_plotly_json()))


def test_a_long_list_says_how_many_more_there_are():
    """At most so many rows are drawn; nobody is left out silently."""
    shown = text_of(people_table(PEOPLE, {}, is_counted=True))
    assert f"{250 - MOST_ROWS} more" in shown
    assert "P100" in shown
    assert "P101" not in shown


def test_most_waiting_first_and_what_waits_in_words():
    """The order puts what waits on top; the whole counts it by kind."""
    counts = {7: Waiting((1, 2), (3,), (1,)), 3: Waiting(stale=(9,))}
    found = fitting(PEOPLE, "stroke", "waiting", counts)
    assert [one.id for one in found[:3]] == [7, 3, 1]
    said = text_of(whole(PEOPLE, counts, is_counted=True)[1])
    assert "2 walks to look at; 1 walk could not be measured; 2 walks stale" in said
    assert "2 of 250 people" in text_of(whole(PEOPLE, counts, is_counted=False)[1])


@pytest.fixture
def copy(study_folder, tmp_path):
    """Open a copy of the study."""
    study = open_study(shutil.copytree(study_folder, tmp_path / "study"))
    yield study
    study.close()


def counted(lookout):
    """Look until everything is counted."""
    for _ in range(100):
        seen = lookout.look()
        if seen.is_counted:
            return seen
    raise AssertionError("the count never ends")


def test_the_lookout_keeps_up_with_the_study(copy):
    """After the first count it learns of every change from the history, also of new people."""
    trial = set_result(copy, problems=WARNING)
    lookout = Lookout(copy)
    assert counted(lookout).counts[1].to_look_at == (trial.id,)
    confirm_trial(copy, trial, who="somebody else", why="looked")
    assert counted(lookout).counts[1].to_look_at == ()
    erase_person(copy, "P01", who="somebody else", why="asked for it")
    seen = counted(lookout)
    assert [one.code for one in seen.people] == ["P02"]
    assert set(seen.counts) == {2}


def test_typing_narrows_and_enter_chooses_the_last_one_left(page):
    """Code, cause and side are looked for; Enter never chooses one of several."""
    page.get_by_label("Find").fill("P0")
    page.wait_for_selector("caption:has-text('2 people')")
    page.get_by_label("Find").press("Enter")
    page.wait_for_selector(".message:has-text('2 people fit')")
    assert "/overview" not in page.url
    page.get_by_label("Find").fill("p02")
    page.wait_for_selector("caption:has-text('1 person')")
    page.keyboard.press("Enter")
    page.wait_for_selector(".banner strong:has-text('P02')")
    page.go_back()
    page.get_by_label("Find").fill("nobody like this")
    page.wait_for_selector("text=Nobody fits")


def test_a_person_is_found_and_chosen_by_keyboard_alone(page):
    """Tab goes from the field over the order to the first person."""
    page.get_by_label("Find").focus()
    page.keyboard.type("left")
    page.wait_for_selector("caption:has-text('1 person')")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "P01"
    page.keyboard.press("Enter")
    page.wait_for_selector(".banner strong:has-text('P01')")


def test_what_waits_leads_to_its_walk(served_copy, open_page):
    """A click on what waits chooses person and walk and opens the walks."""
    trial = set_result(served_copy.study, problems=WARNING)
    page = open_page(served_copy)
    page.wait_for_selector("text=Waiting: 1 walk to look at.")
    page.get_by_role("button", name="1 to look at").click()
    page.wait_for_url("**/walks?person=1")
    choice = page.evaluate("JSON.parse(sessionStorage.getItem('choice'))")
    assert choice == {"person": 1, "trial": trial.id}


def test_stale_results_are_measured_again(served_copy, open_page):
    """The act shows its progress, ends with a sentence, and nothing is stale after it."""
    set_result(served_copy.study, software_version="0.0.1")
    page = open_page(served_copy)
    page.wait_for_selector("text=Waiting: 1 walk stale")
    page.get_by_role("button", name="Measure stale results again").click()
    page.wait_for_selector(".message:has-text('1 walk was measured again.')")
    page.wait_for_selector("text=Nothing waits.")
    assert page.get_by_role("button", name="Measure stale results again").is_hidden()
    with served_copy.study.read() as connection:
        versions = set(connection.execute(select(RESULT.c.software_version)).scalars())
    assert "0.0.1" not in versions


def test_people_of_a_code_that_looks_like_markup_are_shown_as_text(served_copy, open_page):
    """A code is text, whatever it spells."""
    with served_copy.study.write() as connection:
        connection.execute(insert(PERSON).values(code="<img src=x onerror=alert(1)>"))
    page = open_page(served_copy)
    page.wait_for_selector("text=<img src=x onerror=alert(1)>")
    assert page.locator("main img").count() == 0
