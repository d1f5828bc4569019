"""People: who is there and what waits, found fast, by keyboard, in a browser."""

import re
import shutil
import threading
import time
from dataclasses import replace
from datetime import date, timedelta
from html import escape

import pytest
from sqlalchemy import insert, select, update

from dashboards.parts.markup import html_of
from dashboards.people.people_table import FIRST_ROWS, SIGNS, people_table, whole
from dashboards.people.waiting import Lookout
from dashboards.people.who_fits import EVERYBODY, WAITING_FIRST, Person, fitting
from dashboards.shell import keeper as keeper_module
from dashboards.shell.keeper import Keeper
from gaittrack.answer.sentences import chip_of_finding
from gaittrack.cohort.kept.compared import compared_parts, newest_line
from gaittrack.cohort.kept.kept_changes import ABOUT
from gaittrack.compare.judged.watch import INTERVAL_SIGNS, LIMIT_SIGNS, MORE_VARIABLE
from gaittrack.reasons import Reason
from gaittrack.record.visit_facts import _UNSEEN
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.recordings.overview import ListedPerson, Waiting
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.results.visit_answers import compared_answers, visit_answers
from gaittrack.study.store import open_study
from gaittrack.study.tables import PERSON, RESULT
from gaittrack.study.upkeep.erasing import erase_person
from tests.correcting import confirm_trial, exclude_stride
from tests.study.planted_results import plant

WALK = "P01/visit-1/with-brace/walk-1"
WARNING = '[{"level": "warning", "what": "x", "where": "y", "action": "z"}]'
LISTED = [
    ListedPerson(n, f"P{n:03}", "stroke", "left", "v", f"2026-01-{n % 28 + 1:02}", 1, 2)
    for n in range(1, 251)
]
COUNTS = {
    7: Waiting((1, 2), (3,), (1,), ("warnings", "warnings"), (8,)),
    3: Waiting(stale=(9,)),
    5: Waiting((1, 2), why=("sign_in_doubt", "sign_in_doubt")),
    11: Waiting(untold=(4, 5)),
}


def people(counts=COUNTS, newest=None):
    """Give people as rows have them; everybody is counted."""
    return [Person(one, counts.get(one.id, Waiting()), newest) for one in LISTED]


def set_result(study, **values):
    with study.read() as connection:
        trial = find_trial(connection, WALK)
    with study.write() as connection:
        plant(connection, trial.id, **values)
    return trial


def text_of(component):
    return re.sub(r"\s+", " ", str(component.to_plotly_json()))


def test_a_long_list_says_how_many_more_there_are():
    """So many rows are drawn at first, then more; nobody is left out silently."""
    shown = text_of(people_table(people(), FIRST_ROWS, "code"))
    assert "14 of 250" in shown and "show the next 50" in shown
    assert "P014" in shown and "P015" not in shown
    shown = text_of(people_table(people(), 214, "code"))
    assert "214 of 250" in shown and "show the next 36" in shown
    assert "show the next" not in text_of(people_table(people(), 264, "code"))


def test_who_waits_comes_first_and_is_asked_the_question():
    """What waits on top, then the newest visit; the heading and the pills count."""
    found = fitting(people(), "stroke", WAITING_FIRST, EVERYBODY)
    assert [one.listed.id for one in found[:5]] == [11, 7, 5, 3, 27]
    assert len(fitting(people(), "", "code", "waits")) == 4
    shown = text_of(people_table(found, FIRST_ROWS, WAITING_FIRST))
    assert shown.index("Wait for you: 4") < shown.index("P007") < shown.index("The others")
    assert "Why not measured? 1 walk" in shown and "· 3 more" in shown
    assert "Measure again? 1 walk" in shown and "Which way does the joint bend? 2 walks" in shown
    asked = "Was the brace worn? 2 walks', className='over-row', href='/overview?person=11'"
    assert asked in shown
    assert "4 wait for a word from you" in text_of(whole(people(), is_counted=True)[0])
    uncounted = [Person(one, COUNTS.get(one.id), None) for one in LISTED]
    said = text_of(whole(uncounted, is_counted=False, is_comparing=True)[1])
    assert "4 of 250 people." in said and "0 of 250 people compared; the others follow" in said


