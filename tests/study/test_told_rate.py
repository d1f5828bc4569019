"""Frames a second of sheets that do not say them: told once, remembered by the columns."""

import pytest

from gaittrack.errors import StudyError
from gaittrack.measured_walk import MeasuredWalk, RefusedFile
from gaittrack.pipeline import InputFile, Recording, measure_recording
from gaittrack.study.laboratory import laboratory_maps
from gaittrack.study.recordings.told_rate import remember_rate
from gaittrack.study.store import create_study
from tests.made_up_files import sheet_without_time


@pytest.fixture
def study(tmp_path):
    """Give an empty study."""
    one = create_study(tmp_path / "study")
    yield one
    one.close()


def test_a_rate_that_was_told_is_used_for_sheets_with_these_columns_only(study, tmp_path):
    """Such a sheet is refused before and read at the told rate after; another one still asks."""
    sheet = sheet_without_time(tmp_path / "one.csv")
    other = sheet_without_time(tmp_path / "other.csv", suffix=" of another clinic")
    assert isinstance(measure_recording(Recording(InputFile(sheet))), RefusedFile)
    some = measure_recording(Recording(InputFile(sheet), rate_hz=50.0))
    columns = some.trial.provenance.columns
    remember_rate(study, [columns, columns], 120, who="me")
    with study.read() as connection:
        maps = laboratory_maps(connection)
    assert [each.name for each in maps] == ["120 frames a second"]
    walk = measure_recording(Recording(InputFile(sheet), maps=maps))
    assert isinstance(walk, MeasuredWalk) and walk.trial.rate_hz == 120
    assert isinstance(measure_recording(Recording(InputFile(other), maps=maps)), RefusedFile)
    remember_rate(study, [(*columns, "more “than” \\ that")], 120, who="me")
    with study.read() as connection:
        assert laboratory_maps(connection)[1].name == "120 frames a second 2"


@pytest.mark.parametrize("given", [None, 0, 5000, float("nan")])
def test_what_is_no_rate_is_refused_and_nothing_is_kept(study, given):
    """It says what a rate is."""
    with pytest.raises(StudyError, match="Give a number from 10 to 2000"):
        remember_rate(study, [("a",)], given, who="me")
    with study.read() as connection:
        assert laboratory_maps(connection) == ()
