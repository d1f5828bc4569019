"""A row of a table over time that lost or doubled a cell: no number is read in another's column."""

from pathlib import Path

import numpy as np
import pytest

from gaittrack.errors import DataError
from gaittrack.lab_map import LabMap
from gaittrack.read.marker_texts.marker_text import read
from tests.read.made_up_sheets import messages, motion_columns, motion_table, read_sheet, walk

REFERENCE = Path(__file__).parents[1] / "reference"
LINES = motion_table(motion_columns()).splitlines()
FIRST = LINES.index("endheader") + 2
ROW = FIRST + 35
N_COLUMNS = len(LINES[ROW].split("\t"))


def table(change, *rows, blank="\t"):
    """Write the table with the cells of some rows changed."""
    lines = list(LINES)
    for row in rows:
        lines[row] = "\t".join(change(lines[row].split("\t")))
    return "\n".join(lines).replace("\t", blank) + "\n"


@pytest.mark.parametrize("blank", ["\t", "  ", ","])
@pytest.mark.parametrize("is_doubled", [False, True])
def test_a_cell_that_is_lost_or_doubled_is_refused_with_its_row(blank, is_doubled):
    """Wherever in the row, numbers behind it would stand in other columns."""
    for place in range(N_COLUMNS - 1):
        lost = table(lambda cells, n=place: cells[:n] + cells[n + 1 :], ROW, blank=blank)
        twice = table(lambda cells, n=place: cells[: n + 1] + cells[n:], ROW, blank=blank)
        with pytest.raises(DataError, match=f": {ROW + 1}\\. .* a cell was lost or stands twice"):
            read_sheet(twice if is_doubled else lost, name="walk.mot")


def test_what_is_missing_at_the_end_is_a_gap_and_told():
    """The last cells of some rows, for which some programs write nothing, not even a separator."""
    rows = range(ROW, ROW + 30)
    trial = read_sheet(table(lambda cells: cells[:-1], *rows), name="walk.mot")
    told = f"30 rows have another number of cells than the others: {ROW + 1}, {ROW + 2}"
    assert told in messages(trial)
    own = trial.angles["left", "ankle"].values
    assert np.isnan(own[35:65]).all() and np.isfinite(np.delete(own, range(35, 65))).all()
    np.testing.assert_allclose(trial.angles["right", "knee"].values, walk("knee"), atol=1e-5)


def test_an_empty_place_between_separators_is_a_gap():
    """Nothing has moved, and nothing of the row is told; nor of empty places behind the last."""
    knee = LINES[FIRST - 1].split("\t").index("knee_angle_r")
    trial = read_sheet(
        table(lambda cells: [*cells[:knee], "", *cells[knee + 1 :], ""], ROW), name="walk.mot"
    )
    assert "another number of cells" not in messages(trial)
    assert np.flatnonzero(np.isnan(trial.angles["right", "knee"].values)).tolist() == [35]
    np.testing.assert_allclose(trial.angles["right", "ankle"].values, walk("ankle"), atol=1e-5)


@pytest.mark.parametrize("place", [0, 1, 7, 20])
def test_a_marker_that_lost_a_coordinate_is_refused_with_its_row(place):
    """In a marker table the rest of the row would be other markers' coordinates."""
    lines = (REFERENCE / "walk_from_standing_150hz.trc").read_bytes().split(b"\n")
    cells = lines[40].split(b"\t")
    lines[40] = b"\t".join(cells[:place] + cells[place + 1 :])
    with pytest.raises(DataError, match=": 41. "):
        read(Path("walk.trc"), b"\n".join(lines), "", lab_map=LabMap(), rate_hz=None)
