"""Compare in the browser: from a person to a change, its strides and the walk they came from."""

import re
from dataclasses import replace

import pytest
from sqlalchemy import insert, select

from dashboards.compare.curve_panel import curve_panels
from gaittrack.answer import answers
from gaittrack.answer.findings import UNTOLD
from gaittrack.compare.intervals.verdict import NOT_COMPARABLE
from gaittrack.compare.row_words import number, signed, verdict_words
from gaittrack.compare.typical_values.typical_curves import TypicalCurve
from gaittrack.compare.walked.questions import QUESTIONS
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.reasons import Reason
from gaittrack.report.clinic import clinic_page, made_now
from gaittrack.report.comparison_tables import rows_of
from gaittrack.study.people.fact_changes import change_facts, recorded
from gaittrack.study.people.facts import facts_of_conditions
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.comparing import compare_stored, conditions_of
from gaittrack.study.results.first_choice import first_choice
from gaittrack.study.store import create_study
from gaittrack.study.tables import PERSON
from tests.dashboards.axe_check import violations
from tests.dashboards.conftest import Served
from tests.dashboards.settled import buttons_of_graphs, cut_off, on_paper, settle, until
from tests.made_up_files import sample_visit
from tests.planted_facts import examine_nothing

SWING = "Strides of Mid-swing dorsiflexion, left, with-brace"
WINDOW = ".mantine-Modal-content"
ROWS_HOLD_THEIR_CELLS = """[...document.querySelectorAll('.answer > table.board tbody tr')].every(
  row => [...row.children].every(cell => cell.getBoundingClientRect().bottom
    <= row.getBoundingClientRect().bottom + 1))"""


def _compared(served, person=1):
    choice = first_choice(conditions_of(served.study, person))
    return compare_stored(served.study, choice.conditions, reference=choice.reference)


def _open(open_page, served, person=1, **window):
    page = open_page(served, "/compare", choice={"person": person}, **window)
    page.set_default_timeout(60_000)
    page.wait_for_selector("#compare-body h2")
    settle(page, 60)
    return page


def _marks(page):
    """Return where the marks of the board stand, by the numbers over its axis."""
    return page.evaluate("""() => {
      const board = document.querySelector('.answer > table.board');
      const middle = one => (b => b.x + b.width / 2)(one.getBoundingClientRect());
      const ticks = [...board.querySelectorAll('.tick')].map(
        one => [Number(one.textContent.replace('−', '-')), middle(one)]);
      const [[low, left], [high, right]] = [ticks[0], ticks.at(-1)];
      return [...board.querySelectorAll('.drawn .mark')].map(
        one => low + (middle(one) - left) / (right - left) * (high - low));
    }""")


def _drawn(served, person):
    """Return the changes of the questions that have an interval, in measurement errors."""
    (answer,) = answers(_compared(served, person).comparison)
    rows = [row for finding in answer.findings for row in finding.rows]
    drawn = [row for row in rows if row.verdict not in UNTOLD and row.low == row.low]
    return [row.difference / row.measurement_error for row in drawn]


def _choosing(page):
    """Open the fields that say what is compared."""
    page.locator(".compare-choice > summary").click()


def _every_row(page, group="Headline"):
    """Open the rows of a group of measures; they come when they are asked for."""
    page.get_by_text("Every measure, with its strides").click()
    page.locator("summary", has_text=re.compile(rf"^{group} \(")).click()
    page.wait_for_selector(".compare-rows")


def test_from_a_person_to_the_walk_a_number_came_from(open_page, served):
    """Choose the person, compare, open a row's strides, look at one of its walks."""
    page = open_page(served)
    page.set_default_timeout(60_000)
    page.get_by_role("link", name="P01", exact=True).click()
    page.wait_for_selector(".banner strong:has-text('P01')")
    page.locator(".banner nav a", has_text="Compare").click()
    page.wait_for_selector("#compare-body h2")
    page.get_by_role("button", name=SWING, exact=True).click()
    page.wait_for_selector(f"{WINDOW} h3")
    assert violations(page, WINDOW) == []
    page.get_by_role("button", name="Peak swing dorsiflexion", exact=True).click()
    page.wait_for_selector(".mantine-Modal-title:has-text('Peak swing dorsiflexion (°), left')")
    page.get_by_role("button", name=re.compile("Look at this walk: with-brace, walk-2")).click()
    page.wait_for_selector("nav a.here:has-text('Walks')")
    page.wait_for_selector(".walks-place h2:has-text('visit-2, with-brace, walk-2')")
    assert "P01" not in page.url


