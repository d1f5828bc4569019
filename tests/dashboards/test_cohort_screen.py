"""The screen Cohort: who fits, what it shows of them, and what leaves the laboratory."""

import io
import shutil
import threading
import zipfile
from contextlib import closing

import pandas as pd
import pytest
from sqlalchemy import delete, func, insert, select

from dashboards.cohort.cohort_tables import ORDERS, in_order, rows_table
from dashboards.parts.markup import html_of
from dashboards.shell import keeper
from gaittrack.cohort.asking.answering import answer_cohort
from gaittrack.cohort.asking.mean_curves import cohort_curve
from gaittrack.cohort.asking.question import CohortQuestion
from gaittrack.cohort.asking.view import read_cohort
from gaittrack.cohort.disclosure.lost_words import EXACT_VALUES
from gaittrack.cohort.tables.reason_cells import packed
from gaittrack.cohort.tables.selection import Selection
from gaittrack.compare.intervals.verdict import LARGER, NO_CHANGE, NOT_DEFINED
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.cohort_curve import curve_rows
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.reasons import Reason
from gaittrack.report.cohort_beside import curve_lines
from gaittrack.report.cohort_rows import heads_of, texts_of
from gaittrack.study.store import create_study, open_study
from gaittrack.study.tables import HISTORY, KEPT_CHANGES, PERSON
from tests.dashboards.conftest import Served
from tests.dashboards.settled import cut_off, held_back, on_paper, settle, until

SLOW_MS = 90_000
MEASURE = MEASURE_BY_NAME["loading_response_plantarflexion_rate_deg_s"]


@pytest.fixture
def cohort(open_page, served_copy):
    """Open the screen and wait until everybody was compared."""
    page = open_page(served_copy, "/cohort")
    page.wait_for_selector(".changes-plot", timeout=SLOW_MS)
    page.wait_for_selector("#cohort-rows table")
    return page


def choose(page, label, option):
    """Choose an option by its name, as a person does."""
    page.get_by_role("combobox", name=label).or_(page.get_by_label(label, exact=True)).first.click()
    page.get_by_role("option", name=option, exact=True).click()


def test_everybody_is_shown_in_plain_words_and_a_cause_narrows_them(cohort, served_copy):
    """A sentence asks, one answers; also on paper; a cause leaves one, whose code leads on."""
    settle(cohort)
    chosen = cohort.locator("input:visible").evaluate_all("all => all.map(one => one.value)")
    assert "with brace, in shoes against without brace, in shoes" in chosen
    shown = cohort.inner_text("main")
    assert "everybody, affected side, visit 1" in shown
    assert "Loading-response plantarflexion rate changes by −" in shown
    assert "orthosis_" not in shown + "".join(chosen)
    with on_paper(cohort):
        assert cohort.locator("#cohort-rows tbody tr").first.is_visible()
        assert cut_off(cohort) == []
    people = "#cohort-rows tbody a"
    assert set(cohort.locator(people).all_inner_texts()) == {"P01", "P02"}
    what_is_chosen_stays_chosen(cohort)
    what_stands_beside_is_made_when_opened(cohort)
    curves_say_what_the_command_says(cohort, served_copy.study)
    all_rows_are_saved(cohort)
    cohort.locator(".who > summary").click()
    choose(cohort, "Cause", "stroke")
    until(
        cohort,
        "cells => new Set([...document.querySelectorAll(cells)].map(c => c.innerText)).size === 1",
        people,
    )
    cohort.wait_for_selector("#cohort-who:has-text('stroke, affected side, visit 1')")
    cohort.keyboard.press("Escape")
    cohort.locator(".who > summary").click()
    code = cohort.locator(people).first.inner_text()
    cohort.locator(people).first.click()
    cohort.wait_for_selector(f".banner strong:has-text('{code}')")


def what_is_chosen_stays_chosen(cohort):
    """Hold the options' answer back until another measure is chosen: it takes nothing back."""
    title = "Peak stance dorsiflexion"
    with held_back(cohort, "cohort-measure.data") as asked:
        cohort.evaluate("dash_clientside.set_props('cohort-state', {data: 'another'})")
        asked()
        choose(cohort, "Measure", f"{title} (°)")
    cohort.wait_for_selector(f"#cohort-answer:has-text('{title}')")
    settle(cohort)
    assert cohort.get_by_label("Measure").first.input_value() == f"{title} (°)"
    assert title in cohort.locator("#cohort-answer").text_content()


