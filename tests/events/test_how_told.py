"""How contacts were told is said, and where they may lie elsewhere nothing is made of them."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.cycles import cut_cycles
from gaittrack.events import detect_events
from gaittrack.events.from_markers import MarkerEvents
from gaittrack.events.how_told import contact_problems, methods_of, unsure_of
from gaittrack.ingredients import events_of
from gaittrack.kinematics import describe_motion
from gaittrack.measures import measure_cycles
from gaittrack.measures.trust import without_spoiled
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Event

CONTACT = Event(1.004, "left", "initial_contact", "markers")
SECOND = Event(2.0, "left", "initial_contact", "markers")
MARKED = MarkerEvents((CONTACT, SECOND), {CONTACT: "impact", SECOND: "height"}, {CONTACT: 1.084})
FRONTS = ("toe", "metatarsal 5")


@pytest.fixture(scope="module")
def walk():
    """Give the trial of a plain walk."""
    return simulate_walk(WalkRecipe(n_strides=3), seed=1).trial


def rows_with(motion, detected):
    """Return the rows and cycles of a motion, without what its events spoil."""
    cycles = cut_cycles(motion, detected)
    rows = measure_cycles(motion, cycles)
    return cycles, without_spoiled(rows, detected.problems, cycles, rate_hz=motion.rate_hz)


def test_shares_are_of_the_contacts_in_use():
    """A contact that another source gives, or that has its type by now, is known again or not."""
    typed = replace(CONTACT, contact="heel")
    plate = Event(2.0, "left", "initial_contact", "force")
    assert methods_of([typed, plate], MARKED) == {typed: "impact"}
    assert list(unsure_of([typed, plate], MARKED)) == [typed]
    assert unsure_of([replace(CONTACT, source="corrected")], MARKED) == {}


def test_a_contact_that_may_lie_elsewhere_says_how_far():
    """A contact with no other place is sure."""
    (reason,) = unsure_of([CONTACT, SECOND], MARKED).values()
    assert (reason["time_s"], reason["difference_ms"]) == (1.004, 80)


def test_problems_count_contacts_and_name_the_frames_they_spoil(walk):
    """Those told by height alone are counted and spoil nothing; all sure: nothing is said."""
    motion = describe_motion(walk)
    methods = methods_of([CONTACT, SECOND], MARKED)
    unsure, by_height = contact_problems(motion, methods, unsure_of([CONTACT], MARKED))
    assert (unsure.reason["n"], unsure.reason["n_all"], unsure.where) == (1, 2, "left foot")
    (spoiled,) = unsure.spoils
    assert spoiled.ingredients == {events_of("left")} and spoiled.frames == (100, 101)
    assert (by_height.reason["n"], by_height.reason["n_all"], by_height.spoils) == (1, 2, ())
    assert contact_problems(motion, {CONTACT: "impact"}, {}) == []


def test_strides_that_an_unsure_contact_bounds_are_not_trusted(walk, monkeypatch):
    """All their values, and what the other foot's strides take from it; the others stay."""
    motion = describe_motion(walk)
    plain = detect_events(motion)
    contact = [e for e in plain.events if (e.side, e.kind) == ("left", "initial_contact")][1]
    monkeypatch.setattr(
        "gaittrack.events.detect.unsure_of",
        lambda events, marked: unsure_of(
            events, replace(marked, rival_s={replace(contact, contact=None): contact.time_s + 0.07})
        ),
    )
    cycles, rows = rows_with(motion, detect_events(motion))
    lost = {row.cycle for row in rows if row.measure == "stride_time_s" and np.isnan(row.value)}
    bounded = {c.id for c in cycles if contact.time_s in (c.start_s, c.end_s) and c.is_kept}
    assert len(bounded) == 2 and lost == bounded
    own = [row for row in rows if row.cycle in bounded]
    assert all(np.isnan(row.value) for row in own)
    assert {row.reason["why"].code for row in own if row.reason.code == "not_trusted"} == {
        "contacts_unsure"
    }
    (across,) = [c for c in cycles if c.side == "right" and c.start_s < contact.time_s < c.end_s]
    of_other = {row.measure: row.value for row in rows if row.cycle == across.id}
    assert np.isnan(of_other["double_support_percent"])
    assert not np.isnan(of_other["stride_time_s"])
    for cycle in cycles:
        codes = {reason.code for reason in cycle.review_reasons}
        assert ("contact_elsewhere" in codes) == (cycle.id in bounded)


def test_a_foot_without_a_front_has_no_contacts_to_rest_on(walk):
    """Its heel alone cannot tell when it lands flat; contacts of another source are as good."""
    bare = {
        label: xyz
        for label, xyz in walk.markers.items()
        if label not in [f"left {name}" for name in FRONTS]
    }
    motion = describe_motion(replace(walk, markers=bare))
    _, rows = rows_with(motion, detect_events(motion))
    left = [row for row in rows if row.side == "left"]
    assert left and all(row.reason is not None for row in left)
    assert "no_front" in {
        row.reason["why"].code for row in left if row.reason.code == "not_trusted"
    }
    assert any(row.reason is None for row in rows if row.side == "right")
    marks = tuple(replace(event, source="file") for event in detect_events(motion).events)
    marked = describe_motion(replace(walk, markers=bare, events=marks))
    problems = detect_events(marked).problems
    assert "no_front" not in [problem.reason.code for problem in problems]
