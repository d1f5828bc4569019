"""A person's progress, as the clinician sees it."""

import json
import math
import re

from click.testing import CliRunner
from sqlalchemy import select, update

from gaittrack.commands import main
from gaittrack.compare.row_words import unit_words
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.study.results.follow import HEADLINE, follow_person
from gaittrack.study.tables import CONDITION, RESULT, VISIT
from tests.dashboards.settled import cut_off, on_paper, settle
from tests.study.planted_results import plant

WAY = "/progress"


def choose(page, person="P01"):
    """Choose a person and go to the screen; a busy machine takes its time."""
    page.set_default_timeout(60_000)
    page.get_by_role("button", name=person, exact=True).click()
    page.wait_for_selector(f".banner strong:has-text('{person}')")
    page.click(f"nav a[href='{WAY}']")
    page.wait_for_selector("figure.picture svg")


def test_two_visits_are_marked_on_every_figure_and_said_in_numbers(open_page, served):
    """One figure per measure and side, visits at their days; the table holds the same values."""
    page = open_page(served)
    choose(page)
    found = follow_person(served.study, "P01")
    keys = {(row.measure, row.side) for row in found.rows if math.isfinite(row.value)}
    assert {measure for measure, _ in keys} == set(HEADLINE)
    marks = page.eval_on_selector_all(
        "figure.picture svg",
        "all => all.map(one => [...one.querySelectorAll('.axis text')].map(t => t.textContent))",
    )
    assert len(marks) == len(keys)
    assert all(texts[:4] == ["visit-1", "0", "visit-2", "42"] for texts in marks)
    name = "peak_swing_dorsiflexion_deg"
    row = next(r for r in found.rows if (r.measure, r.side) == (name, "left"))
    lines = page.get_by_role("table", name=f"{MEASURE_BY_NAME[name].title} (deg), left")
    text = lines.locator("tr", has_text=row.condition).filter(has_text=row.visit).inner_text()
    assert f"{row.value:.1f}" in text and f"{row.value_low:.1f} to {row.value_high:.1f}" in text
    assert page.locator("[data-title='Share chart...']").count() == 0


def test_every_number_is_that_of_the_command(open_page, served):
    """Mean, interval, change, error and verdict of each row, as ``gaittrack follow`` has them."""
    folder = str(served.study.folder)
    done = CliRunner().invoke(main, ["follow", "P01", "--study", folder, "--json"])
    rows = json.loads(done.stdout)["rows"]
    page = open_page(served)
    choose(page)
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    shown = {}
    for row in rows:
        measure = MEASURE_BY_NAME[row["measure"]]
        name = f"{measure.title} ({unit_words(measure.unit)}), {row['side']}"
        if name not in shown:
            lines = page.get_by_role("table", name=name, exact=True).locator("tbody tr")
            shown[name] = lines.all_inner_texts()
        start = f"{row['condition']}\t{row['visit']}\t"
        text = next(line for line in shown[name] if line.startswith(start))
        shown[name].remove(text)
        for words in _printed(row, measure.decimals):
            assert words in text, (name, words)
    assert rows and not any(shown.values()), "rows that the command does not print"


def _printed(row, decimals):
    yield row["words"]
    if row["value"] is not None:
        yield f"{row['value']:.{decimals}f}"
    if row["low"] is not None:
        yield f"{row['low']:+.{decimals}f} to {row['high']:+.{decimals}f}"
    if row["difference"] is not None:
        yield f"{row['difference']:+.{decimals}f}"
    if row["measurement_error"] is not None:
        yield f"error {row['measurement_error']:.{decimals}f}"


def test_two_visits_are_printed_on_four_sheets_at_most(open_page, served):
    """Two measures on a sheet, figures of both sides beside each other; nothing cut."""
    page = open_page(served)
    choose(page)
    settle(page)
    printed = page.pdf(prefer_css_page_size=True)
    assert 2 <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= 4
    with on_paper(page):
        assert cut_off(page) == []


def test_a_changed_brace_is_a_mark_with_its_name(open_page, served_copy):
    """On the figures, and in words above them."""
    with served_copy.study.write() as connection:
        query = select(CONDITION).join_from(CONDITION, VISIT)
        chosen = query.where(VISIT.c.code == "visit-2", CONDITION.c.code == "with-brace")
        for row in connection.execute(chosen).mappings().all():
            told = json.loads(row["description"]) | {"orthosis_class": "shell"}
            new = update(CONDITION).where(CONDITION.c.id == row["id"])
            connection.execute(new.values(description=json.dumps(told)))
    page = open_page(served_copy)
    choose(page)
    assert "type of the orthosis: dorsal-leaf → shell" in page.inner_text("main")
    page.wait_for_selector("figure.picture svg text >> text=brace", state="attached")


def test_visits_without_days_stand_in_their_order_and_say_so(open_page, served_copy):
    """No time is made up."""
    with served_copy.study.write() as connection:
        connection.execute(update(VISIT).values(days_since_first_visit=None))
    page = open_page(served_copy)
    choose(page)
    assert "visits stand in their order" in page.inner_text("main")


def test_stale_results_are_named(open_page, served_copy):
    """With the walk and the reason, above the figures."""
    with served_copy.study.write() as connection:
        first = connection.execute(select(RESULT.c.trial_id)).scalars().first()
        plant(connection, first, software_version="0.0")
    page = open_page(served_copy)
    choose(page)
    box = page.inner_text("section.watch")
    assert "Not up to date" in box and "P01/visit-1" in box and "version 0.0" in box


def test_without_a_person_the_screen_says_what_to_do(open_page, served):
    """And leads to the people."""
    page = open_page(served, WAY)
    page.wait_for_selector("#progress-shown :text('Choose a person')")