def rows_on_the_screen_are_those_of_the_comparison(page, found):
    """Value, difference and verdict of each headline row, also where there is none, with reason."""
    rows = [
        row
        for row in rows_of(found.comparison, "with-brace")
        if MEASURE_BY_NAME[row.measure].group == "headline"
    ]
    _every_row(page)
    shown = page.locator(".compare-rows").first.locator("tbody tr").all_inner_texts()
    assert len(shown) == len(rows)
    for row, text in zip(rows, shown, strict=True):
        decimals = MEASURE_BY_NAME[row.measure].decimals
        for words in (
            *(row.side, with_minus(number(row.value, decimals))),
            *(with_minus(signed(row.difference, decimals)), verdict_words(row)),
            number(row.measurement_error, decimals),
        ):
            assert words in text
    verdicts = {row.verdict for row in rows}
    assert NOT_COMPARABLE in verdicts, "the made-up person no longer shows what is tested"


@pytest.mark.parametrize("person", [1, 2])
def test_the_answer_is_seen_without_scrolling(open_page, served, person):
    """On a laptop sentence, signs and all eight questions; on a phone up to the first of them."""
    page = _open(open_page, served, person, width=1366, height=768)
    rows = _board_rows(page)
    assert rows.count() == len(QUESTIONS)
    assert _lower_edge(rows.last) <= 768
    assert _marks(page) == pytest.approx(_drawn(served, person), abs=0.06)
    page.set_viewport_size({"width": 390, "height": 844})
    settle(page)
    assert _lower_edge(rows.first) <= 844
    assert page.evaluate(ROWS_HOLD_THEIR_CELLS)


def test_the_answer_of_two_legs_with_long_names_is_seen_without_scrolling(open_page, tmp_path):
    """Somebody braced on both legs, examined, with aims; conditions of thirty letters."""
    visit = sample_visit("P03", 1, tmp_path / "P03" / "visit-1")
    words = visit / "conditions.toml"
    text = words.read_text(encoding="utf-8")
    for name in ("without-brace", "with-brace"):
        text = re.sub(rf"(?<![\w-]){name}(?=\b)", f"{name}-on-the-slow-treadmill", text)
        (visit / name).rename(visit / f"{name}-on-the-slow-treadmill")
    words.write_text(text, encoding="utf-8")
    study = create_study(tmp_path / "study")
    rows = list(import_files(study, plan_folders([tmp_path / "P03"]), who="tests", new_people=True))
    assert {row.state for row in rows} == {"added"}, rows
    study.close()
    served = Served(tmp_path / "study")
    try:
        rows = _board_rows(_open(open_page, served, width=1366, height=768))
        assert rows.count() == len(QUESTIONS)
        assert _lower_edge(rows.last) <= 768
    finally:
        served.close()


def _board_rows(page):
    return page.locator(".answer > table.board").first.locator("tbody tr")


def _lower_edge(locator):
    box = locator.bounding_box()
    return box["y"] + box["height"]


def test_an_unfair_pair_is_labelled_and_signs_stand_on_top(open_page, served):
    """What differs stands in one line above signs and rows, and opens; so do all rows."""
    found = _compared(served, 2)
    page = _open(open_page, served, 2)
    kinds = {
        str(Reason(note.reason.code))
        for note in found.comparison.fairness
        if note.level == "warning"
    }
    label = page.locator(".fair > summary").inner_text()
    assert kinds
    assert all(kind in label for kind in kinds)
    page.locator(".fair > summary").click()
    for note in found.comparison.fairness:
        assert str(note.reason) in page.inner_text("#compare-body")
    fired = [item for item in found.comparison.watch if item.status == "fires"]
    assert fired
    box = page.locator(".answer .signs.fired").inner_text()
    assert all(str(Reason(item.sign)) in box for item in fired)
    page.get_by_text("What the signs are made of").click()
    below = page.locator(".answer details", has_text="What the signs").inner_text()
    assert all(str(item.reason) in below for item in fired)
    page.get_by_text("Examination on the day of the walks").first.click()
    assert found.comparison.settings["cannot_show"] in page.inner_text("#compare-body")
    rows_on_the_screen_are_those_of_the_comparison(page, found)


