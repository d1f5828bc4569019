"""Marks in a C3D file come out on the trial's clock, whoever wrote them."""

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


def test_unknown_and_general_marks_are_left_out_and_said(tmp_path):
    """A mark that is no contact or toe-off, or of no side, is named."""
    path = tmp_path / "walk.c3d"
    write_variant(path, events=[*MARKS, (0.3, "", "beep"), (0.35, "", "toe_off")])
    found, trial = events_of(path)
    assert found == EXPECTED
    assert "'beep'" in problems_of(trial, "info")


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
