"""A person over the visits, as the clinician sees them."""

import json
import re
from html import unescape

from click.testing import CliRunner
from sqlalchemy import select, update

from dashboards.overview.screen import shown
from dashboards.parts.markup import html_of
from gaittrack.commands import main
from gaittrack.compare.row_words import unit_words
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.errors import StudyError
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.recordings.overview import Waiting
from gaittrack.study.results.comparing import compare_stored, conditions_of
from gaittrack.study.results.follow import follow_person
from gaittrack.study.results.visit_answers import compared_answers, visit_answers
from gaittrack.study.tables import CONDITION, RESULT, VISIT
from tests.dashboards.settled import cut_off, on_paper, settle
from tests.study.planted_results import plant

WAY = "/overview"


def opened(open_page, served, person=1, **window):
    """Open a person's overview; a busy machine takes its time."""
    page = open_page(served, WAY, choice={"person": person}, **window)
    page.set_default_timeout(60_000)
    page.wait_for_selector(".panels")
    return page


def answered(served, person=1):
    """Return what each visit answers, compared anew: the screen shows what was kept."""
    facts = facts_of_person(served.study, person)
    return visit_answers(served.study, facts, compared_answers(served.study, person))


def test_the_newest_answer_is_the_heading_and_every_visit_stands_in_its_panel(open_page, served):
    """Sentence and board of the newest; a panel per question; on paper; numbers of the command."""
    told = answered(served)
    newest = told[-1].answer
    page = opened(open_page, served)
    heading = page.inner_text("h1")
    assert heading == f"{told[-1].visit.code}, w{newest.sentences()[0].removeprefix('W')}"
    marks = page.locator(".visit-line li b").all_inner_texts()
    assert marks == [each.visit.code for each in told]
    panels = page.locator(".panel")
    assert panels.count() == sum(bool(each.rows) for each in newest.findings)
    finding = next(each for each in newest.findings if each.question == "how_it_is_lifted_in_swing")
    panel = panels.filter(has_text="How it is lifted in swing")
    lines = panel.locator(".changes li").all()
    assert len(lines) == len(told) > 1
    for line, each in zip(lines, told, strict=True):
        own = next(f for f in each.answer.findings if f.question == finding.question)
        row = next(r for r in own.rows if r.measure == finding.rows[0].measure)
        text = line.text_content()
        assert f"{row.difference:+.1f}".replace("-", "−") in text
        assert f"{row.low:.0f} to {row.high:.0f}".replace("-", "−") in text
        assert line.locator(f".mark.{row.verdict}").count() == 1
    it_is_printed_on_three_sheets_at_most(page)
    every_number_is_that_of_the_command(page, served)


def every_number_is_that_of_the_command(page, served):
    """Mean, interval, change, error and verdict of each row, as ``gaittrack follow`` has them."""
    folder = str(served.study.folder)
    done = CliRunner().invoke(main, ["follow", "P01", "--study", folder, "--json"])
    rows = json.loads(done.stdout)["rows"]
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
            assert with_minus(words) in text, (name, words)
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


def test_a_visit_that_cannot_be_compared_says_why_and_costs_no_other(served, monkeypatch):
    """Damaged results of one visit leave the answer of the next where it is."""
    first = {one.id for one in conditions_of(served.study, 1) if one.visit == "visit-1"}

    def compared(study, conditions, **more):
        if first & set(conditions):
            raise StudyError.of("nothing_compared_yet", where="here")
        return compare_stored(study, conditions, **more)

    monkeypatch.setattr("gaittrack.study.results.visit_answers.compare_stored", compared)
    broken, whole = answered(served)
    assert (broken.answer, whole.why) == (None, "") and whole.answer is not None
    found = follow_person(served.study, "P01")
    parts = shown(1, [broken, whole], Waiting(), found)
    assert f"visit-1 could not be compared: {broken.why}" in unescape(html_of(list(parts)))


def it_is_printed_on_three_sheets_at_most(page):
    """Answer, board, panels; nothing cut, no card broken."""
    settle(page)
    printed = page.pdf(prefer_css_page_size=True)
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= 3
    with on_paper(page):
        assert cut_off(page) == []


def test_what_was_changed_or_is_missing_or_old_is_told(open_page, served_copy):
    """A brace that was changed, visits without days, a result of another version."""
    with served_copy.study.write() as connection:
        query = select(CONDITION).join_from(CONDITION, VISIT)
        chosen = query.where(VISIT.c.code == "visit-2", CONDITION.c.code == "with-brace")
        for row in connection.execute(chosen).mappings().all():
            told = json.loads(row["description"]) | {"orthosis_class": "shell"}
            new = update(CONDITION).where(CONDITION.c.id == row["id"])
            connection.execute(new.values(description=json.dumps(told)))
        connection.execute(update(VISIT).values(days_since_first_visit=None))
        first = connection.execute(select(RESULT.c.trial_id)).scalars().first()
        plant(connection, first, software_version="0.0")
    page = opened(open_page, served_copy)
    page.get_by_text("What was changed between visits").click()
    assert "type of the orthosis: dorsal-leaf → shell" in page.inner_text("main")
    visits_without_days_stand_in_their_order(page)
    stale_results_are_named(page)


def visits_without_days_stand_in_their_order(page):
    """No time is made up: none is told, and the distances are even."""
    assert "day" not in page.inner_text(".visit-line")
    assert page.locator(".visit-line li").count() == 2


def stale_results_are_named(page):
    """With the walk and the reason, above the visits."""
    box = page.inner_text("section.watch")
    assert "Not up to date: 1 walk" in box
    page.locator("section.watch summary").click()
    box = page.inner_text("section.watch")
    assert "P01/visit-1" in box and "version 0.0" in box


def test_without_a_person_the_screen_says_what_to_do(open_page, served):
    """And leads to the people."""
    page = open_page(served, WAY)
    page.wait_for_selector("#overview-shown :text('Choose a person')")
