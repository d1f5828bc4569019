"""Steps are told from the foot's own way over the floor."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from gaittrack.events.foot_stretch import foot_stretches
from gaittrack.events.from_markers import read_markers
from gaittrack.events.swings import Swing, find_swings, toe_off_frames
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


def foot_that_goes(*ways_m, longest_m=1.2):
    """Return a foot at 100 Hz that stands but for these ways, from frame to frame, and a long one.

    Each lasts a fifth of a second; the long one is in the middle, over 40 frames.
    """
    speed = np.zeros(400)
    for start, way_m in (*ways_m, (180, longest_m)):
        stop = start + (40 if start == 180 else 20)
        speed[start:stop] = 100 * way_m / (stop - start)
    body = np.full(400, 0.05)
    return SimpleNamespace(toe_m_s=speed, body_m_s=body, rate_hz=100.0, n_frames=400)


@pytest.mark.parametrize(
    ("ways_m", "longest_m", "starts"),
    [
        (((60, 0.11), (300, 0.11)), 1.2, [60, 180, 300]),
        (((60, 0.085), (300, 0.085)), 1.2, [180]),  # 8 % of the longest way are 9.6 cm
        (((60, 0.065),), 0.5, [60, 180]),
        (((60, 0.035), (300, 0.045)), 0.3, [180, 300]),  # never less than 4 cm
        (((0, 0.07), (380, 0.07)), 1.2, [0, 180, 380]),  # cut: the rest is not seen
        (((0, 0.07), (60, 0.07), (380, 0.07)), 1.2, [0, 180, 380]),
    ],
)
def test_a_way_is_a_step_by_its_length(ways_m, longest_m, starts):
    """A share of the longest way, no less than some centimetres; cut by an end, it may be short."""
    swings = find_swings(foot_that_goes(*ways_m, longest_m=longest_m))
    assert [swing.start for swing in swings] == starts
    assert all(swing.stop - swing.start in (20, 40) for swing in swings)


def test_hesitating_in_a_step_makes_no_two_and_standing_does():
    """A foot may stand for 80 ms on its way; one that never leads the body makes no step."""
    foot = foot_that_goes((60, 0.15), (88, 0.15))
    assert [swing.start for swing in find_swings(foot)] == [60, 180]
    foot = foot_that_goes((60, 0.15), (89, 0.15))
    assert [swing.start for swing in find_swings(foot)] == [60, 89, 180]
    foot.body_m_s[:] = 1.0
    assert [swing.start for swing in find_swings(foot)] == [180]


def test_a_foot_that_creeps_between_its_steps_stands():
    """At 0.2 m/s, beside steps of 3 m/s; a foot whose steps are slow is on its way then."""
    foot = foot_that_goes((60, 0.2), longest_m=1.2)
    foot.toe_m_s[foot.toe_m_s == 0] = 0.2
    foot.body_m_s[:] = 0.1
    assert [swing.start for swing in find_swings(foot)] == [60, 180]
    slow = foot_that_goes(longest_m=0.1)
    slow.toe_m_s[:] = np.where(slow.toe_m_s > 0, 0.25, 0.0)
    assert [swing.start for swing in find_swings(slow)] == [180]


def toe_off_of(toe_m_s, body_m_s):
    """Return at which frame the toe leaves in a swing that is fastest in its last frame."""
    toe, body = (np.asarray(each, dtype=float) for each in (toe_m_s, body_m_s))
    foot = SimpleNamespace(toe_m_s=toe, body_m_s=body, rate_hz=100.0)
    (frame,) = toe_off_frames(foot, [Swing(0, len(toe) - 1, len(toe))])
    return frame


def test_the_toe_leaves_where_it_becomes_as_fast_as_the_body():
    """To a fraction of a frame, less a known lag; not where it was fast all along, or never is."""
    steady = [1.0] * 5
    assert toe_off_of([0, 0.2, 0.5, 1.5, 3], steady) == pytest.approx(2.5 - 0.8)
    assert toe_off_of([0, 0.2, 1.0, 1.5, 3], steady) == pytest.approx(2.0 - 0.8)
    assert toe_off_of([2, 0.5, 1.5, 2.5, 3], steady) == pytest.approx(1.5 - 0.8)
    assert toe_off_of([0.5, 1.5, 2, 2.5, 3], steady) == 0.0
    assert toe_off_of([0, 0.2, 0.3, 0.9, 1.5], steady) == pytest.approx(3 + 1 / 6 - 0.8)
    assert toe_off_of([2, 2, 2, 2, 3], steady) is None
    assert toe_off_of([0, 0.1, 0.2, 0.3, 0.9], steady) is None


def test_while_the_body_sets_out_the_toe_leaves_by_its_own_speed():
    """At half of its swing's peak, until the body has been at 60 % of its usual speed."""
    toe, body = [0, 0.5, 1.25, 2.0, 3.0, 3.1, 3.2], [0.1, 0.2, 0.3, 1.0, 1.0, 1.0, 1.0]
    assert toe_off_of(toe, body) == pytest.approx(2 + 0.35 / 1.35 - 0.8)
    assert toe_off_of(toe, body[::-1]) == pytest.approx(1 + 0.5 / 0.75 - 0.8)
    body[2] = 0.61
    assert toe_off_of(toe, body) == pytest.approx(1 + 1.1 / 1.74 - 0.8)
    body[2] = 0.5  # its usual speed is the middle one, not the mean
    assert toe_off_of(toe, body) == pytest.approx(2 + 0.35 / 1.35 - 0.8)


def test_every_contact_says_how_it_was_told():
    """By the impact in plain walking, and nowhere else as likely."""
    marked = read_markers(describe_motion(simulate_walk(WalkRecipe(), seed=1).trial))
    contacts = [event for event in marked.events if event.kind == "initial_contact"]
    assert set(marked.methods) == set(contacts)
    assert {marked.methods[event] for event in contacts} == {"impact"}
    assert marked.rival_s == {}
