"""What a browser reads before the first screen, and what it reads when a screen asks."""

from dashboards.parts.dash_private import sorted_scripts
from tests.dashboards.settled import settle

_READ = "() => performance.getEntriesByType('resource').map(one => new URL(one.name).pathname)"


def test_scripts_of_later_screens_become_addresses():
    """Their own address with its mark of the version; others stay as they are."""
    tags = [
        f'<script src="/x/{name}"></script>'
        for name in (
            "react.js",
            "dash_table/bundle.js",
            "plotly-cartesian.js?m=1",
        )
    ]
    assert sorted_scripts("\n".join(tags)).split("\n") == [
        tags[0],
        '<data hidden id="later-plotly" value="/x/plotly-cartesian.js?m=1"></data>',
        "",
    ]


def test_the_first_screen_waits_for_no_script_of_another(page, served):
    """Drawing comes with the screens that show it; the large plotly never does."""
    page.wait_for_selector(".people[aria-label='2 people']")
    settle(page)
    assert not any("plotly" in path for path in page.evaluate(_READ))
    page.get_by_role("link", name="P01", exact=True).click()
    page.click(".banner a[href*='/compare'], nav a[href*='/compare']")
    page.get_by_role("button", name="Show the walk replay").click()
    page.wait_for_selector("#compare-stick-1 .main-svg >> nth=0")
    settle(page)
    read = page.evaluate(_READ)
    assert sum("plotly-cartesian" in path for path in read) == 1
    assert not any(path.endswith("plotly.min.js") or "dash_table" in path for path in read)
