"""Compare with three conditions of one visit; its words and numbers are those of the commands."""

import csv
import functools
import io
import json
import re
from dataclasses import replace
from typing import NamedTuple
from xml.etree import ElementTree

import pytest
import python_calamine
from click.testing import CliRunner

from gaittrack.answer import answers, several_sentences
from gaittrack.answer.sentences import chip_of_finding
from gaittrack.commands import main
from gaittrack.compare.intervals.verdict import NOT_DEFINED
from gaittrack.compare.row_words import NO_NUMBER, number, unit_words
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.condition_styles import condition_styles
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.report.comparison_page import EXAMINED
from gaittrack.simulate.sample_trials import walks_of, write_trial, write_walk
from gaittrack.simulate.scenario import PATIENTS
from gaittrack.simulate.walk import stand
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.comparing import compare_stored, conditions_of
from gaittrack.study.results.first_choice import first_choice
from gaittrack.study.store import create_study
from tests.dashboards.axe_check import violations
from tests.dashboards.conftest import Served
from tests.dashboards.settled import cut_off, on_paper, settle, until
from tests.made_up_files import sample_visit

PAIR = ("without-brace", "with-brace")
THREE = (*PAIR, "second-brace")
SECOND = """
[conditions.second-brace]
orthosis = "ankle-foot orthosis"
orthosis_side = "left"
orthosis_class = "solid"
footwear = "lace-up shoe"
heel_sole_differential_mm = 10
walking_aid = "none"
speed_instruction = "comfortable"
order = 3
standing_trial = "standing/second-brace.c3d"
"""
READ = """() => [...document.querySelectorAll('table')]
  .filter((one) => one.querySelector('[data-head="What may be said"]'))
  .map((one) => [...one.querySelectorAll('tbody tr')].map((row) => Object.fromEntries(
    [...row.querySelectorAll('td')].filter((cell) => cell.dataset.head !== 'Strides').map((cell) =>
      [cell.dataset.head, [...cell.childNodes].map((part) => part.textContent)]))))"""
"""Rows by table; of each cell what it says, and what it says below in small letters."""

BOARD = """() => [...document.querySelectorAll('.answer > table.board tbody tr')]
  .map((row) => [...row.children].map((cell) => cell.textContent.replace('›', '')))"""
"""The questions of all boards; of each row its cells."""

RESULTS = """() => [...document.querySelectorAll('.results tbody tr')].map(
  (row) => [...row.children].map((cell) => cell.textContent).join(' '))"""
VALUES = """() => [...document.querySelector('.answer > .board').querySelectorAll(
  '.values b, .change small')].map((one) => one.textContent).filter((text) => /[0-9]/.test(text))"""
"""Results of the page for the file; values with the brace, and intervals, on the board."""

STICKS = """() => [0, 1, 2].map((n) => {
  const box = document.getElementById('compare-stick-' + n);
  return (box.querySelector('.js-plotly-plot') || box).data[1].line.color;
})"""

KEY_OVER_WORDS = """() => {
  const box = (one) => one.getBoundingClientRect(), plot = document.querySelector('#compare-toe');
  const key = box(plot.querySelector('.legend .bg'));
  return [...plot.querySelectorAll('.infolayer text')].filter((one) => !one.closest('.legend'))
    .filter((one) => box(one).width && box(one).bottom > key.top + 1 && box(one).top < key.bottom
      && box(one).right > key.left && box(one).left < key.right)
    .map((one) => one.textContent);
}"""
GROUPS_HAVE_ROWS = """[...document.querySelectorAll("summary[id*='compare-summary']")].every(
  one => one.parentElement.querySelector('table'))"""
BEFORE = "one => getComputedStyle(one, '::before').content"


