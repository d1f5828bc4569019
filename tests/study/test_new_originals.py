"""Landmarks, events tables and shared sheets: each is kept with the trial, and counts again."""

import json
import math
import threading

import numpy as np
import pytest
from sqlalchemy import select

from gaittrack.errors import StudyError
from gaittrack.kinematics.landmarks import find_landmarks
from gaittrack.lab_map import LabMap
from gaittrack.plain_files import hash_of
from gaittrack.read import read_trial
from gaittrack.study.corrections.looking import corrections_of
from gaittrack.study.history import entries
from gaittrack.study.originals import kept_files
from gaittrack.study.recordings.adding import NewFile, add_files
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.recordings.planning_sheet import plan_sheet
from gaittrack.study.results.keeping import find_trial, recompute, stale_trials
from gaittrack.study.results.sources import recording_of
from gaittrack.study.store import create_study, open_study
from gaittrack.study.tables import EVENT, RESULT, TRIAL, TRIAL_MEAN
from gaittrack.study.upkeep.backups import back_up
from gaittrack.study.upkeep.erasing import erase_person
from gaittrack.study.upkeep.verifying import verify
from tests import correcting

BY = {"who": "Ada", "why": "seen in the film"}
WALK = "P01/visit-1/with-brace/walk-1"
ANKLE = "time,left ankle dorsiflexion,right ankle dorsiflexion\n"
EVENTS = "time_s,side,kind\n"
WORDS = """
[person]
affected_side = "left"
[visit]
number = 1
[conditions.barefoot]
[conditions.with-brace]
orthosis = "ankle-foot orthosis"
orthosis_side = "left"
[conditions.with-shoe]
footwear = "shoe"
"""


def means(study, trial):
    query = select(TRIAL_MEAN.c.side, TRIAL_MEAN.c.measure, TRIAL_MEAN.c.value)
    with study.read() as connection:
        return dict(
            ((side, name), value)
            for side, name, value in connection.execute(
                query.where(TRIAL_MEAN.c.trial_id == trial.id)
            )
        )


def test_a_landmark_is_mapped_anew_in_one_trial_and_back(study, trial_at):
    """Another marker taken for the knee: the numbers change, and undone come back."""
    trial, other = trial_at(study), trial_at(study, "P01/visit-1/with-brace/walk-2")
    before, others = means(study, trial), means(study, other)
    with study.read() as connection:
        facts = recording_of(connection, study, trial.id)
    with pytest.raises(StudyError, match="hold the label 'nose'.*Labels in the file: .*heel"):
        correcting.map_landmark(study, trial, "left_heel", "nose", **BY)
    with pytest.raises(StudyError, match="no landmark 'left_nose'.*left_heel"):
        correcting.map_landmark(study, trial, "left_nose", "x", **BY)
    own, knee = label_of(facts.file.path, "left_knee"), label_of(facts.file.path, "right_knee")
    correcting.map_landmark(study, trial, "left_knee", knee, **BY)
    changed = means(study, trial)
    assert changed != before and means(study, other) == others
    assert stale_trials(study) == []
    with study.read() as connection:
        last = entries(connection)[-1]
        (row,) = corrections_of(connection, trial)
    assert (last["what"], last["who"], last["why"]) == ("map_landmark", "Ada", BY["why"])
    assert last["before"] == {"landmark": "left_knee", "label": own}
    assert (row["landmark"], row["label"]) == ("left_knee", knee)
    correcting.undo_correction(study, trial_at(study), row["id"], **BY)
    assert means(study, trial) == before and stale_trials(study) == []


def label_of(path, landmark):
    return find_landmarks(read_trial(path).markers, LabMap()).labels[landmark]


