"""Which part of the foot touched first, against made-up walks and by the bands."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from gaittrack.events import detect_events
from gaittrack.events.contact_type import _heel_leads_s, contact_types, with_contact_types
from gaittrack.kinematics import describe_motion
from gaittrack.simulate.recipe import NO_SCATTER, FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Event, Signal
from tests.motions import Walk


@pytest.mark.parametrize(
    ("pitch_deg", "expected"),
    [(20.0, "heel"), (5.1, "heel"), (4.9, "flat"), (-4.9, "flat"), (-5.1, "forefoot")],
)
def test_bands_of_the_foots_slope(pitch_deg, expected):
    """Heel above +5, forefoot below -5 deg, flat between (bands of the design)."""
    motion = Walk().motion()
    frames = len(motion.points["left_heel"])
    gone = {key: np.full((frames, 3), np.nan) for key in motion.points}
    pitch = {("left", "foot_pitch"): Signal(np.full(frames, pitch_deg), "deg", "pitch")}
    bare = replace(motion, fast_points=gone, fast_marker_angles=pitch)
    assert contact_types(bare, "left", np.array([1.0])) == [expected]


@pytest.mark.parametrize(
    ("pitch_deg", "expected"), [(18.0, "heel"), (0.0, "flat"), (-12.0, "forefoot")]
)
@pytest.mark.parametrize("rate_hz", [100.0, 200.0])
def test_contact_types_of_made_up_walks_are_found(pitch_deg, expected, rate_hz):
    """By construction; the right foot lands on its heel."""
    left = FootRecipe(contact_pitch_deg=pitch_deg, swing_pitch_deg=-20.0)
    recipe = WalkRecipe(speed_m_s=1.0, n_strides=3, left=left, rate_hz=rate_hz, scatter=NO_SCATTER)
    events = detect_events(describe_motion(simulate_walk(recipe, seed=2).trial)).events
    contacts = [e for e in events if e.kind == "initial_contact"]
    assert {e.contact for e in contacts if e.side == "left"} == {expected}
    assert {e.contact for e in contacts if e.side == "right"} == {"heel"}


def test_slope_that_the_order_of_stopping_contradicts_is_uncertain():
    """A heel-up slope whose forefoot is down first: not called a heel contact."""
    motion = Walk().motion()
    side, start_s = "left", Walk().contact_s("left") + 1.0
    frames = np.arange(motion.n_frames) / motion.rate_hz
    up = lambda from_s: np.where(frames < from_s, 0.3 * (from_s - frames) + 0.1, 0.0)  # noqa: E731
    still = np.zeros(motion.n_frames)
    points = {
        f"{side}_{name}": np.stack([still, still, up(start_s + late)], axis=1)
        for name, late in (("heel", 0.1), ("forefoot", 0.0))
    }
    pitch = {(side, "foot_pitch"): Signal(np.full(motion.n_frames, 10.0), "deg", "pitch")}
    odd = replace(motion, fast_points=points, fast_marker_angles=pitch)
    assert contact_types(odd, side, np.array([start_s])) == ["uncertain"]


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0])
def test_the_heel_leads_by_the_time_between_both_ends_coming_down(rate_hz):
    """At this contact, not at the stance before; what is not seen around it leads by nothing."""
    times_s = np.arange(round(4 * rate_hz)) / rate_hz
    still = np.zeros(len(times_s))

    def end(down_s):
        height = np.where(times_s < down_s, 0.3 * (down_s - times_s), 0.0)
        return np.stack([still, still, np.where(times_s < down_s - 0.8, 0.0, height)], axis=1)

    points = {"left_heel": end(3.0), "left_forefoot": end(3.06)}
    seen = SimpleNamespace(fast_points=points, rate_hz=rate_hz)
    assert _heel_leads_s(seen, "left", np.array([3.0])) == pytest.approx(0.06, abs=1 / rate_hz)
    points["left_heel"][-round(0.9 * rate_hz)] = np.nan
    assert np.isnan(_heel_leads_s(seen, "left", np.array([3.05])))


def test_without_a_foot_pitch_the_type_is_unknown():
    """No neutral or no markers: nothing is claimed."""
    motion = replace(Walk().motion(), fast_marker_angles={})
    assert contact_types(motion, "left", np.array([1.0])) == ["unknown"]


def test_type_given_by_a_person_is_kept_and_toe_offs_get_none():
    """Only contacts without a type are judged."""
    motion = Walk().motion()
    given = Event(1.0, "left", "initial_contact", "corrected", "forefoot")
    off = Event(1.6, "left", "toe_off", "markers")
    assert with_contact_types(motion, (given, off)) == (given, off)