def what_stands_beside_is_made_when_opened(cohort):
    """Folded it holds nothing; opened it has effects, shares and who is missing, in words."""
    part = cohort.locator("#cohort-beside")
    assert part.text_content() == ""
    cohort.locator("#cohort-beside-open").click()
    cohort.wait_for_selector("#cohort-beside table >> nth=1")
    told = part.inner_text()
    assert "Mean over people, at the first visit" in told and "fewer than 3 people" in told
    closed_it_holds_nothing(cohort, "cohort-beside")


def curves_say_what_the_command_says(cohort, study):
    """Folded nothing is read; opened it has the sentence, the drawing and all numbers of it."""
    part = cohort.locator("#cohort-curve")
    assert part.text_content() == ""
    cohort.locator("#cohort-curve-open").click()
    cohort.wait_for_selector("#cohort-curve svg", timeout=SLOW_MS)
    view = read_cohort(study)
    question = CohortQuestion(Selection(visit_no=(1,)), MEASURE.name, "affected", view.pairs[0])
    curve = cohort_curve(study, answer_cohort(view, question), "ankle")
    told = part.text_content()
    assert all(with_minus(line) in told for line in curve_lines(curve))
    assert "Ankle: too few people for a band" in told and part.locator("tr").count() == 102
    assert all(with_minus(row[1]) in told for row in curve_rows(curve))
    closed_it_holds_nothing(cohort, "cohort-curve")


def closed_it_holds_nothing(cohort, part):
    """Let nothing of an earlier question stand there when it is opened again."""
    cohort.locator(f"#{part}-open").click()
    until(cohort, "part => document.getElementById(part).textContent === ''", part)


def all_rows_are_saved(cohort):
    """Hold that the file has every row that fits, not only those that are shown."""
    part = cohort.locator("#cohort-rows .save")
    part.locator("summary").click()
    with cohort.expect_download() as download:
        part.get_by_role("button", name="CSV").click()
    saved = pd.read_csv(download.value.path())
    assert list(saved.columns[:3]) == ["Person", "Visit", "Side"]
    assert list(saved["Person"]) == cohort.locator("#cohort-rows tbody a").all_inner_texts()


def test_a_file_holds_the_rows_that_the_screen_does_not_show():
    """All of them as texts, in the order that was chosen, with the reasons."""
    rows = rows_of(*[(float(n), NO_CHANGE) for n in range(40)])
    texts = texts_of(in_order(rows, "largest"))
    assert [row[5] for row in texts] == [f"+{n}" for n in range(39, 0, -1)] + ["0"]
    assert {len(row) for row in texts} == {len(heads_of(MEASURE))}
    assert "60 Hz: too low where the foot falls fast" in texts[0][-1]


def test_the_answer_grows_with_who_is_compared(open_page, study_folder, tmp_path, monkeypatch):
    """While one of two is compared it says so, and calls nobody without walks; then both stand."""
    go_on, compare = threading.Event(), keeper.compare_and_keep

    def second_waits(study, code, stamp):
        if code == "P02":
            go_on.wait(30)
        return compare(study, code, stamp)

    monkeypatch.setattr(keeper, "compare_and_keep", second_waits)
    shutil.copytree(study_folder, tmp_path / "study")
    with closing(open_study(tmp_path / "study")) as study, study.write() as connection:
        connection.execute(delete(KEPT_CHANGES))
    served = Served(tmp_path / "study")
    try:
        page = open_page(served, "/cohort")
        page.wait_for_selector("#cohort-answer:has-text('So far, 1 of 2 people compared: ')")
        assert "Without walks" not in page.inner_text("#cohort-shown")
        go_on.set()
        page.wait_for_selector("#cohort-answer:not(:has-text('So far'))")
        page.wait_for_selector("#cohort-rows tr:has-text('P02')")
    finally:
        go_on.set()
        served.close()


@pytest.mark.parametrize(
    ("with_somebody", "title"),
    [(False, "This study is empty"), (True, "Nobody can be compared yet")],
)
def test_where_nothing_can_be_asked_it_says_how_to_begin(open_page, tmp_path, with_somebody, title):
    """No empty question, table or export of nobody: the empty study as on People, or why."""
    with closing(create_study(tmp_path / "study")) as study:
        if with_somebody:
            with study.write() as connection:
                connection.execute(insert(PERSON).values(code="P01", facts="{}"))
    served = Served(tmp_path / "study")
    try:
        page = open_page(served, "/cohort")
        page.wait_for_selector(f"#cohort-answer:has-text('{title}')")
        assert page.locator("main").get_by_role("link", name="Add walks").is_visible()
        assert not page.locator("#cohort-question, #cohort-rest").first.is_visible()
        assert page.locator("#cohort-leaving").is_visible() == with_somebody
        assert page.locator(".empty li").count() == (0 if with_somebody else 3)
    finally:
        served.close()


