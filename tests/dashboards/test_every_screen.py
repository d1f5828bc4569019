"""What every screen keeps, whichever there are: for all eyes, on a phone, on paper, in private."""

import pytest

from dashboards.app import OF_A_PERSON, SCREENS
from gaittrack.study.store import create_study
from tests.dashboards.axe_check import violations
from tests.dashboards.conftest import Served
from tests.dashboards.settled import cut_off, lead, on_paper, settle, until

WIDE, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}
WHITE = "rgb(255, 255, 255)"
CODES = ("P01", "P02")
UNSAVED = """() => {
  const menus = [...document.querySelectorAll('details.save')];
  const apart = menus.flatMap(one => [...document.querySelectorAll(one.dataset.of || 'none')]);
  const beside = menus.filter(one => !one.dataset.of).map(one => one.closest('.savable'));
  const saved = [...apart, ...beside];
  return [...document.querySelectorAll('main table, main figure, main svg[role=img]')]
    .filter(one => one.getClientRects().length && !one.closest('.ag-root-wrapper, form')
      && !one.querySelector('input, select'))
    .filter(one => !saved.some(box => box === one || box.contains(one)))
    .map(one => one.outerHTML.slice(0, 200));
}"""
"""What is shown and has no control to save it."""

HYPHENS = """() => {
  const walker = document.createTreeWalker(document.querySelector('main'), NodeFilter.SHOW_TEXT);
  const texts = [];
  while (walker.nextNode()) { texts.push(walker.currentNode.textContent); }
  return texts.filter(text => /(?<![\\w)-])-(?=\\d)|\\d deg\\b|\\d °/.test(text));
}"""
"""Numbers with a hyphen for a minus, degrees in letters or apart, shown or folded."""

CONTROLS = """() => [...document.querySelectorAll(
    'button, input:not(.cohort-question *), textarea:not([aria-hidden]), '
    + 'details:not([open], .fair, .who) > summary')]
  .filter(one => one.getClientRects().length && !one.matches('.pill[aria-pressed=true], .over-row'))
  .map(one => one.outerHTML.slice(0, 120));
"""
"""What is pressed or filled in, and no part of what is said."""


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    """Serve a study without anybody."""
    folder = tmp_path_factory.mktemp("empty") / "study"
    create_study(folder).close()
    one = Served(folder)
    yield one
    one.close()


def test_it_is_for_everybody_on_every_screen_and_on_paper(open_page, served, subtests):
    """With somebody chosen: WCAG 2.2 AA, no sideways page on a phone, no cuts on A4, privacy."""
    page = open_page(served, choice={"person": 1})
    settle(page)
    for address, _, _ in SCREENS:
        if address != "/":
            lead(page, address)
        if address in OF_A_PERSON:
            page.wait_for_selector(f".banner:has-text('{CODES[0]}')")
        is_for_everybody(page, address, subtests)


def is_for_everybody(page, address, subtests):
    """Look at a screen wide and light, narrow and dark, and printed."""
    with subtests.test(
        f"{address}: nothing says who outside of the page, or offers to send a graph away"
    ):
        assert not any(code in page.url + page.title() for code in CODES)
        assert page.locator("[data-title^='Share'], [data-title*='cloud' i]").count() == 0
        assert page.locator(".message.error, .lost").count() == 0
    with subtests.test(f"{address}: numbers have a minus and a sign of degrees"):
        assert page.evaluate(HYPHENS) == []
    with subtests.test(f"{address}: whatever is drawn or tabled can be saved"):
        assert page.evaluate(UNSAVED) == []
    for size, theme, is_again in (
        (WIDE, "light", False),
        (PHONE, "dark", True),
    ):  # colours know no width, widths no colour
        page.set_viewport_size(size)
        turn(page, theme)
        settle(page)
        with subtests.test(f"{address}: usable", theme=theme, **size):
            assert violations(page, again=is_again) == []
            sideways = "document.documentElement.scrollWidth > innerWidth"
            assert not page.evaluate(sideways), cut_off(page)
    page.set_viewport_size(WIDE)
    with subtests.test(f"{address}: on paper, turned from the dark"), on_paper(page):
        assert cut_off(page) == []
        assert page.evaluate(CONTROLS) == [] or address == "/add-walks", "all of it is a form"
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == WHITE
        assert page.pdf(prefer_css_page_size=True).startswith(b"%PDF")


def turn(page, theme):
    """Turn a page light or dark."""
    if page.evaluate("document.documentElement.dataset.theme") != theme:
        page.get_by_role("button", name=theme.capitalize(), exact=True).click()
        until(page, f"document.documentElement.dataset.theme === '{theme}'")


def test_every_screen_says_what_to_do_when_there_is_nothing(open_page, empty, subtests):
    """In a study without anybody: a heading, words, and no error."""
    page = open_page(empty)
    settle(page)
    assert page.inner_text("h1") == "This study is empty"
    assert page.locator(".empty li").count() == 3
    assert not page.get_by_role("textbox").first.is_visible()
    assert page.get_by_role("link", name="Look at a made-up person").is_visible()
    for address, _, _ in SCREENS:
        if address != "/":
            lead(page, address)
        with subtests.test(address):
            assert len(page.inner_text("main").split()) > 5
            assert page.locator(".message.error, .lost").count() == 0
            assert violations(page, "html" if address == "/" else "main") == []
