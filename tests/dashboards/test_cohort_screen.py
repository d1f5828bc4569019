"""The screen Cohort: who fits, what it shows of them, and what leaves the laboratory."""

import io
import zipfile

import pandas as pd
import pytest
from sqlalchemy import func, select

from dashboards.cohort_rows import counts_words
from gaittrack.compare.verdict import NOT_COMPARABLE, WITHIN
from gaittrack.study.tables import HISTORY

SLOW_MS = 90_000


@pytest.fixture
def cohort(open_page, served_copy):
    """Open the screen and wait until everybody was compared."""
    page = open_page(served_copy, "/cohort")
    page.wait_for_selector("#cohort-pairs .js-plotly-plot", timeout=SLOW_MS)
    page.wait_for_selector("#cohort-statistics table")
    return page


def choose(page, label, option):
    """Choose an option by its name, as a person does."""
    page.get_by_role("combobox", name=label).or_(page.get_by_label(label, exact=True)).first.click()
    page.get_by_role("option", name=option, exact=True).click()


def test_everybody_stands_in_the_table_and_words_narrow_it(cohort):
    """Both people are there at their first visit; choosing a cause leaves one."""
    people = "#cohort-grid .ag-cell[col-id='person']"
    assert set(cohort.locator(people).all_inner_texts()) == {"P01", "P02"}
    choose(cohort, "Cause", "stroke")
    cohort.wait_for_function(
        "cells => new Set([...document.querySelectorAll(cells)].map(c => c.innerText)).size === 1",
        arg=people,
    )
    assert "of 1 person;" in cohort.inner_text("#cohort-counts")


def test_a_person_of_a_row_becomes_the_chosen_one(cohort):
    """Marking a row and pressing the button names the person above the screen."""
    cohort.locator("#cohort-grid .ag-cell[col-id='person']", has_text="P02").first.click()
    cohort.get_by_role("button", name="Choose the person").click()
    cohort.wait_for_selector(".banner strong:has-text('P02')")


def test_an_export_is_refused_until_a_reason_is_given(cohort, served_copy):
    """Two people are too easy to tell apart; with a reason the file comes, without their codes."""
    cohort.wait_for_selector("#cohort-anonymity .watch")
    cohort.get_by_role("button", name="Export", exact=True).click()
    refused = cohort.wait_for_selector("#cohort-export-progress .error", timeout=SLOW_MS)
    assert "reason" in refused.inner_text()
    cohort.get_by_label("Reason to export although").fill("made-up data")
    cohort.keyboard.press("Tab")
    cohort.get_by_role("button", name="Export", exact=True).click()
    cohort.wait_for_selector("text=Save the file", timeout=SLOW_MS)
    with cohort.expect_download() as download:
        cohort.get_by_text("Save the file").click()
    content = download.value.path().read_bytes()
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        table = next(name for name in archive.namelist() if name.endswith("/people.csv"))
        people = pd.read_csv(archive.open(table))
        text = b"".join(archive.read(n) for n in archive.namelist() if not n.endswith(".xlsx"))
    assert len(people) == 2
    assert b"P01" not in text and b"made-up data" in text
    with served_copy.study.read() as connection:
        n_exports = connection.execute(
            select(func.count()).where(HISTORY.c.content.contains("export"))
        ).scalar()
    assert n_exports == 1


def test_somebody_elses_export_cannot_be_fetched(cohort, served_copy):
    """A file answers to the session that asked for it; a made-up number gets nothing."""
    answer = cohort.request.get(f"{served_copy.base}/export/made-up")
    assert answer.status in (403, 404)


def test_a_difference_that_is_not_comparable_is_not_counted():
    """The count above the figures is that of the people drawn in them."""
    changes = pd.DataFrame(
        {
            "person": ["P01", "P02", "P03"],
            "difference": [-1.0, 8.0, float("nan")],
            "verdict": [WITHIN, NOT_COMPARABLE, "not defined"],
        }
    )
    assert counts_words(changes).startswith("Rows: 3, of 3 people; 1 with a comparable difference.")