def _second_brace(visit, wear):
    """Return how P01 walks in another brace, which holds the foot higher in swing."""
    recipe = PATIENTS[0].recipe(visit, wear)
    return replace(recipe, left=replace(recipe.left, swing_pitch_deg=-15.0))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Write P01's second visit with a second brace, and P02's second visit as it is."""
    walks = tmp_path_factory.mktemp("walks")
    visit = walks / "P01" / "visit-2"
    sample_visit("P01", 2, visit)
    other = replace(PATIENTS[0], code="P91", recipe=_second_brace)  # scattered unlike the first
    (visit / THREE[2]).mkdir()
    for n, walk in enumerate(walks_of(other, 1, "with-brace"), 1):
        write_walk(visit / THREE[2] / f"walk-{n}.c3d", other, walk)
    standing = visit / "standing" / f"{THREE[2]}.c3d"
    write_trial(standing, stand(_second_brace(1, "with-brace"), seed=91))
    with (visit / "conditions.toml").open("a", encoding="utf-8") as file:
        file.write(SECOND)
    sample_visit("P02", 2, walks / "P02" / "visit-2")
    return walks


@pytest.fixture(scope="module")
def three(folder, tmp_path_factory):
    """Serve a study of them: P01 walked in three conditions, P02 in two."""
    place = tmp_path_factory.mktemp("study") / "study"
    study = create_study(place)
    rows = list(import_files(study, plan_folders([folder]), who="tests", new_people=True))
    study.close()
    assert {row.state for row in rows} <= {"added", "passed over"}, rows
    served = Served(place)
    yield served, place
    served.close()


class Printed(NamedTuple):
    """What ``gaittrack compare`` gives of a person: rows as JSON, the table, the offline page."""

    rows: list
    words: str
    page: str


@pytest.fixture(scope="module")
def command(folder, tmp_path_factory):
    """Give a function that runs ``gaittrack compare`` on the files of a person, each once."""

    def run(person, *more):
        visit = folder / person / "visit-2"
        names = THREE if person == "P01" else PAIR
        given = [text for name in names for text in ("--condition", f"{name}={visit / name}")]
        given += ["--reference", PAIR[0], *map(str, more)]
        result = CliRunner().invoke(main, ["compare", *given])
        assert result.exit_code == 0, result.output
        return result.stdout

    @functools.cache
    def printed(person):
        file = tmp_path_factory.mktemp("page") / f"{person}.html"
        rows = json.loads(run(person, "--json"))["rows"]
        words = " ".join(run(person, "--all", "--html", file).split())
        return Printed(rows, words, file.read_text(encoding="utf-8"))

    return printed


@pytest.fixture
def opened(open_page, three):
    """Give a function that opens Compare with a person's first choice."""

    def open_it(person, **window):
        page = open_page(three[0], "/compare", choice={"person": person}, **window)
        page.set_default_timeout(60_000)
        page.wait_for_selector("#compare-body h2")
        settle(page, 60)
        return page

    return open_it


def _every_row(page):
    """Open every group of measures."""
    page.get_by_text("Every measure, with its strides").click()
    groups = page.locator("summary[id*='compare-summary']")
    for summary in groups.all():
        summary.click()
    until(page, GROUPS_HAVE_ROWS)
    settle(page, 60)
    return page


def _rows_in(browser, html):
    """Return the tables of rows on a page that was written, as a browser reads them."""
    return _read_in(browser, html, READ)


def _read_in(browser, html, what):
    page = browser.new_page()
    try:
        page.set_content(html)
        return page.evaluate(what)
    finally:
        page.close()


def _numbers(row):
    """Return what a row of JSON must look like in print."""
    decimals = MEASURE_BY_NAME[row["measure"]].decimals

    def plain(name, form=""):
        text = "-" if row[name] is None else f"{row[name]:{form}.{decimals}f}"
        return text[1:] if text[1:] and float(text) == 0 and text[0] in "+-" else text

    low, high = plain("low", "+"), plain("high", "+")
    return {
        "Side": row["side"],
        "Reference": plain("reference_value"),
        "Here": plain("value"),
        "Change": plain("difference", "+"),
        "95 % interval": "-" if low == "-" else f"{low} to {high}",
        "Error": plain("measurement_error"),
    }


