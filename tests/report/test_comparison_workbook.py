"""A comparison taken away as a workbook, read back by another library."""

from io import BytesIO
from pathlib import Path

import openpyxl
import pytest

from gaittrack import compare
from gaittrack.answer import answers
from gaittrack.answer.sentences import chip_of_finding
from gaittrack.compare.judged.walk_tables import CHANGE_COLUMNS
from gaittrack.report.comparison_workbook import comparison_workbook

SAMPLES = Path(__file__).parents[2] / "sample_trials"


@pytest.fixture(scope="module")
def found():
    """Compare a made-up person's walks."""
    return compare(SAMPLES / "P01" / "visit-1")


@pytest.fixture(scope="module")
def book(found):
    """Read the workbook with openpyxl."""
    return openpyxl.load_workbook(BytesIO(comparison_workbook(found)))


def test_every_change_and_stride_is_in_it(found, book):
    """As the tables have them, row by row; numbers stay numbers."""
    assert book.sheetnames == ["answer", "everyday", "changes", "walks", "strides"]
    rows = list(book["changes"].iter_rows(values_only=True))
    assert rows[0] == CHANGE_COLUMNS
    place = CHANGE_COLUMNS.index("difference")
    expected = found.changes()["difference"]
    assert len(rows) - 1 == len(expected)
    for row, value in zip(rows[1:], expected, strict=True):
        assert row[place] is None if value != value else row[place] == pytest.approx(value)
    assert book["strides"].max_row - 1 == len(found.strides())
    assert book["walks"].max_row - 1 == len(found.values())


def test_its_answer_is_the_answer(found, book):
    """Sentences first, then each question of each leg with its verdict's words."""
    (answer,) = answers(found.comparison)
    said = [row[3] for row in book["answer"].iter_rows(min_row=2, values_only=True)]
    sentences = answer.sentences()
    assert said[: len(sentences)] == sentences
    chips = [str(chip_of_finding(each)) for each in (*answer.findings, *answer.other_leg)]
    assert said[len(sentences) : -1] == chips


def test_no_file_is_named_and_no_cell_is_a_formula(found, book):
    """A file's name may hold a person's."""
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    names = {record.file_name for record in found.records}
    assert names
    assert not any(str(cell.value or "").find(name) >= 0 for cell in cells for name in names)
    assert all(cell.data_type != "f" for cell in cells)
