"""Everyday outcomes of a comparison are told alike on page, workbook and terminal."""

from html import unescape
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest

from gaittrack import compare
from gaittrack.answer.outcome_words import change_words, outcome_title
from gaittrack.answer.outcomes import outcomes
from gaittrack.commands.compare_text import comparison_text
from gaittrack.commands.outcome_text import plain_outcome
from gaittrack.report.comparison_page import comparison_page
from gaittrack.report.comparison_workbook import comparison_workbook

SAMPLES = Path(__file__).parents[2] / "sample_trials"


@pytest.fixture(scope="module")
def found():
    """Compare a made-up person's walks."""
    return compare(SAMPLES / "P02" / "visit-2")


def test_each_outcome_is_told_alike_everywhere(found):
    """Title, both values, change, verdict; each repeat is seen, and whose error it is."""
    told = outcomes(found.comparison)
    judged = [each for each in told if each.error_source is not None]
    assert len(told) == 8 and len(judged) == 5
    page = unescape(comparison_page(found))
    text = " ".join(comparison_text(found.comparison).split())
    book = openpyxl.load_workbook(BytesIO(comparison_workbook(found)))
    rows = [[str(cell) for cell in row] for row in book["everyday"].iter_rows(values_only=True)]
    assert len(rows) == 1 + len(told)
    for each, row in zip(told, rows[1:], strict=True):
        title, verdict = outcome_title(each), each.verdict.say()
        assert (row[0], row[-1]) == (title, verdict)
        assert f">{title}</td>" in page and f">{verdict}" in page
        assert f"{title}:" in text and change_words(each) in text
        assert plain_outcome(each)["words"] == verdict
    for each in judged:
        assert str(each.error_source) in page and verdict_in(text, each)
        for repeat in (*each.own.repeats, *each.reference.repeats):
            assert f"{repeat:g}" in page and f"{repeat:g}" in text


def verdict_in(text, outcome):
    """Tell whether the verdict stands behind the change."""
    return f"{change_words(outcome)}; {outcome.verdict.say()}" in text