def test_the_shapes_of_a_row_are_those_of_the_newest_answer(served):
    """Question for question, leg for leg; signs short, each of them known; why there is none."""
    person = facts_of_person(served.study, 2)
    told = visit_answers(served.study, person, compared_answers(served.study, 2))
    one = Person(ListedPerson(2, "P02", last_visit="visit-3"), Waiting(), newest_line(told))
    row = html_of(people_table([one], FIRST_ROWS, "code"))
    for each in told[-1].answer.findings:
        leg = "" if each.is_of_both_legs else f", {each.side}"
        named = escape(f"{Reason(each.question)}{leg}: {chip_of_finding(each)}")
        assert f'<i aria-label="{named}" class="mark {each.verdict}"' in row
    assert row.count('role="img"') == len(told[-1].answer.findings)
    assert f"of {told[-1].visit.code}" in row, "not of the last visit, and says so"
    codes = (*(sign.code for sign in LIMIT_SIGNS), *dict(INTERVAL_SIGNS), MORE_VARIABLE, *_UNSEEN)
    assert set(codes) == set(SIGNS)
    for why, n_walks, said in (("", 0, "no walk"), ("", 3, "one condition"), ("Odd.", 3, "Odd.")):
        nothing = Person(ListedPerson(1, "P01", n_walks=n_walks), Waiting(), {"why": why})
        assert said in html_of(people_table([nothing], FIRST_ROWS, "code"))


@pytest.mark.parametrize(
    ("n_days", "said"),
    [(0, "today"), (1, "yesterday"), (13, "13 days"), (14, "2 weeks"), (60, "2 months"),
     (800, "2 years"), (-3, "2026-05-13")],
)  # fmt: skip
def test_days_are_said_as_people_say_them(n_days, said):
    """A day to come, or what is no day, stands as it is written."""
    day = date(2026, 5, 10)
    one = replace(LISTED[0], last_date=(day - timedelta(n_days)).isoformat())
    row = html_of(people_table([Person(one, None, None)], 1, "code", today=day))
    assert said in row and "being counted" in row and "not compared yet" in row


@pytest.fixture
def copy(study_folder, tmp_path):
    """Open a copy of the study."""
    study = open_study(shutil.copytree(study_folder, tmp_path / "study"))
    yield study
    study.close()


def counted(lookout):
    """Look until everything is counted."""
    for _ in range(1_200):  # it is counted in another thread
        seen = lookout.look()
        if seen.is_counted:
            return seen
        time.sleep(0.05)
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


def test_what_was_compared_keeps_up_and_is_never_shown_when_it_does_not_hold(copy, monkeypatch):
    """After each change it is gone until it is compared again; somebody new and erased, too."""
    keeper, compared = Keeper(copy), []
    first = keeper.look()
    assert set(first.compared.about) == {"P01", "P02"}, "kept when the study was made"
    real, go_on = keeper_module.compare_and_keep, threading.Event()

    def slow(study, code, stamp):
        compared.append(code)
        assert go_on.wait(20)
        return real(study, code, stamp)

    monkeypatch.setattr(keeper_module, "compare_and_keep", slow)
    monkeypatch.setattr(keeper_module, "_PAUSE_S", 0.0)
    with copy.read() as connection:
        trial = find_trial(connection, WALK)
    exclude_stride(copy, trial, "left-01", who="somebody else", why="stumbled")
    seen = keeper.look()
    assert set(seen.compared.about) == {"P02"} and seen.is_comparing
    assert seen.compared.missing == ["P01"]
    go_on.set()
    seen = until_compared(keeper)
    assert compared == ["P01"]
    assert seen.compared.about["P01"] == compared_parts(copy, "P01")[ABOUT]
    plant_damage(copy, trial.id)
    with copy.read() as connection:
        other = find_trial(connection, WALK.replace("walk-1", "walk-2"))
    confirm_trial(copy, other, who="somebody else", why="looked")
    assert set(until_compared(keeper).fresh) == {"P01"}, "of damaged results nothing is kept"
    erase_person(copy, "P01", who="somebody else", why="asked for it")
    seen = until_compared(keeper)
    assert set(seen.compared.about) == set(seen.compared.stamps) == {"P02"}
    keeper.stop()


