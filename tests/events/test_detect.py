"""The ladder as a whole: a person's corrections, plates, marks in the file, markers."""

from dataclasses import replace

import pytest

from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Event


@pytest.fixture(scope="module")
def motion():
    """Give a walk over two plates whose file holds marks 80 ms late."""
    walk = simulate_walk(WalkRecipe(n_strides=3, with_plates=True), seed=6)
    marks = tuple(
        replace(event, time_s=event.time_s + 0.08, source="file") for event in walk.truth.events
    )
    return describe_motion(replace(walk.trial, events=marks))


def test_plates_are_used_where_they_are_hit_and_marks_elsewhere(motion):
    """Four events from plates, all others from the file, none twice."""
    found = detect_events(motion)
    sources = [event.source for event in found.events]
    assert sources.count("force") == 4 and set(sources) == {"force", "file"}
    assert len(found.events) == len(motion.trial.events)


def test_marks_80_ms_off_need_review(motion):
    """Disagreement over 50 ms is flagged, by how much is told."""
    told = [d for d in detect_events(motion).disagreements if d.source == "force"]
    late = [d for d in told if d.other_source == "file"]
    assert len(late) == 4 and all(d.needs_review for d in late)
    assert all(d.difference_s == pytest.approx(0.08, abs=0.02) for d in late)


def test_correction_wins_and_removal_takes_out(motion):
    """A person's word over every source."""
    first = detect_events(motion).events[0]
    moved = Event(first.time_s + 0.03, first.side, first.kind, "markers")
    corrected = detect_events(motion, corrected=[moved], removed=[first]).events
    mine = [e for e in corrected if e.source == "corrected"]
    assert [e.time_s for e in mine] == [moved.time_s]
    assert first.time_s not in [e.time_s for e in corrected if e.side == first.side]


def test_events_table_stands_in_for_the_marks_of_the_file(motion):
    """Given with the file, it ranks as the file's own and replaces its marks."""
    given = Event(0.5, "left", "toe_off", "file")
    by_source = detect_events(
        replace(motion, trial=replace(motion.trial, events=(given,)))
    ).by_source
    assert [e.time_s for e in by_source["file"]] == [0.5]


def test_every_contact_has_a_type_and_events_are_in_time_order(motion):
    """Toe-offs have none."""
    events = detect_events(motion).events
    assert all((e.contact is None) == (e.kind == "toe_off") for e in events)
    assert [e.time_s for e in events] == sorted(e.time_s for e in events)


def test_sources_far_apart_are_told_where_measures_are_read(motion):
    """Marks that are 80 ms off give a warning: how many, and the furthest, in ms."""
    found = detect_events(motion)
    far = [each for each in found.disagreements if each.needs_review]
    most = max(far, key=lambda each: abs(each.difference_s))
    (told,) = [p.reason for p in found.problems if p.reason.code == "events_far_apart"]
    (warned,) = [p.what for p in found.problems if p.reason == told and p.level == "warning"]
    assert "differ by more than 50 ms" in warned
    assert told["n"] == len(far) and told["time_s"] == pytest.approx(most.time_s, abs=0.005)
    assert told["difference_ms"] == pytest.approx(1000 * most.difference_s, abs=0.5)


def test_marks_with_exchanged_sides_are_told_and_not_mixed_with_markers():
    """Left marked as right: the other source must not fill in events beside them."""
    walk = simulate_walk(WalkRecipe(n_strides=3), seed=6)
    other = {"left": "right", "right": "left"}
    marks = tuple(
        replace(event, side=other[event.side], source="file") for event in walk.truth.events
    )
    found = detect_events(describe_motion(replace(walk.trial, events=marks)))
    assert {event.source for event in found.events} == {"file"}
    (warned,) = [p for p in found.problems if "other foot" in p.what]
    assert warned.level == "warning"


def test_marks_that_agree_are_not_warned_of():
    """The right marks of the file: nothing is said."""
    walk = simulate_walk(WalkRecipe(n_strides=3), seed=6)
    marks = tuple(replace(event, source="file") for event in walk.truth.events)
    assert detect_events(describe_motion(replace(walk.trial, events=marks))).problems == ()
