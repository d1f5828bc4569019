"""The day that a file says it was recorded on: offered, never more."""

import numpy as np
import pytest

from gaittrack.read import read_trial
from gaittrack.read.tables.preamble import names_day
from gaittrack.simulate.c3d_writer import write_c3d
from tests.read.c3d_variants import RATE_HZ, body_markers
from tests.read.made_up_sheets import series, written

SAID = {
    "2024-03-05": "2024-03-05",
    "2024-03-05T10:11:12": "2024-03-05",
    "5.3.2024 10:11": "2024-03-05",
    "25/03/2024": "2024-03-25",
    "5/3/2024": "",
    "1/2/1960": "",
    "13.13.2024": "",
    "today": "",
}


@pytest.mark.parametrize(("text", "day"), SAID.items())
def test_a_day_is_read_where_it_can_be_no_other(text, day, tmp_path):
    """In a parameter and above a table alike; where day and month may be exchanged, none."""
    sheet = tmp_path / "sheet.csv"
    sheet.write_text(f"Date of birth,2000-01-01\nRecording date,{text}\n" + written(series()))
    c3d = tmp_path / "walk.c3d"
    parameters = {"TRIAL": {"DATE": [text]}, "SUBJECTS": {"BIRTH_DATE": ["2000-01-01"]}}
    write_c3d(c3d, rate_hz=RATE_HZ, markers=body_markers(), parameters=parameters)
    found = [read_trial(path, in_child=False).provenance.day for path in (sheet, c3d)]
    assert found == [day, day]


def test_a_day_in_three_numbers_counts_and_two_days_are_none(tmp_path):
    """Some write year, month, day as numbers; parameters that contradict each other say nothing."""
    path = tmp_path / "walk.c3d"
    for parameters, day in (
        ({"TRIAL": {"DATE": np.array([2024, 3, 5], dtype=np.int16)}}, "2024-03-05"),
        ({"TRIAL": {"DATE": ["2024-03-05"]}, "LAB": {"TEST_DATE": ["2024-03-06"]}}, ""),
    ):
        write_c3d(path, rate_hz=RATE_HZ, markers=body_markers(), parameters=parameters)
        assert read_trial(path, in_child=False).provenance.day == day
    assert not names_day("Birthdate") and not names_day("DATE_OF_BIRTH")
