"""The frame around the screens."""

from dashboards.app import OF_A_PERSON
from tests.dashboards.settled import until


def test_choosing_a_person_names_them_above_every_screen(page):
    """Who is looked at stands above; by number alone in the address; Back goes back; dark stays."""
    page.get_by_role("link", name="P01", exact=True).click()
    page.wait_for_selector(".banner strong:has-text('P01')")
    assert "P01" not in page.url + page.title()
    assert page.url.endswith("/overview?person=1")
    page.reload()
    page.wait_for_selector(".banner strong:has-text('P01')")
    page.get_by_role("link", name="Compare", exact=True).first.click()
    page.wait_for_selector(".banner nav a.here:has-text('Compare')")
    until(page, "document.title === 'Compare · gaittrack'")
    page.go_back()
    page.wait_for_selector(".banner nav a.here:has-text('Overview')")
    the_dark_theme_is_kept(page)


def test_a_bookmark_opens_its_person_and_nobody_chosen_is_said(page):
    """An address with a person shows them whoever was chosen; without one it says how to choose."""
    base = page.url.split("?")[0].rstrip("/")
    page.goto(f"{base}/compare")
    page.wait_for_selector(".banner:has-text('Nobody is chosen')")
    page.goto(f"{base}/compare?person=2")
    page.wait_for_selector(".banner strong:has-text('P02')")
    for address in OF_A_PERSON:
        page.goto(f"{base}{address}?person=999")
        page.wait_for_selector(".banner:has-text('not in the study')")
        page.wait_for_selector("main :text('Choose a person on the screen People')")


def test_two_tabs_look_at_two_people(page):
    """Choosing somebody in one tab does not change the other."""
    other = page.context.new_page()
    other.goto(page.url)
    other.get_by_role("link", name="P02", exact=True).click()
    other.wait_for_selector(".banner strong:has-text('P02')")
    page.get_by_role("link", name="P01", exact=True).click()
    page.wait_for_selector(".banner strong:has-text('P01')")
    assert "P02" in other.inner_text(".banner")


def the_dark_theme_is_kept(page):
    """Go with the system while it is open, until the button turns it; a reload keeps that."""
    ground = "getComputedStyle(document.body).backgroundColor"
    by_day = page.evaluate(ground)
    page.emulate_media(color_scheme="dark")
    page.wait_for_selector("header button:text-is('Light')")
    assert page.evaluate(ground) != by_day
    page.emulate_media(color_scheme="light")
    page.wait_for_selector("header button:text-is('Dark')")
    assert page.evaluate(ground) == by_day
    page.get_by_role("button", name="Dark").click()
    until(page, "document.documentElement.dataset.theme === 'dark'")
    page.reload()
    page.wait_for_selector("main h1")
    until(page, "document.documentElement.dataset.theme === 'dark'")
