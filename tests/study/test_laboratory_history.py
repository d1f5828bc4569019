"""What the laboratory sets: every change has a way back, which is a change too."""

import pytest

from gaittrack.errors import StudyError
from gaittrack.study.laboratory import TYPICAL, laboratory_typical_of, put_setting, set_setting
from gaittrack.study.laboratory_history import put_back, setting_changes
from gaittrack.study.store import create_study

SPEED = '[[typical]]\nmeasure = "walking_speed_m_s"\nlow = {low}\nhigh = 1.6\nsource = "own"\n'


def test_every_change_of_a_setting_can_be_taken_back(tmp_path, database):
    """Back to the one before, back to nothing, forth again: each with who and why."""
    study = create_study(tmp_path / "study", url=database)
    for low in (1.0, 1.1):
        path = tmp_path / f"from-{low}.toml"
        path.write_text(SPEED.format(low=low))
        set_setting(study, TYPICAL, path, who="A", why=f"from {low}")

    def lowest():
        with study.read() as connection:
            found = laboratory_typical_of(connection)
            return found and found["walking_speed_m_s"].low, setting_changes(connection)

    low, (second, first) = lowest()
    assert (low, second.why, second.who) == (1.1, "from 1.1", "A")
    assert (first.before, first.after["file_name"]) == ({}, "from-1.0.toml")
    put_back(study, second.number, who="B", why="too few people")
    low, (third, *_) = lowest()
    assert (low, third.name, third.who, third.why) == (1.0, TYPICAL, "B", "too few people")
    with pytest.raises(StudyError, match="already as it was before change"):
        put_back(study, second.number, who="B", why="again")
    put_back(study, first.number, who="B", why="published ones")
    assert lowest()[0] is None
    put_back(study, lowest()[1][0].number, who="B", why="after all")
    assert lowest()[0] == 1.0
    with pytest.raises(StudyError, match="no change of a setting with number 999"):
        put_back(study, 999, who="B", why="x")
    study.close()


def test_a_setting_of_an_older_name_goes_back_under_todays(tmp_path):
    """Measurement errors were called floors: none is left beside the new ones."""
    study = create_study(tmp_path / "study")
    with study.write() as connection:
        for name in ("floors", "measurement_errors"):
            row = {"file_name": name, "content": ""}
            put_setting(connection, name, row, who="A", why="")
    with study.read() as connection:
        newest, oldest = setting_changes(connection)
    assert newest.name == oldest.name == "measurement_errors"
    put_back(study, newest.number, who="A", why="")
    with study.read() as connection:
        assert setting_changes(connection)[0].after["file_name"] == "floors"
    study.close()
