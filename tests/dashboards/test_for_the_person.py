"""The page for the person, as they see it: on a screen, on a phone, on one sheet of paper."""

import json
import re

import pytest
from playwright.sync_api import expect
from sqlalchemy import select, update

from gaittrack.study.tables import CONDITION, VISIT

WAY = "/for-the-person"
AT_OPTION = "(document.querySelector('[role=option][data-combobox-selected]')?.innerText ?? '')"


def choose(page, person="P01"):
    """Choose a person and go to the screen; a busy machine takes its time."""
    page.set_default_timeout(60_000)
    page.get_by_role("link", name=person, exact=True).click()
    page.wait_for_selector(f".banner strong:has-text('{person}')")
    page.click(f".banner nav a[href^='{WAY}']")
    page.wait_for_selector("article.person-page")


def pick(page, label, option):
    """Pick an option of a list with the keyboard alone; it opens at what is chosen now."""
    field = page.get_by_role("combobox", name=label).or_(page.get_by_label(label)).first
    field.focus()
    page.keyboard.press("Enter")
    page.get_by_role("option", name=option).first.wait_for()
    page.evaluate(
        "() => new Promise(done => setTimeout(done, 50))"
    )  # it finds its place by a timer
    while option not in (here := page.evaluate(AT_OPTION)):
        page.keyboard.press("ArrowDown")
        page.wait_for_function(f"before => {AT_OPTION} !== before", arg=here)
    page.keyboard.press("Enter")
    expect(field).to_have_value(re.compile(re.escape(option)))


def n_pages(page):
    """Return how many sheets of A4 the page prints on."""
    pdf = page.pdf(prefer_css_page_size=True, print_background=True)
    return len(re.findall(rb"/Type\s*/Page[^s]", pdf))


def brace_the_other_way(study):
    """Say of every visit that the walks without brace were those with it, markers untouched."""
    with study.write() as connection:
        rows = connection.execute(select(CONDITION)).mappings().all()
        worn = {(row["visit_id"], row["code"]): json.loads(row["description"]) for row in rows}
        other = {"with-brace": "without-brace", "without-brace": "with-brace"}
        for row in rows:
            told = worn[row["visit_id"], other[row["code"]]] | {"markers_replaced": False}
            new = update(CONDITION).where(CONDITION.c.id == row["id"])
            connection.execute(new.values(description=json.dumps(told)))


def three_points_with_two_pictures_each_in_both_languages(page):
    """Find the same points and numbers in the words of each language."""
    assert page.locator("article .point").count() == 3
    assert page.locator("article[lang=en] h1").inner_text() == (
        "Your walk with the brace and without it"
    )
    labels = "all => all.map(one => one.getAttribute('aria-label'))"
    english = page.eval_on_selector_all("article svg", labels)
    assert len(english) == 6 and all(english)
    assert "steps of your left leg each way" in page.inner_text("article .lead")
    pick(page, "Language", "Deutsch")
    page.wait_for_selector("article[lang=de]")
    assert "Ihr Gang mit und ohne Schiene" in page.inner_text("article h1")
    german = page.eval_on_selector_all("article svg", labels)
    assert re.findall(r"\d+", german[0]) == re.findall(r"\d+", english[0])


def test_first_and_this_visit_are_the_second_view(open_page, served):
    """Chosen from the same list; what was worn both times is said; relatives are told, too."""
    page = open_page(served)
    choose(page)
    pick(page, "Compare", "with-brace: visit-1 and visit-2")
    page.wait_for_selector("article h1:has-text('Your walk before and now')")
    assert "Both times with the brace." in page.inner_text("article .lead")
    the_page_is_written_for_whom_it_is_shown(page)


def the_page_is_written_for_whom_it_is_shown(page):
    """Relatives are told of another's walk; the choice is one of two."""
    page.locator("label", has_text="relatives").click()
    page.wait_for_selector("article h1:has-text('Their walk')")


