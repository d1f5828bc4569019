"""A slow answer of an earlier choice never stays where a newer one's stands."""

from gaittrack.study.recordings.reviewing import known_trial
from tests.dashboards.settled import held_back, settle
from tests.dashboards.test_walks_screen import (
    give_reason,
    open_walk,
    place,
    says,
    stored,
)

SWING = "Strides of Mid-swing dorsiflexion"
OF_P01 = "P01/visit-1/with-brace/walk-"


def choose_person(page, person):
    page.evaluate("one => dash_clientside.set_props('choice', {data: {person: one}})", person)


def turn_round(page, reference):
    page.locator("#compare-reference").click()
    page.get_by_role("option", name=reference, exact=True).click()


def test_what_was_compared_before_fills_nothing_of_what_is_compared_now(open_page, served):
    """The strides of a row, once it is turned round; then all of it, of another person."""
    page = open_page(served, "/compare", choice={"person": 1})
    page.wait_for_selector("#compare-body h2")
    settle(page, 60)
    one_group_does_not_wait_for_another(page)
    with held_back(page, "compare-window.opened", "compare-replay.children") as asked:
        page.get_by_role("button", name=SWING).first.click()
        page.get_by_role("button", name="Show the walk replay").click()
        asked()
        page.locator(".compare-choice > summary").click()
        turn_round(page, "with-brace")
    page.wait_for_selector("#compare-body h2:has-text('without-brace against with-brace')")
    settle(page, 60)
    assert page.locator(".mantine-Modal-content, #compare-stick-0").count() == 0
    with held_back(page, "compare-reference.data") as asked:
        turn_round(page, "without-brace")
        asked()
        choose_person(page, 2)
        page.wait_for_selector(".banner strong:has-text('P02')")
    picked = page.evaluate("dash_component_api.getLayout('compare-picked').props.data")
    assert picked["person"] == 2
    assert '"of":"2-' in page.get_attribute(".compare-rest", "id")


def one_group_does_not_wait_for_another(page):
    """Show what was asked for first and comes last too: it has a place of its own."""
    page.get_by_text("Every measure, with its strides").click()
    groups = page.locator("details:has(> summary[id*='compare-summary'])")
    with held_back(page, "compare-group") as asked:
        groups.nth(0).locator("summary").first.click()
        asked()
        groups.nth(1).locator("summary").first.click()
        groups.nth(1).locator("table").first.wait_for()
    groups.nth(0).locator("table").first.wait_for()


def test_an_earlier_walk_fills_nothing_of_the_one_that_is_shown(open_page, served_copy):
    """Neither chosen before nor corrected before; what was kept is said all the same."""
    page = open_walk(open_page, served_copy, f"{OF_P01}1")
    with held_back(page, "walks-head.children") as asked:
        page.get_by_role("button", name="with-brace, walk-2").click()
        asked()
        page.get_by_role("button", name="with-brace, walk-3").click()
        page.wait_for_selector(".walks-place h2:has-text('walk-3')")
    assert "walk-3" in page.locator(".walks-list [aria-current]").last.inner_text()
    assert trial_shown(page) == place(served_copy, f"{OF_P01}3").id
    give_reason(page)
    with held_back(page, "walks-head.children@") as asked:
        page.get_by_role("button", name="Looked at: it is right").click()
        asked()
        choose_person(page, 2)
        page.wait_for_selector(".banner strong:has-text('P02')")
        page.wait_for_selector(".walks-place h2:not(:has-text('walk-3'))")
    says(page, "Kept: looked at and found right")
    assert stored(served_copy, f"{OF_P01}3")
    with served_copy.study.read() as connection:
        assert known_trial(connection, trial_shown(page))[0].person == "P02"


def trial_shown(page):
    """Return which walk a correction would be made of."""
    return page.evaluate("dash_component_api.getLayout('walks-shown').props.data.trial")
