"""The frame around the screens."""

from tests.dashboards.settled import until


def test_choosing_a_person_names_them_above_every_screen(page):
    """Who is looked at stands above the screen, is not in the address, and outlives a reload."""
    assert "Nobody is chosen" in page.inner_text(".banner")
    page.get_by_role("button", name="P01", exact=True).click()
    page.wait_for_selector(".banner strong:has-text('P01')")
    assert "P01" not in page.url
    assert "P01" not in page.title()
    page.reload()
    page.wait_for_selector(".banner strong:has-text('P01')")


def test_two_tabs_look_at_two_people(page):
    """Choosing somebody in one tab does not change the other."""
    other = page.context.new_page()
    other.goto(page.url)
    other.get_by_role("button", name="P02", exact=True).click()
    other.wait_for_selector(".banner strong:has-text('P02')")
    page.get_by_role("button", name="P01", exact=True).click()
    page.wait_for_selector(".banner strong:has-text('P01')")
    assert "P02" in other.inner_text(".banner")


def test_the_dark_theme_is_kept(page):
    """The button turns the page dark, and a reload keeps it."""
    page.get_by_role("button", name="Dark").click()
    until(page, "document.documentElement.dataset.theme === 'dark'")
    page.reload()
    page.wait_for_selector("main h1")
    until(page, "document.documentElement.dataset.theme === 'dark'")