def _words_in_the_table(row, found):
    """Return what the table of the command must say of a row."""
    measure, counts = row["Measure"]
    printed = _numbers(found)
    if found["verdict"] == NOT_DEFINED:
        return [found["verdict_reason"]["words"]]
    error = "" if printed["Error"] == "-" else f" (error {printed['Error']})"
    line = " ".join([measure, *list(printed.values())[:-1]])
    said = (f"{row['What may be said'][0]}{error}", *row["95 % interval"][1:], counts)
    return [line, "; ".join(said)]


@pytest.mark.parametrize(("number", "person"), [(1, "P01"), (2, "P02")])
def test_rows_on_the_screen_are_those_that_the_command_prints(
    opened, command, browser, number, person
):
    """Number for number and word for word: its page, its JSON, its table."""
    shown = _every_row(opened(number)).evaluate(READ)
    names = (THREE if person == "P01" else PAIR)[1:]
    printed, words, page = command(person)
    on_page = _rows_in(browser, page)
    assert len(on_page) == len(names)
    for whole, condition in zip(on_page, names, strict=True):
        own = {_key(row): row for row in printed if row["condition"] == condition}
        told = {(row["Measure"][0], row["Side"][0]): row for row in whole}
        assert set(told) == set(own)
        on_screen = {key: row for key, row in told.items() if any(row in each for each in shown)}
        assert len(on_screen) >= 0.9 * len(own), "labels that a whole group shares stand below it"
        for key, row in on_screen.items():
            expected = _numbers(own[key])
            assert {head: row[head][0] for head in expected} == {
                head: with_minus(text) for head, text in expected.items()
            }
            assert row["What may be said"][0].startswith(own[key]["words"])
            for said in _words_in_the_table(row, own[key]):
                assert with_minus(said) in with_minus(words)


def _key(row):
    measure = MEASURE_BY_NAME[row["measure"]]
    return f"{measure.title} ({unit_words(measure.unit)})", row["side"]


def _reported(three, *more):
    given = ["--visit", "visit-2", "--study", str(three[1]), *more]
    return CliRunner().invoke(main, ["report", *given])


def test_rows_on_the_screen_are_those_of_the_report(opened, three, browser):
    """The fair pair, from one command without a question."""
    result = _reported(three, "P02")
    assert result.exit_code == 0, result.output
    page = opened(2)
    shown = page.evaluate(BOARD)
    results = " ".join(_read_in(browser, result.stdout, RESULTS))
    assert len(shown) == len(QUESTION_CODES)
    values = page.evaluate(VALUES)
    assert len(values) >= 2 * len(QUESTION_CODES)
    assert [value for value in values if value not in results] == []


def test_three_conditions_share_one_board_that_is_their_answers(opened, three):
    """Each value, mark, verdict and change of the answers, in its place; five rows are in sight."""
    page = opened(1, width=1366, height=768)
    study = three[0].study
    choice = first_choice(conditions_of(study, 1))
    found = compare_stored(study, choice.conditions, reference=choice.reference).comparison
    told = answers(found)
    text = page.inner_text("#compare-body")
    assert all(with_minus(each) in text for each in several_sentences(told))
    shown = page.evaluate(BOARD)
    assert len(shown) == len(QUESTION_CODES)
    for place, (_, values, _, said) in enumerate(shown):
        rows = [each.findings[place].rows[0] for each in told]
        chips = [str(chip_of_finding(each.findings[place])) for each in told]
        assert said.count(chips[0]) == (1 if "both" in said else chips.count(chips[0]))
        assert all(chip in said for chip in chips)
        for row in rows:
            value = number(row.value, MEASURE_BY_NAME[row.measure].decimals)
            assert f"{row.condition}: " in values
            assert with_minus(value) in values or value == NO_NUMBER
    heights = page.evaluate("""() => [...document.querySelectorAll('.answer .board tbody tr')]
      .map((row) => row.getBoundingClientRect().bottom)""")
    assert heights[4] <= 768
    assert "Changed: type of the orthosis. It is no number" in text
    saved_as_shown(page, shown)