def test_an_export_is_refused_until_a_reason_is_given(cohort, served_copy):
    """Two people are too easy to tell apart; with a reason the file comes, without their codes.

    A file answers to the session that asked for it; a made-up number gets nothing.
    """
    cohort.locator("#cohort-leaving > summary").click()
    cohort.wait_for_selector("#cohort-anonymity .watch")
    assert EXACT_VALUES in cohort.locator("#cohort-leaving").inner_text()
    cohort.get_by_role("textbox", name="Who will get it").click()
    cohort.get_by_role("option", name="Everybody").click()
    form = cohort.locator("#cohort-anonymity .watch a:has-text('What is said of exports')")
    form.wait_for()
    assert form.get_attribute("href") == "/laboratory"
    assert cohort.get_by_role("button", name="Export", exact=True).is_disabled()
    cohort.get_by_role("textbox", name="Who will get it").click()
    cohort.get_by_role("option", name="Named people").click()
    cohort.wait_for_selector("#cohort-anonymity .soft:has-text('will name no licence')")
    cohort.get_by_role("button", name="Export", exact=True).click()
    refused = cohort.wait_for_selector("#cohort-export-progress .error", timeout=SLOW_MS)
    assert "reason" in refused.inner_text()
    cohort.get_by_label("Reason to export although").fill("made-up data")
    cohort.get_by_role("checkbox", name="With height, mass and time since onset").check()
    cohort.get_by_role("button", name="Export", exact=True).click()
    cohort.wait_for_selector("text=Save the file", timeout=SLOW_MS)
    with cohort.expect_download() as download:
        cohort.get_by_text("Save the file").click()
    content = download.value.path().read_bytes()
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        table = next(name for name in archive.namelist() if name.endswith("/people.csv"))
        people = pd.read_csv(archive.open(table))
        assert any(name.endswith("/bodies.csv") for name in archive.namelist())
        text = b"".join(archive.read(n) for n in archive.namelist() if not n.endswith(".xlsx"))
    assert len(people) == 2
    assert b"P01" not in text and b"made-up data" in text
    with served_copy.study.read() as connection:
        n_exports = connection.execute(
            select(func.count()).where(HISTORY.c.content.contains("export"))
        ).scalar()
    assert n_exports == 1
    answer = cohort.request.get(f"{served_copy.base}/export/made-up")
    assert answer.status in (403, 404)


SLOW, ROUTINE = Reason("lower_bound", rate_hz=60.0), Reason("low_passed", cutoff_hz=20.0)
LABELS = packed(*(Reason("of_condition", condition="a", label=each) for each in (SLOW, ROUTINE)))


def rows_of(*told):
    """Make rows of people P01, P02 … with a difference and a verdict each."""
    return pd.DataFrame(
        [
            {
                **dict.fromkeys(("reference_value", "value", "low", "high"), 1.0),
                **{"person": f"P{n:02d}", "visit_no": 1, "side": "left", "difference": difference},
                **{"measure_id": "loading_response_plantarflexion_rate_deg_s"},
                **{"measurement_error": 25.0, "verdict": verdict, "direction": "", "typical": ""},
                **{"verdict_reason": packed(None), "labels": LABELS},
            }
            for n, (difference, verdict) in enumerate(told, 1)
        ]
    )


def test_what_makes_a_value_doubtful_stands_in_its_row():
    """All labels in words: doubts marked, beside the verdict's reason; the others below, small."""
    (table,) = rows_table(rows_of((3.0, NO_CHANGE)), {"P01": 7}, 1, [])
    told = html_of(table)
    doubt = "! a: 60 Hz: too low where the foot falls fast"
    assert f"{doubt}<small>a: {ROUTINE}</small></td></tr>" in told
    assert '<a href="/overview?person=7">P01</a>' in told and "+3" in told


def test_rows_stand_in_the_order_asked_for_and_say_how_many_follow():
    """By person, by the change either way with none last, by what may be said."""
    rows = rows_of((1.0, NO_CHANGE), (float("nan"), NOT_DEFINED), (9.0, LARGER), (-2.0, NO_CHANGE))
    found = {key: "".join(in_order(rows, key)["person"].str[-1]) for key in ORDERS}
    assert found == {"person": "1234", "smallest": "4132", "largest": "3142", "said": "3142"}
    table, foot = rows_table(rows.head(2), {}, 1_004, ["chosen"])
    assert "Rows: 2 of 1,004" in html_of(table) and "show all" in html_of(foot)
    assert html_of(foot).count("&#34;of&#34;: [&#34;chosen&#34;]") == 2