def test_of_two_people_who_correct_at_once_the_second_is_told(study, trial_at):
    """Two threads change the same version of a trial: one change is in, the other is refused."""
    with study.read() as connection:
        looked = find_trial(connection, WALK)
    both, outcomes = threading.Barrier(2), []

    def correct(who):
        both.wait()
        try:
            correcting.swap_trial_sides(study, looked, who=who, why="left is right")
            outcomes.append(who)
        except StudyError as error:
            outcomes.append(str(error))

    threads = [threading.Thread(target=correct, args=(who,)) for who in ("Ada", "Bob")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    done = [each for each in outcomes if each in ("Ada", "Bob")]
    assert len(done) == 1 and sum("by somebody else meanwhile" in one for one in outcomes) == 1
    with study.read() as connection:
        (row,) = corrections_of(connection, looked)
        assert entries(connection)[-1]["who"] == done[0] and not row["is_undone"]


@pytest.fixture
def sheet_visit(tmp_path):
    """Give a visit with an angle sheet over time, and its events beside it."""
    visit = tmp_path / "given" / "P01" / "visit-1"
    (visit / "barefoot").mkdir(parents=True)
    (visit / "conditions.toml").write_text(WORDS)
    lines = [
        f"{n / 100:.2f},{10 * math.sin(2 * math.pi * n / 100):.3f},"
        f"{10 * math.cos(2 * math.pi * n / 100):.3f}\n"
        for n in range(500)
    ]
    (visit / "barefoot" / "walk-1.csv").write_text(ANKLE + "".join(lines))
    rows = [
        f"{start + shift:.2f},{side},{kind}\n"
        for start in range(4)
        for side, offset in (("left", 0.2), ("right", 0.7))
        for kind, shift in (("initial contact", offset), ("toe off", offset + 0.6))
    ]
    (visit / "barefoot" / "walk-1.events.csv").write_text(EVENTS + "".join(rows))
    return visit


def test_an_events_table_is_kept_with_the_recording(sheet_visit, tmp_path):
    """It is an original by its hash: counted again, verified, backed up and erased with it."""
    study = create_study(tmp_path / "study")
    rows = list(import_files(study, plan_folders([sheet_visit]), who="Ada"))
    assert [(row.state, row.place) for row in rows] == [("added", "P01/visit-1/barefoot/walk-1")]
    assert len(kept_files(study.folder)) == 2 and verify(study) == [] and stale_trials(study) == []
    trial = find(study, "P01/visit-1/barefoot/walk-1")
    with study.read() as connection:
        first = connection.execute(select(EVENT.c.time_s, EVENT.c.kind)).all()
    assert (0.2, "initial_contact") in [(round(t, 2), kind) for t, kind in first]
    before = means(study, trial)
    assert any(value is not None for value in before.values())
    assert [one for one, _ in recompute(study, [trial], who="Ada")] == [trial]
    assert means(study, trial) == before
    again = list(import_files(study, plan_folders([sheet_visit]), who="Ada"))
    assert [row.state for row in again] == ["known"]
    table = sheet_visit / "barefoot" / "walk-1.events.csv"
    table.write_text(table.read_text().replace("0.20,left", "0.22,left"))
    (other,) = import_files(study, plan_folders([sheet_visit]), who="Ada")
    assert other.state == "refused" and "another events table" in other.message
    assert back_up(study, tmp_path / "backup").n_originals == 2
    done = erase_person(study, "P01", who="Ada", why="asked for")
    assert done.n_originals == 2 and kept_files(study.folder) == []
    study.close()


def find(study, place):
    with study.read() as connection:
        return find_trial(connection, place)


@pytest.mark.parametrize("way", ["folder", "sheet"])
def test_a_sheet_of_several_conditions_goes_to_each_of_them(tmp_path, way):
    """Each condition gets its own strides; one that the sheet does not hold is passed over."""
    visit = tmp_path / "given" / "P01" / "visit-1"
    visit.mkdir(parents=True)
    (visit / "conditions.toml").write_text(WORDS)
    write_stacked(visit / "curves.csv")
    assert len({curve.condition for curve in read_trial(visit / "curves.csv").curves}) == 2
    study = create_study(tmp_path / "study")
    for expected in ("added", "known"):
        if way == "folder":
            plan = plan_folders([visit])
        else:
            table = tmp_path / "list.csv"
            table.write_text(
                "file,person,visit,condition\ncurves.csv,P01,visit-1,barefoot\n"
                "curves.csv,P01,visit-1,with-shoe\n"
            )
            plan = plan_sheet(table, [visit])
        rows = list(import_files(study, plan, who="Ada", new_people=True))
        states = {row.place: row.state for row in rows if row.place}
        assert states.pop("P01/visit-1/with-brace/curves", "passed over") == "passed over"
        assert states == {
            "P01/visit-1/barefoot/curves": expected,
            "P01/visit-1/with-shoe/curves": expected,
        }, rows
    values = [means(study, find(study, place)) for place in states]
    assert values[0] and values[0] != values[1]
    assert len(kept_files(study.folder)) == 1 and verify(study) == []
    study.close()


def write_stacked(path):
    """Write 0-100 % curves of two conditions, two strides each, one below the other."""
    shape = np.interp(np.arange(101), (0, 10, 48, 64, 80, 100), (0, -6, 10, -18, 1, 0))
    lines = ["percent,condition,stride,left ankle dorsiflexion"]
    for condition, higher in (("barefoot", 0), ("with shoe", 5)):
        for stride in (1, 2):
            lines += [
                f"{n},{condition},{stride},{angle + higher + stride:.2f}"
                for n, angle in enumerate(shape)
            ]
    path.write_text("\n".join(lines) + "\n")


def test_what_another_process_imported_meanwhile_is_a_row(people, tmp_path):
    """Two imports at once: the later says so in a row and goes on; nothing is there twice."""
    study = create_study(tmp_path / "study")
    plan = plan_folders([people / "P01" / "visit-2"])
    second = open_study(study.folder)
    rows = []
    for number, row in enumerate(import_files(study, plan, who="Ada")):
        rows.append(row)
        if number == 0:
            assert {each.state for each in import_files(second, plan, who="Bob")} == {
                "known",
                "added",
            }
    assert [row.state for row in rows] == ["added", *["known"] * (len(rows) - 1)]
    assert "Another process imported" in rows[-1].message
    other = plan.files[0]
    [(state, message)] = add_files(study, [NewFile(other, ("0" * 64, ""))], who="Ada")
    assert state == "refused" and "a name of its own" in message
    assert verify(study) == [] and stale_trials(study) == []
    study.close()
    second.close()


def test_a_walk_brings_its_standing_trial_from_elsewhere(people, tmp_path):
    """One condition's folder is given: its standing trial, which lies outside, comes with it."""
    study = create_study(tmp_path / "study")
    folder = people / "P01" / "visit-1" / "with-brace"
    rows = list(import_files(study, plan_folders([folder]), who="Ada"))
    assert [row.state for row in rows] == ["added"] * 3
    assert rows[0].place == "P01/visit-1/with-brace/standing/with-brace"
    assert stale_trials(study) == [] and verify(study) == []
    study.close()


def test_a_dry_run_leaves_an_older_study_as_it_is(study):
    """It says what to do first; the version is not touched."""
    with study.write() as connection:
        connection.exec_driver_sql("UPDATE study SET schema_version = 1")
    study.close()
    before = {path: hash_of(path) for path in study.folder.iterdir() if path.is_file()}
    with pytest.raises(StudyError, match="older version.*study verify"):
        open_study(study.folder, take_steps=False)
    assert {path: hash_of(path) for path in study.folder.iterdir() if path.is_file()} == before


def test_facts_tell_where_events_came_from(sheet_visit, tmp_path):
    """The steps of a result name the table."""
    study = create_study(tmp_path / "study")
    list(import_files(study, plan_folders([sheet_visit]), who="Ada"))
    with study.read() as connection:
        steps = json.loads(connection.execute(select(RESULT.c.facts)).scalar())["steps"]
        assert connection.execute(select(TRIAL.c.events_file_name)).scalar() == "walk-1.events.csv"
    assert "events from walk-1.events.csv" in steps
    study.close()
