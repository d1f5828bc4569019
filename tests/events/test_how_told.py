"""How contacts were told is said, and where the two ways differ a person is asked to look."""

from dataclasses import replace

from gaittrack.cycles import cut_cycles
from gaittrack.events import detect_events
from gaittrack.events.from_markers import MarkerEvents
from gaittrack.events.how_told import height_problems, methods_of, unsure_of
from gaittrack.kinematics import describe_motion
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Event

CONTACT = Event(1.0, "left", "initial_contact", "markers")
SECOND = Event(2.0, "left", "initial_contact", "markers")
MARKED = MarkerEvents(
    (CONTACT, SECOND), {CONTACT: "impact", SECOND: "height"}, {CONTACT: 1.08, SECOND: 2.0}
)


def test_shares_are_of_the_contacts_in_use():
    """A contact that another source gives, or that has its type by now, is known again or not."""
    typed = replace(CONTACT, contact="heel")
    plate = Event(2.0, "left", "initial_contact", "force")
    assert methods_of([typed, plate], MARKED) == {typed: "impact"}


def test_two_ways_80_ms_apart_are_for_a_person_to_look_at():
    """By how much, and of which contact; a contact told by height has no second way."""
    (reason,) = unsure_of([CONTACT, SECOND], MARKED).values()
    assert reason.code == "marker_methods_differ"
    assert "1.000 s" in str(reason) and "+80 ms" in str(reason)


def test_contacts_by_height_are_counted():
    """Nothing is said where all were told by impact."""
    (problem,) = height_problems({CONTACT: "impact", SECOND: "height"})
    assert problem.what.startswith("1 of 2 contacts")
    assert height_problems({CONTACT: "impact"}) == []


def test_such_a_stride_is_for_review_and_kept():
    """It stays in the measures."""
    motion = describe_motion(simulate_walk(WalkRecipe(), seed=1).trial)
    detected = detect_events(motion)
    contact = next(e for e in detected.events if e.kind == "initial_contact")
    (reason,) = unsure_of([CONTACT], MARKED).values()
    cycles = cut_cycles(motion, replace(detected, unsure={contact: reason}))
    (own,) = [c for c in cycles if (c.side, c.start_s) == (contact.side, contact.time_s)]
    assert own.is_kept and own.review_reasons == (reason,)
