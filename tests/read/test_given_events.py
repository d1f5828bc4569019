"""Events that come in a table lie in the recording, or it is said that they do not."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.errors import DataError, LayoutError
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.lab_map import ColumnMap, LabMap, SheetMap
from gaittrack.pipeline import MeasuredWalk, MeasureOptions, RefusedFile, measure_file
from gaittrack.read import read_trial
from gaittrack.read.given_events import given_events
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.sheets import cycle_rows, write_workbook
from gaittrack.simulate.walk import simulate_walk
from tests.read.made_up_sheets import motion_table

FOREFOOT = FootRecipe(contact_pitch_deg=-10.0, swing_pitch_deg=-22.0, toe_off_pitch_deg=-45.0)
WALK = simulate_walk(WalkRecipe(n_strides=3, left=FOREFOOT), seed=6)


def written(folder, unit, *, header="time_s", last_s=99.0):
    """Write the true events, in a unit."""
    path = folder / "walk.events.csv"
    rows = [
        f"{event.time_s * unit:.3f},{event.side},{event.kind}"
        for event in WALK.truth.events
        if event.time_s < last_s
    ]
    path.write_text("\n".join([f"{header},side,kind", *rows]) + "\n", encoding="utf-8")
    return path


def test_events_inside_come_back_as_they_are(tmp_path):
    """All of them, and nothing is said."""
    events, problems = given_events(written(tmp_path, 1.0), WALK.trial)
    assert len(events) == len(WALK.truth.events) and problems == ()


@pytest.mark.parametrize(
    ("unit", "told"), [(1000.0, "milliseconds"), (100.0, "frames"), (1e6, "of this recording")]
)
def test_times_in_another_unit_are_refused_and_say_so(tmp_path, unit, told):
    """What they look like, and what to do; the file is refused, the program does not fail."""
    with pytest.raises(DataError, match=told):
        given_events(written(tmp_path, unit), WALK.trial)
    recording = tmp_path / "walk.c3d"
    write_c3d(recording, rate_hz=100.0, markers=WALK.trial.markers)
    options = MeasureOptions(events_csv=written(tmp_path, unit))
    result = measure_file(recording, options)
    assert isinstance(result, RefusedFile) and told in str(result.error)
    assert "lie outside of the recording" in str(result.error)


def test_a_few_events_outside_are_left_out_and_told(tmp_path):
    """How many, from when to when, and what was done."""
    path = written(tmp_path, 1.0)
    path.write_text(path.read_text() + "77.5,left,toe_off\n", encoding="utf-8")
    events, (problem,) = given_events(path, WALK.trial)
    assert len(events) == len(WALK.truth.events)
    assert problem.level == "warning" and problem.where == path.name
    assert "1 of" in problem.what and "77.5" in problem.what and "left out" in problem.action


def test_events_beside_curves_are_refused_and_say_why(tmp_path):
    """Curves over a cycle have no time that events could be laid on."""
    sheet = tmp_path / "cycles.xlsx"
    write_workbook(sheet, cycle_rows(WALK))
    trial = read_trial(sheet, lab_map=LabMap())
    assert trial.curves and trial.n_frames == 0
    with pytest.raises(LayoutError, match="curves"):
        given_events(written(tmp_path, 1.0), trial)
    result = measure_file(sheet, MeasureOptions(events_csv=written(tmp_path, 1.0)))
    assert isinstance(result, RefusedFile) and "curves" in str(result.error)


def test_contact_types_that_a_table_lacks_are_told_from_the_foot(tmp_path):
    """The left foot lands on its forefoot, the right on its heel."""
    given, _ = given_events(written(tmp_path, 1.0), WALK.trial)
    events = detect_events(describe_motion(replace(WALK.trial, events=given))).events
    types = {(e.side, e.contact) for e in events if e.kind == "initial_contact"}
    assert types == {("left", "forefoot"), ("right", "heel")}


def test_a_file_with_its_table_is_measured(tmp_path):
    """As without, but with the table's events."""
    recording = tmp_path / "walk.c3d"
    write_c3d(recording, rate_hz=100.0, markers=WALK.trial.markers)
    result = measure_file(recording, MeasureOptions(events_csv=written(tmp_path, 1.0)))
    assert isinstance(result, MeasuredWalk)
    assert {event.source for event in result.events.events} == {"file"}


SHEET = simulate_walk(WalkRecipe(n_strides=3), seed=6)
HEADLINE = ("peak_swing_dorsiflexion_deg", "loading_response_plantarflexion_rate_deg_s")


def measured_sheet(folder, *, ankle=1.0, late_s=0.0, **options):
    """Return what a motion table and a table of its events give: values, and reasons against."""
    names = {"ankle": "ankle_angle", "knee": "knee_angle", "hip_thigh_vertical": "hip_flexion"}
    angles = SHEET.truth.angles_deg
    columns = {"time": np.arange(SHEET.trial.n_frames) / SHEET.trial.rate_hz} | {
        f"{name}_{side[0]}": angles[side, joint] * (ankle if joint == "ankle" else 1.0)
        for side in ("left", "right")
        for joint, name in names.items()
    }
    path, events = folder / "walk.mot", folder / "walk.events.csv"
    path.write_text(motion_table(columns), encoding="utf-8")
    marks = [f"{e.time_s + late_s:.3f},{e.side},{e.kind}" for e in SHEET.truth.events]
    events.write_text("\n".join(["time_s,side,kind", *marks]), encoding="utf-8")
    found = measure_file(path, MeasureOptions(events_csv=events, **options))
    rows = [row for row in found.rows if row.measure in HEADLINE]
    return [row.value for row in rows if row.reason is None], [
        dict(row.reason.parameters)["why"].code
        for row in rows
        if row.reason is not None and row.reason.code == "not_trusted"
    ]


def test_angles_are_held_against_the_events_given_with_them(tmp_path):
    """As against marks of the sheet: a turned ankle and marks beside the steps give no number."""
    values, against = measured_sheet(tmp_path)
    assert len(values) == 12 and not against
    assert measured_sheet(tmp_path, ankle=-1.0) == ([], ["on_looking"] * 12)
    late = measured_sheet(tmp_path, late_s=-0.2)
    assert not late[0] and set(late[1]) <= {"marks_beside_steps", "on_looking"}


def test_a_sign_that_a_map_tells_is_not_doubted_again(tmp_path):
    """Somebody looked, and said which way is positive."""
    ends = {"right": "r", "left": "l"}
    columns = [ColumnMap(f"ankle_angle_{end}", "ankle", side) for side, end in ends.items()]
    own = LabMap(sheet=SheetMap(columns=tuple(columns)))
    assert "on_looking" not in measured_sheet(tmp_path, ankle=-1.0, maps=(own,))[1]