def until_compared(keeper):
    """Look until nobody is being compared."""
    for _ in range(1_200):
        seen = keeper.look()
        if not seen.is_comparing:
            return seen
        time.sleep(0.05)
    raise AssertionError("the comparing never ends")


def plant_damage(study, trial_id):
    """Change a result without its checksum."""
    with study.write() as connection:
        damage = update(RESULT).where(RESULT.c.trial_id == trial_id)
        connection.execute(damage.values(layout=RESULT.c.layout + " "))


def typing_narrows_and_enter_chooses_the_last_one_left(page):
    """Code, cause and side are looked for; Enter never chooses one of several."""
    page.get_by_label("Find").fill("P0")
    page.wait_for_selector(".people[aria-label='2 people']")
    page.get_by_label("Find").press("Enter")
    page.wait_for_selector(".message:has-text('2 people fit')")
    assert "/overview" not in page.url
    page.get_by_label("Find").fill("p02")
    page.wait_for_selector(".people[aria-label='1 person']")
    page.keyboard.press("Enter")
    page.wait_for_selector(".banner strong:has-text('P02')")
    page.go_back()
    page.get_by_label("Find").fill("nobody like this")
    page.wait_for_selector("text=Nobody fits")


def test_a_person_is_found_and_chosen_by_keyboard_alone(page):
    """/ goes to the field, arrows from row to row, Enter to the last left; pills are buttons."""
    page.wait_for_selector(".people .mark")
    page.keyboard.press("/")
    page.keyboard.type("left")
    page.wait_for_selector(".people[aria-label='1 person']")
    page.get_by_label("Find").fill("")
    page.wait_for_selector(".people[aria-label='2 people']")
    page.get_by_role("button", name="signs").press("Enter")
    page.wait_for_selector("button.pill[aria-pressed='true']:has-text('signs')")
    page.get_by_role("button", name="all 2").press("Enter")
    page.wait_for_selector(".people[aria-label='2 people']")
    page.get_by_label("Find").focus()
    codes = page.locator(".whole-row").all_inner_texts()
    keys = ("ArrowDown", "ArrowDown", "ArrowUp")
    for key, code in zip(keys, (*codes, codes[0]), strict=True):
        page.keyboard.press(key)
        assert page.evaluate("document.activeElement.textContent") == code
    page.get_by_role("link", name="P01").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".banner strong:has-text('P01')")
    page.go_back()
    typing_narrows_and_enter_chooses_the_last_one_left(page)


def test_what_waits_leads_to_its_walk(served_copy, open_page):
    """A click on what waits chooses person and walk and opens the walks."""
    trial = set_result(served_copy.study, problems=WARNING)
    page = open_page(served_copy)
    page.wait_for_selector("h1:has-text('1 waits for a word from you.')")
    page.get_by_role("button", name="Is the recording right? 1 walk").click()
    page.wait_for_url("**/walks?person=1")
    choice = page.evaluate("JSON.parse(sessionStorage.getItem('choice'))")
    assert choice == {"person": 1, "trial": trial.id}


def test_stale_results_are_measured_again(served_copy, open_page):
    """The act ends with a sentence, nothing is stale after it; a code is text, as is markup."""
    set_result(served_copy.study, software_version="0.0.1")
    with served_copy.study.write() as connection:
        connection.execute(insert(PERSON).values(code="<img src=x onerror=alert(1)>"))
    page = open_page(served_copy)
    page.wait_for_selector("text=<img src=x onerror=alert(1)>")
    assert page.locator("main img").count() == 0
    page.wait_for_selector("text=Measure again? 1 walk")
    page.get_by_role("button", name="Measure stale results again").click()
    page.wait_for_selector(".message:has-text('1 walk was measured again.')")
    page.wait_for_selector("text=Nothing waits.")
    assert page.get_by_role("button", name="Measure stale results again").is_hidden()
    with served_copy.study.read() as connection:
        versions = set(connection.execute(select(RESULT.c.software_version)).scalars())
    assert "0.0.1" not in versions
