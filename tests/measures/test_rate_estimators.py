"""The table of ways to take the first-rocker rate is what its command makes."""

import csv

import pytest

from tests.golden.make_rate_estimators import COLUMNS, TABLE, row

TEXT = TABLE.read_text(encoding="utf-8").splitlines()
ROWS = {
    tuple(cells[:5]): tuple(cells[5:])
    for cells in csv.reader(line for line in TEXT if not line.startswith("#"))
}


def test_table_has_the_columns_of_its_command():
    """So that a reader of the file reads what was computed."""
    assert (*COLUMNS[:5],) in ROWS


@pytest.mark.parametrize("name", ["peak, 15 Hz", "20 Hz, when 8 Hz is highest"])
@pytest.mark.parametrize("at", [(3.0, 0.10), (15.0, 0.05)])
def test_part_of_the_table_is_made_again(name, at):
    """Mild and hard falls at 100 Hz with 0.5 mm of noise; the last digit may differ."""
    made = row(name, at, 100.0, 0.5)
    stored = [float(cell) for cell in ROWS[made[:5]]]
    assert [float(cell) for cell in made[5:]] == pytest.approx(stored, abs=1.0)
