"""Marks in a C3D file come out on the trial's clock, whoever wrote them."""

import numpy as np
import pytest

from gaittrack.read import read_trial
from gaittrack.read.c3d_files.c3d_events import event_kind
from tests.read.c3d_variants import RATE_HZ, body_markers, write_variant

MARKS = [
    (0.4, "left", "toe_off"),
    (0.1, "right", "initial_contact"),
    (0.2, "left", "initial_contact"),
]
EXPECTED = [
    (0.1, "right", "initial_contact"),
    (0.2, "left", "initial_contact"),
    (0.4, "left", "toe_off"),
]


def events_of(path):
    trial = read_trial(path, in_child=False)
    return [(round(event.time_s, 4), event.side, event.kind) for event in trial.events], trial


def problems_of(trial, level):
    return " ".join(str(problem) for problem in trial.problems if problem.level == level)


@pytest.mark.parametrize("first_frame", [1, 704])
def test_unsorted_marks_on_the_recordings_clock(tmp_path, first_frame):
    """EVENT:TIMES count from frame 1, so a crop at frame 704 takes 7.03 s off."""
    path = tmp_path / "walk.c3d"
    write_variant(path, events=MARKS, first_frame=first_frame)
    found, trial = events_of(path)
    assert found == EXPECTED
    assert all(event.source == "file" for event in trial.events)


def test_minutes_count(tmp_path):
    """A mark after the first minute keeps its minute."""
    path = tmp_path / "walk.c3d"
    write_variant(path, events=MARKS, first_frame=6201)
    assert events_of(path)[0] == EXPECTED


def test_marks_counted_from_the_first_stored_frame_by_mistake(tmp_path):
    """When only the times as written fall inside the data they are taken so, with a warning."""
    path = tmp_path / "walk.c3d"
    times = np.array([[0.0, 0.0, 0.0], [0.4, 0.1, 0.2]])
    parameters = {"EVENT": {"TIMES": times}}
    write_variant(path, events=MARKS, first_frame=704, parameters=parameters)
    found, trial = events_of(path)
    assert found == EXPECTED
    assert "as written" in problems_of(trial, "warning")


def test_both_readings_inside_follow_the_format_with_a_warning(tmp_path):
    """A small crop leaves both readings possible: the format's is taken and said."""
    path = tmp_path / "walk.c3d"
    write_variant(path, events=[(0.3, "left", "toe_off")], first_frame=11)
    found, trial = events_of(path)
    assert found == [(0.3, "left", "toe_off")]
    assert "frame 11" in problems_of(trial, "warning")


@pytest.mark.parametrize("shape", ["flat", "columns"])
def test_times_in_other_shapes(tmp_path, shape):
    """A flat list of 2N and an N × 2 list give the same events."""
    path = tmp_path / "walk.c3d"
    pairs = np.array([[0.0, 0.4], [0.0, 0.1], [0.0, 0.2]])
    times = pairs.ravel() if shape == "flat" else pairs
    write_variant(path, events=MARKS, parameters={"EVENT": {"TIMES": times}})
    assert events_of(path)[0] == EXPECTED


def test_the_side_may_stand_in_the_label(tmp_path):
    """Without CONTEXTS the side comes from the label."""
    path = tmp_path / "walk.c3d"
    labels = ["Left Foot Off", "RHS", "left_heel_strike"]
    parameters = {"EVENT": {"CONTEXTS": None, "LABELS": labels}}
    write_variant(path, events=MARKS, parameters=parameters)
    assert events_of(path)[0] == EXPECTED


def test_unknown_and_general_marks_are_left_out_and_said(tmp_path):
    """A mark that is no contact or toe-off, or of no side, is named."""
    path = tmp_path / "walk.c3d"
    write_variant(path, events=[*MARKS, (0.3, "", "beep"), (0.35, "", "toe_off")])
    found, trial = events_of(path)
    assert found == EXPECTED
    assert "'beep'" in problems_of(trial, "info")


def test_header_events_join_without_doubling(tmp_path):
    """Header marks count from the first stored frame; one within half a frame is the same."""
    path = tmp_path / "walk.c3d"
    header = [(0.1, "RHS"), (0.5, "RTO")]
    write_variant(path, events=MARKS, header_events=header, first_frame=704)
    assert events_of(path)[0] == [*EXPECTED, (0.5, "right", "toe_off")]


def test_marks_outside_the_data_are_left_out_and_said(tmp_path):
    """A mark after the last frame is no event."""
    path = tmp_path / "walk.c3d"
    write_variant(path, events=[*MARKS, (30.0, "left", "toe_off")])
    found, trial = events_of(path)
    assert found == EXPECTED
    assert "outside" in problems_of(trial, "info")


def test_a_count_that_differs_uses_the_smallest_with_a_warning(tmp_path):
    """USED larger than the lists."""
    path = tmp_path / "walk.c3d"
    write_variant(path, events=MARKS, parameters={"EVENT": {"USED": 9}})
    found, trial = events_of(path)
    assert found == EXPECTED
    assert "differ" in problems_of(trial, "warning")


@pytest.mark.parametrize(
    ("label", "kind"),
    [
        ("Foot Strike", "initial_contact"),
        ("heel strike", "initial_contact"),
        ("Initial Contact", "initial_contact"),
        ("foot down", "initial_contact"),
        ("Toe Strike", "initial_contact"),
        ("R FootStrike", "initial_contact"),
        ("LHS", "initial_contact"),
        ("RIC", "initial_contact"),
        ("Foot Off", "toe_off"),
        ("toe-off", "toe_off"),
        ("Left Toe Off", "toe_off"),
        ("RTO", "toe_off"),
        ("LFO", "toe_off"),
        ("mid stance", None),
        ("stop", None),
        ("Event", None),
        ("", None),
    ],
)
def test_what_event_words_spell(label, kind):
    """Contacts and toe-offs are known by words, whichever part of the foot they name."""
    assert event_kind(label) == kind


def test_every_event_is_inside_the_trial(tmp_path):
    """No time lies before the first or after the last stored frame by more than a frame."""
    path = tmp_path / "walk.c3d"
    write_variant(path, markers=body_markers(30), events=[(0.0, "left", "toe_off")])
    _, trial = events_of(path)
    assert 0.0 <= trial.events[0].time_s <= trial.duration_s + 1 / RATE_HZ
