"""Motion tables (MOT, STO) and marker tables (TRC): found everywhere, read as their header says."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from dashboards.add_walks.upload_checks import content_fault
from gaittrack.errors import LayoutError, TruncatedFileError
from gaittrack.pipeline import files_in, measure_file
from gaittrack.read import FORMATS, READABLE_SUFFIXES, read_trial
from gaittrack.study.recordings.planning import SUFFIXES as OF_SHEETS
from tests.read.made_up_sheets import messages, motion_columns, motion_table, read_sheet, walk

REFERENCE = Path(__file__).parents[1] / "reference"


def test_what_a_format_reads_is_taken_everywhere(tmp_path):
    """Folders, imports and screens take the endings that the formats name, and no other."""
    assert {".c3d", ".trc", ".mot", ".sto", ".csv", ".txt", ".xls", ".xlsx"} <= READABLE_SUFFIXES
    assert READABLE_SUFFIXES == frozenset().union(*(kind.suffixes for kind in FORMATS))
    assert {".mot", ".sto"} <= OF_SHEETS
    for name in ("a.mot", "b.STO"):
        (tmp_path / name).write_text(motion_table(motion_columns()), encoding="utf-8")
    text = next(REFERENCE.glob("*.txt"))
    shutil.copy(text, tmp_path / "c.trc")
    (tmp_path / "d.forces").write_text("1\t2\n")
    found = files_in([tmp_path])
    assert [path.name for path in found] == ["a.mot", "b.STO", "c.trc"]
    assert [content_fault(path) for path in found] == ["", "", ""]
    assert read_trial(found[2], in_child=False).markers


@pytest.mark.parametrize("in_degrees", ["yes", "no"])
def test_degrees_or_radians_as_the_header_says(in_degrees):
    """``inDegrees=no`` is radians; translations are no angle."""
    columns = motion_columns()
    if in_degrees == "no":
        columns |= {key: np.radians(columns[key]) for key in columns if key[-2:] in ("_r", "_l")}
    trial = read_sheet(motion_table(columns, in_degrees=in_degrees), name="walk.mot")
    assert trial.rate_hz == pytest.approx(100)
    assert len(trial.angles) == 6
    np.testing.assert_allclose(trial.angles["right", "knee"].values, walk("knee"), atol=1e-5)
    assert "pelvis_tx" in messages(trial)


def test_a_header_against_its_numbers_is_asked_about():
    """Degrees beyond a full turn in a table that says radians."""
    with pytest.raises(LayoutError, match="header says rad, the numbers look like deg"):
        read_sheet(motion_table(motion_columns(), in_degrees="no"))


def test_a_wrong_count_of_rows_is_told_and_a_cut_row_refused(tmp_path):
    """A whole last row: all is read with a warning; a cut one: what to do, and it works."""
    text = motion_table(motion_columns(), n_rows=250)
    trial = read_sheet(text)
    assert trial.n_frames == 200
    assert "header says 250 rows, 200 are there" in messages(trial)
    path = tmp_path / "walk.sto"
    path.write_text(text[:-30], encoding="utf-8")
    with pytest.raises(TruncatedFileError, match="delete that row"):
        read_trial(path, in_child=False)
    path.write_text(text[: text[:-30].rindex("\n") + 1], encoding="utf-8")
    assert read_trial(path, in_child=False).n_frames == 199


def test_angles_without_events_say_how_to_give_them(tmp_path):
    """No contact is guessed from angles; the events table that is asked for gives cycles."""
    path = tmp_path / "walk.mot"
    path.write_text(motion_table(motion_columns()), encoding="utf-8")
    said = {problem.reason.code: problem for problem in measure_file(path).problems}
    assert "columns time_s, side, kind" in said["no_events_with_angles"].action
    assert "--events" in said["no_events_with_angles"].action