def saved_as_shown(page, shown):
    """Save the board as each kind: the same values in its tables, a whole picture of its size."""
    menu = page.locator("details.save[data-what='board']")
    files = {}
    for kind in ("csv", "xlsx", "svg", "png"):
        menu.locator("summary").click()
        with page.expect_download() as download:
            menu.locator(f"[data-save={kind}]").click()
        assert download.value.suggested_filename == f"compare-board.{kind}"
        files[kind] = download.value.path().read_bytes()
    rows = list(csv.reader(files["csv"].decode("utf-8-sig").splitlines()))
    book = python_calamine.load_workbook(io.BytesIO(files["xlsx"])).get_sheet_by_index(0)
    assert [[str(cell) for cell in row] for row in book.to_python()][1] == rows[1]
    assert rows[0][1:4] == list(THREE)
    for cells, line in zip(shown, rows[1:], strict=False):
        values = [text for cell in line[1:4] for text in cell.split("; ")]
        unlike = [text for text in values if text not in cells[1]]
        assert unlike == [], cells
    drawing = ElementTree.fromstring(files["svg"])
    words = " ".join(drawing.itertext())
    assert drawing.tag.endswith("}svg")
    assert "How the person walks" in words and files["png"].startswith(b"\x89PNG")


def test_how_many_questions_were_asked_stands_everywhere(opened, command):
    """On the screen, in the table and on the offline page; more of three conditions than of two."""
    counts = []
    for n, person in ((1, "P01"), (2, "P02")):
        _, words, page = command(person)
        (asked,) = re.findall(r"(\d+) questions were asked at once", words)
        told = f"{asked} questions were asked at once"
        assert told in page
        shown = opened(n)
        shown.get_by_text("Every measure, with its strides").click()
        assert told in shown.inner_text("#compare-body")
        counts.append(int(asked))
    assert counts[0] > 1.5 * counts[1] > 0


def test_what_was_examined_stands_on_the_screen_and_on_both_pages(opened, three, browser):
    """The same rows on the offline page; beside what recordings cannot show on all of them."""
    page = opened(2)
    page.locator("#compare-body details.card > summary", has_text=EXAMINED).click()
    rows = page.get_by_role("table", name=EXAMINED).locator("tbody tr").all_inner_texts()
    assert "mediolateral stability of the ankle under load, right\ttilts into varus" in rows
    with page.expect_download() as download:
        page.get_by_role("button", name="Everything on one offline page").click()
    whole = download.value.path().read_text(encoding="utf-8")
    written = browser.new_page()
    try:
        written.set_content(whole)
        section = written.locator(f"section:has(h2:text-is('{EXAMINED}'))")
        assert section.locator("tbody tr").all_inner_texts() == rows
        written.set_viewport_size({"width": 390, "height": 800})
        assert section.locator("td").first.evaluate(BEFORE) == "none"
    finally:
        written.close()
    ankle = "mediolateral stability of the ankle under load, right: tilts into varus"
    said = f"skin, pain. Examined at visit-2: {ankle}; "
    for text in (page.inner_text("#compare-body"), whole):
        assert said in text
    assert f"examination: {ankle}" in _reported(three, "P02").stdout


def test_three_conditions_fit_everywhere(opened):
    """A phone in the dark, with everything opened; and A4. Each has its colour."""
    page = opened(1, width=390, height=844, dark=True)
    for summary in page.locator("#compare-body summary").element_handles():
        if summary.is_visible():
            summary.click()
    page.get_by_role("button", name="Show the walk replay").click()
    page.wait_for_selector("#compare-stick-2")
    settle(page, 60)
    styles = condition_styles(THREE, PAIR[0])
    assert page.evaluate(STICKS) == [styles[name].colour for name in THREE]
    assert page.evaluate(KEY_OVER_WORDS) == []
    assert violations(page, ".answer") == []
    assert not page.evaluate("document.documentElement.scrollWidth > innerWidth"), cut_off(page)
    with on_paper(page):
        assert cut_off(page) == []