def test_what_was_found_on_the_day_stands_among_the_signs_and_whole_below(open_page, served_copy):
    """Of the visit that is compared, missing facts named; what is to be looked at stands on top."""
    examine_nothing(served_copy.study)
    seen = recorded(served_copy.study, "visit", _visit_compared(served_copy))
    found = {"left_quadriceps_strength": "3", "left_correctable_to_neutral": False}
    change_facts(served_copy.study, seen, found, who="tests")
    page = _open(open_page, served_copy)
    assert "correctable to neutral" in page.inner_text(".answer .signs")
    page.get_by_text("Examination on the day of the walks").first.click()
    examined = page.get_by_role("table", name="Examination on the day of the walks")
    rows = examined.locator("tbody tr").all_inner_texts()
    assert [row.split("\t") for row in rows] == [
        ["strength of the quadriceps, left", "3"],
        ["foot correctable to neutral, left", "no"],
    ]
    assert "Not recorded: strength of the dorsiflexors" in page.inner_text("#compare-body")


def _visit_compared(served):
    choice = first_choice(conditions_of(served.study, 1))
    return facts_of_conditions(served.study, choice.conditions).visits[0].id


def test_a_comparison_is_read_moved_kept_and_turned_round(open_page, served):
    """By the pointer, in the replay, as pages; and against another reference."""
    page = _open(open_page, served)
    the_pointer_reads_every_line_of_a_picture(page, served)
    the_replay_comes_when_asked_for_and_moves(page)
    the_page_for_the_file_is_that_of_the_command(page, served)
    another_reference_turns_every_sign(page)


def another_reference_turns_every_sign(page):
    """Choose it in the field; the rows follow, and come back after a reload."""
    first = page.locator(".answer > table.board").first.locator("td.change div")
    before = [text.split()[0] for text in first.all_inner_texts() if text.strip()]
    _choosing(page)
    page.locator("#compare-reference").click()
    page.get_by_role("option", name="with-brace", exact=True).click()
    page.wait_for_selector("#compare-body h2:has-text('without-brace against with-brace')")
    after = [text.split()[0] for text in first.all_inner_texts() if text.strip()]
    assert before
    turn = {"+": "−", "−": "+"}
    turned = [turn.get(text[0], text[0]) + text[1:] if len(text) > 1 else text for text in before]
    assert after == turned
    page.reload()
    page.wait_for_selector("#compare-body h2:has-text('without-brace against with-brace')")


def test_fewer_than_two_conditions_are_asked_for_in_words(open_page, served):
    """Nothing of the last comparison stays beside them."""
    page = _open(open_page, served)
    _choosing(page)
    page.locator("button[aria-label*='emove'], .mantine-Pill-remove").last.click(force=True)
    page.wait_for_selector("#compare-body:has-text('Choose two or more conditions')")
    assert page.locator("#compare-body table").count() == 0


def test_two_visits_are_compared_as_other_days(open_page, served):
    """Four conditions in one board, named with their visits and labelled."""
    page = _open(open_page, served)
    _choosing(page)
    page.locator(".mantine-MultiSelect-input").first.click()
    page.get_by_role("option", name="visit-1", exact=True).click()
    page.wait_for_selector("#compare-body .board thead:has-text('with-brace, visit-2')")
    assert "other day" in page.locator(".fair > summary").first.inner_text()
    assert page.get_by_role("button", name="Page for the file").count() == 1


def the_pointer_reads_every_line_of_a_picture(page, served):
    """Per cent of the cycle and each mean there, as the comparison has them."""
    found = _compared(served).comparison
    picture = page.locator("figure.picture:has-text('Ankle, left')").first
    picture.locator("svg").scroll_into_view_if_needed()
    box = picture.locator("svg").bounding_box()
    assert picture.locator(".reading").count() == 0
    page.mouse.move(box["x"] + 0.6 * box["width"], box["y"] + 0.4 * box["height"])
    said = picture.locator(".reading").text_content()
    percent, values = re.fullmatch(r"(\d+) %: (.*)", said).groups()
    own = next(each for each in found.curves if (each.joint, each.side) == ("ankle", "left"))
    read = dict(each.rsplit(" ", 1) for each in values.split(", "))
    assert set(read) == set(own.bands)
    for name, band in own.bands.items():
        near = band.mean[int(percent) - 1 : int(percent) + 2]
        assert near.min() - 0.1 <= float(read[name]) <= near.max() + 0.1
    page.mouse.move(box["x"] + 1, box["y"] + 0.4 * box["height"])
    assert picture.locator(".reading").text_content() == ""


