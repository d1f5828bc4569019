"""Marks of a file against the movement: repeats, a clock that is off, kinds exchanged."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.cycles import cut_cycles
from gaittrack.events import detect_events
from gaittrack.events.marks import without_repeats
from gaittrack.kinematics import describe_motion
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Event


@pytest.fixture(scope="module")
def walk():
    return simulate_walk(WalkRecipe(n_strides=4), seed=3)


def cut_with(walk, marks):
    """Return the events and cycles of the walk when its file holds these marks."""
    motion = describe_motion(replace(walk.trial, events=tuple(marks)))
    found = detect_events(motion)
    return found, cut_cycles(motion, found)


def marks_of(walk, **changes):
    return [replace(event, source="file", **changes) for event in walk.truth.events]


def late(walk, by_s):
    return [replace(mark, time_s=mark.time_s + by_s) for mark in marks_of(walk)]


@pytest.mark.parametrize("apart_s", [0.0, 0.005])
def test_marks_written_twice_cost_no_cycle(walk, apart_s):
    """Every mark twice: the same cycles as once, and it is told."""
    _, once = cut_with(walk, marks_of(walk))
    found, twice = cut_with(walk, [*marks_of(walk), *late(walk, apart_s)])
    assert [c.id for c in twice if c.is_kept] == [c.id for c in once if c.is_kept]
    assert sum(c.is_kept for c in once) >= 6
    assert any("twice" in p.what for p in found.problems)


@pytest.mark.parametrize("by_s", [1.0, -0.3, 0.25])
def test_marks_of_another_clock_are_not_used_and_told(walk, by_s):
    """All marks shifted alike: contacts are where the feet come down, not where the marks lie."""
    found, cycles = cut_with(walk, late(walk, by_s))
    assert {event.source for event in found.events} == {"markers"}
    assert sum(c.is_kept for c in cycles) >= 6
    (told,) = [p for p in found.problems if "count from another moment" in p.what]
    assert told.level == "warning"


def test_marks_80_ms_late_stay_in_use(walk):
    """What may be another opinion is left to the person who looks."""
    found, _ = cut_with(walk, late(walk, 0.08))
    assert "file" in {event.source for event in found.events}


def test_cycles_of_marks_with_exchanged_kinds_are_rejected(walk):
    """A toe-off marked as contact gives no number."""
    other = {"toe_off": "initial_contact", "initial_contact": "toe_off"}
    found, cycles = cut_with(
        walk, [replace(mark, kind=other[mark.kind]) for mark in marks_of(walk)]
    )
    assert cycles and not any(c.is_kept for c in cycles)
    assert any("Fewer than half" in p.what for p in found.problems)


def test_marks_at_random_give_no_cycle(walk):
    """Marks of another recording: nothing is kept."""
    rng = np.random.default_rng(1)
    last_s = walk.trial.n_frames / walk.trial.rate_hz
    marks = [replace(mark, time_s=float(rng.uniform(0, last_s))) for mark in marks_of(walk)]
    _, cycles = cut_with(walk, marks)
    assert not any(c.is_kept for c in cycles)


def test_marks_of_one_foots_contacts_alone_are_believed(walk):
    """One foot's contacts cannot be told from a detector that fails on that foot."""
    marks = [
        mark for mark in late(walk, 0.2) if (mark.side, mark.kind) == ("left", "initial_contact")
    ]
    found, _ = cut_with(walk, marks)
    assert sum(event.source == "file" for event in found.events) == len(marks)


@pytest.mark.parametrize(("count", "source"), [(3, "file"), (4, "markers")])
def test_three_marks_tell_nothing_of_a_clock_and_four_do(walk, count, source):
    """Of a clock 0.3 s late; two groups of marks, all beside events that are seen."""
    own = [mark for mark in late(walk, 0.3) if mark.side == "left"]
    middle = sorted(own, key=lambda mark: mark.time_s)[2:][:count]
    found, _ = cut_with(walk, middle)
    assert source in {event.source for event in found.events}
    assert any("count from another moment" in p.what for p in found.problems) == (count == 4)


@pytest.mark.parametrize(("apart_s", "n_kept"), [(0.04, 1), (0.07, 2)])
def test_marks_within_50_ms_are_one_mark_written_twice(apart_s, n_kept):
    """The first of them stays; of the other foot, or of the other kind, both."""
    first = Event(1.0, "left", "toe_off", "file")
    second = replace(first, time_s=1.0 + apart_s)
    kept, told = without_repeats([second, first])
    assert kept == (first, second)[:n_kept]
    assert len(told) == 2 - n_kept
    for other in ({"side": "right"}, {"kind": "initial_contact"}):
        assert len(without_repeats([first, replace(second, **other)])[0]) == 2
