"""Steps are told from the foot's own way over the floor."""

from dataclasses import replace

import pytest

from gaittrack.events.foot_stretch import foot_stretches
from gaittrack.events.from_markers import read_markers
from gaittrack.events.swings import find_swings
from gaittrack.kinematics import describe_motion
from gaittrack.simulate.recipe import FootRecipe, Scatter, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from tests.event_truth import detection_errors

UNEVEN = Scatter(time=0.15, length=0.15, contact_pitch_deg=4.0)


@pytest.mark.parametrize("speed_m_s", [0.5, 0.8, 1.2])
def test_first_and_last_step_of_a_walk_from_standing_to_standing_are_found(speed_m_s):
    """The body hardly moves at the first toe-off and stands beside the foot at the last contact."""
    recipe = WalkRecipe(speed_m_s=speed_m_s, starts_inside=True, stops_inside=True)
    errors = detection_errors(simulate_walk(recipe, seed=3))
    for kind, most_ms in (("initial_contact", 25), ("toe_off", 40)):
        assert errors[kind].missed_s == errors[kind].extra_s == ()
        assert errors[kind].largest_ms <= most_ms


@pytest.mark.parametrize("rate_hz", [50.0, 60.0, 100.0])
def test_uneven_walks_keep_the_feet_in_turn(rate_hz):
    """No contact comes after the other foot's toe-off, whatever the unevenness."""
    for seed in range(4):
        recipe = WalkRecipe(
            speed_m_s=0.9, rate_hz=rate_hz, scatter=UNEVEN, left=FootRecipe(time_factor=1.3)
        )
        events = read_markers(describe_motion(simulate_walk(recipe, seed=seed).trial)).events
        turns = [(event.side, event.kind) for event in events]
        expected = [
            ("left", "initial_contact"),
            ("right", "toe_off"),
            ("right", "initial_contact"),
            ("left", "toe_off"),
        ]
        start = expected.index(turns[0])
        assert turns == [expected[(start + number) % 4] for number in range(len(turns))]


def test_a_recording_that_begins_within_a_swing_keeps_its_contact():
    """A tenth of a second of swing is enough to see the foot land."""
    walk = simulate_walk(WalkRecipe(speed_m_s=1.2), seed=4)
    first = next(e.time_s for e in walk.truth.events if e.kind == "initial_contact")
    start = int((first + 0.0) * 100) + 60
    later = next(
        e for e in walk.truth.events if e.kind == "initial_contact" and e.time_s > start / 100
    )
    cut = int((later.time_s - 0.11) * 100)
    markers = {label: xyz[cut:] for label, xyz in walk.trial.markers.items()}
    trial = replace(walk.trial, markers=markers, n_frames=walk.trial.n_frames - cut)
    found = [
        e.time_s + cut / 100
        for e in read_markers(describe_motion(trial)).events
        if (e.side, e.kind) == (later.side, later.kind)
    ]
    assert min(abs(time_s - later.time_s) for time_s in found) < 0.025


def test_a_foot_that_stands_makes_no_swing():
    """Noise and the roll of a standing foot are no steps."""
    walk = simulate_walk(WalkRecipe(speed_m_s=0.3, marker_noise_m=0.001), seed=2)
    for foot in foot_stretches(describe_motion(walk.trial), "left"):
        swings = find_swings(foot)
        offs = [e for e in walk.truth.events if (e.side, e.kind) == ("left", "toe_off")]
        assert abs(len(swings) - len(offs)) <= 1


def test_every_contact_says_how_it_was_told():
    """By the impact in plain walking, and nowhere else as likely."""
    marked = read_markers(describe_motion(simulate_walk(WalkRecipe(), seed=1).trial))
    contacts = [event for event in marked.events if event.kind == "initial_contact"]
    assert set(marked.methods) == set(contacts)
    assert {marked.methods[event] for event in contacts} == {"impact"}
    assert marked.rival_s == {}