def test_a_typical_curve_of_the_laboratory_stands_behind_its_angle(served):
    """Two lines and the source in the caption; angles without one, and no curve, have neither."""
    found = _compared(served)
    own = TypicalCurve("foot_pitch", mean=(5.0,) * 101, sd=(2.0,) * 101, source="own 30 adults")
    for curves, n_panels in (({own.joint: own}, 2), ({}, 0)):
        settings = {**found.comparison.settings, "typical_curves": curves}
        shown = replace(found, comparison=replace(found.comparison, settings=settings))
        panels = str(curve_panels(shown, own.joint))
        assert panels.count("Dotted grey: typical, mean ± 2 SD of people: own 30 adults.") == (
            n_panels
        )
        assert panels.count('<g class="typical">') == 2 * n_panels
        assert "own 30 adults" not in str(curve_panels(shown, "knee"))


def test_everything_opened_is_for_everybody_and_fits(open_page, served):
    """Groups, another angle, the replay: axe clean, no sideways page on a phone, no cuts on A4."""
    page = _open(open_page, served, width=390, height=844, dark=True)
    for summary in page.locator("#compare-body summary").element_handles():  # more come meanwhile
        if summary.is_visible():
            summary.click()
    page.locator("#compare-angle").click()
    page.get_by_role("option", name="Knee", exact=True).click()
    page.wait_for_selector("figure.picture:has-text('Knee, right')")
    page.get_by_role("button", name="Show the walk replay").click()
    page.wait_for_selector("#compare-stick-1")
    settle(page, 60)
    assert violations(page) == []
    assert not page.evaluate("document.documentElement.scrollWidth > innerWidth"), cut_off(page)
    with on_paper(page):
        assert cut_off(page) == []
        assert page.pdf(prefer_css_page_size=True).startswith(b"%PDF")


def the_replay_comes_when_asked_for_and_moves(page):
    """Not before; one slider moves the legs of every condition, by keyboard too."""
    assert page.locator("#compare-stick-0").count() == 0
    page.get_by_role("button", name="Show the walk replay").click()
    page.wait_for_selector("#compare-stick-1")
    settle(page, 60)
    graphs = buttons_of_graphs(page)
    assert len(graphs) == 3
    assert min(map(len, graphs)) > 3
    assert not re.search("share|cloud", str(graphs).lower()), "none sends its data away"
    legs = """() => [0, 1].map(n => {
        const box = document.getElementById('compare-stick-' + n);
        return (box.querySelector('.js-plotly-plot') || box).data[1].x.join();
    })"""
    before = page.evaluate(legs)
    page.locator("[role='slider']").focus()
    page.keyboard.press("PageUp")
    page.keyboard.press("End")
    until(page, f"before => ({legs})().every((x, n) => x !== before[n])", before)


def the_page_for_the_file_is_that_of_the_command(page, served):
    """Save it under a name that says nobody; the offline page holds every row."""
    found = _compared(served)
    with page.expect_download() as download:
        page.get_by_role("button", name="Page for the file").click()
    assert download.value.suggested_filename == "page-for-the-file.html"
    written = download.value.path().read_text(encoding="utf-8")
    assert written == clinic_page(served.study, [found], made_now("tester"))
    with page.expect_download() as download:
        page.get_by_role("button", name="Everything on one offline page").click()
    whole = download.value.path().read_text(encoding="utf-8")
    assert whole.count('data-head="What may be said"') == len(found.comparison.rows)
    assert 'id="replay-data"' in whole


def test_who_has_nothing_to_compare_is_told_so(open_page, served_copy):
    """A person without walks: words and a way, no error."""
    with served_copy.study.write() as connection:
        connection.execute(insert(PERSON).values(code="P99"))
        number_of = connection.execute(select(PERSON.c.id).where(PERSON.c.code == "P99")).scalar()
    page = open_page(served_copy, "/compare", choice={"person": number_of})
    page.wait_for_selector("text=No walk of this person is measured yet")
    assert page.locator(".message.error").count() == 0
