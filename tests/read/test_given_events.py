"""Events that come in a table lie in the recording, or it is said that they do not."""

from dataclasses import replace

import pytest

from gaittrack.errors import DataError, LayoutError
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.lab_map import LabMap
from gaittrack.pipeline import MeasuredWalk, MeasureOptions, RefusedFile, measure_file
from gaittrack.read import read_trial
from gaittrack.read.given_events import given_events
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.sheets import cycle_rows, write_workbook
from gaittrack.simulate.walk import simulate_walk

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