def test_three_points_stand_side_by_side_and_a_talk_fits_a_large_screen(open_page, served):
    """From 1366 px on; at 1920 × 1080 nothing scrolls, one point alone is larger."""
    page = open_page(served)
    page.set_viewport_size({"width": 1366, "height": 768})
    choose(page, "P02")
    tops = "all => new Set(all.map(one => Math.round(one.getBoundingClientRect().top))).size"
    assert page.eval_on_selector_all("article .point", tops) == 1
    assert page.eval_on_selector_all("article h2", tops) == 1
    page.set_viewport_size({"width": 1920, "height": 1080})
    page.get_by_role("button", name="Talk about it").click()
    page.wait_for_selector(".talking")
    stage = "document.getElementById('for-the-person-stage')"
    assert page.evaluate(f"{stage}.scrollHeight <= 1080 && {stage}.scrollWidth <= 1920")
    assert not page.locator("header nav").first.is_visible()
    widths = "all => all.map(one => one.getBoundingClientRect().width)"
    before = page.eval_on_selector_all("article svg", widths)
    page.locator(".talking label", has_text=re.compile("^2$")).click()
    page.wait_for_selector(".talking.show-2")
    assert page.locator("article .point:visible").count() == 1
    after = page.eval_on_selector_all("article svg", widths)
    assert after[2] > 1.5 * before[2] and after[0] == 0
    assert page.evaluate(f"{stage}.scrollHeight <= 1080")
    page.get_by_role("button", name="Leave").click()
    page.wait_for_selector(".talking", state="detached")
    assert page.locator("header nav").first.is_visible()


@pytest.mark.parametrize("person", ["P01", "P02"])
def test_the_page_prints_on_one_sheet(open_page, served, person, tmp_path):
    """In every language and view, dark theme too, and as a file; the same points are on each."""
    page = open_page(served, dark=person == "P02")
    choose(page, person)
    assert n_pages(page) == 1
    if person == "P01":
        the_page_can_be_kept_as_a_file(page, tmp_path)
        three_points_with_two_pictures_each_in_both_languages(page)
    else:
        pick(page, "Language", "Deutsch")
        page.wait_for_selector("article[lang=de]")
    assert n_pages(page) == 1
    pick(page, "Compare", "with-brace: visit-1 and visit-2")
    page.wait_for_selector("article h1:has-text('früher')")
    assert n_pages(page) == 1
    page.emulate_media(media="print")
    assert not page.get_by_role("button", name="Print").is_visible()
    assert page.locator("article .notice").is_visible()


def test_what_the_brace_lowers_is_said_as_plainly(open_page, served_copy):
    """A foot that lifts less stands as large as one that lifts more, and is to be talked about."""
    brace_the_other_way(served_copy.study)
    page = open_page(served_copy)
    choose(page)
    headings = page.locator("article .point h2").all_inner_texts()
    assert "In the air the foot is lifted less" in headings
    lost = page.locator("article .point", has_text="lifted less")
    assert "This is something to talk about." in lost.inner_text()
    assert n_pages(page) == 1


def the_page_can_be_kept_as_a_file(page, tmp_path):
    """Its name tells nobody's code, and it opens without asking for anything."""
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Save as a file").click()
    assert waiting.value.suggested_filename == "walking.html"
    path = tmp_path / "walking.html"
    waiting.value.save_as(path)
    other = page.context.new_page()
    asked = []
    other.on("request", lambda request: asked.append(request.url))
    other.goto(path.as_uri())
    assert other.locator(".point svg").count() == 6
    assert asked == [path.as_uri()]
    assert n_pages(other) == 1


def test_without_a_person_or_a_pair_the_screen_says_what_to_do(open_page, served_copy):
    """Nobody chosen; one condition at one visit."""
    page = open_page(served_copy, WAY)
    page.wait_for_selector("main :text('Choose a person')")
    with served_copy.study.write() as connection:
        connection.execute(CONDITION.delete().where(CONDITION.c.code == "with-brace"))
        connection.execute(VISIT.delete().where(VISIT.c.code == "visit-2"))
    page.click("nav a[href='/']")
    page.get_by_role("link", name="P01", exact=True).click()
    page.wait_for_selector(".banner strong:has-text('P01')")
    page.click(f".banner nav a[href^='{WAY}']")
    page.wait_for_selector("main :text('nothing to compare')")
