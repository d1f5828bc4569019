"""What a laboratory records with: used where a file says nothing, told, and taken back."""

from pathlib import Path

import pytest

from gaittrack.errors import LayoutError, StudyError
from gaittrack.lab_defaults import LabDefaults
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.pipeline import InputFile, Recording, measure_recording
from gaittrack.study.laboratory import keep_defaults, laboratory_defaults
from gaittrack.study.laboratory_history import put_back, setting_changes
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.store import create_study
from tests.several_in_a_sheet import SHEET_VISIT

ON_PLATES = Path(__file__).parents[1] / "reference" / "walk_two_plates_100hz.c3d"


def codes(result):
    """Return what there is to know of a result."""
    return {problem.reason.code for problem in result.problems}


def test_a_usual_rate_reads_only_what_tells_none_and_comes_back(tmp_path):
    """Its walk is stored and says so, is stale without it, and a told rate is left alone."""
    walks = [SHEET_VISIT / "with-brace" / f"walk-{number}.csv" for number in (1, 2)]
    (head, *rows), others = (path.read_text("utf-8-sig").splitlines() for path in walks)
    folder = tmp_path / "tree" / "P01" / "v1" / "a"
    folder.mkdir(parents=True)
    texts = {
        "told.csv": [head, *rows],
        "none.csv": [line.partition(";")[2] for line in others],
    }
    for name, lines in texts.items():
        (folder / name).write_text("\n".join(lines))
    study = create_study(tmp_path / "study")
    plan, given = plan_folders([tmp_path / "tree"]), {"who": "A", "new_people": True}
    first = {row.path.name: row.state for row in import_files(study, plan, **given)}
    assert first == {"told.csv": "added", "none.csv": "refused"}
    for bad in (1.0, 1e6):
        with pytest.raises(LayoutError, match="no rate of a recording"):
            keep_defaults(study, LabDefaults(bad), who="A", why="x")
    keep_defaults(study, LabDefaults(50.0), who="A", why="our old system")
    rows = {row.path.name: row for row in import_files(study, plan, **given)}
    assert rows["none.csv"].state == "added" and "50 frames" in rows["none.csv"].message
    assert [trial.code for trial, _ in stale_trials(study)] == ["told"]
    with study.read() as connection:
        (change,) = setting_changes(connection)
    put_back(study, change.number, who="A", why="no")
    with study.read() as connection:
        assert laboratory_defaults(connection) == LabDefaults()
    assert [trial.code for trial, _ in stale_trials(study)] == ["none"]
    with pytest.raises(StudyError, match="so already"):
        keep_defaults(study, LabDefaults(), who="A", why="x")
    study.close()
    usual = LabDefaults(50.0)
    told = measure_recording(Recording(InputFile(folder / "told.csv"), usual=usual))
    assert told.trial.rate_hz == pytest.approx(100) and "rate_of_laboratory" not in codes(told)


def test_ignored_plates_tell_no_event_and_it_is_said():
    """Markers tell the events then; without plates nothing is said of them."""
    used, ignored = (
        measure_recording(Recording(InputFile(ON_PLATES), usual=LabDefaults(plates=plates)))
        for plates in ("used", "ignored")
    )
    assert isinstance(used, MeasuredWalk) and isinstance(ignored, MeasuredWalk)
    assert {event.source for event in used.events.events} >= {"force"}
    assert {event.source for event in ignored.events.events} == {"markers"}
    assert "plates_ignored" in codes(ignored) - codes(used)
