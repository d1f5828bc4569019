"""Peaks between samples, and rates that do not depend on the frame rate."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.cycles import cut_cycles
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.measures import measure_cycles
from gaittrack.measures.peaks import at_highest_of, between_samples_highest
from gaittrack.measures.recording import gradient
from gaittrack.simulate.recipe import NO_SCATTER, FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Signal
from tests.motions import Walk, one_cycle


def highest(values):
    return between_samples_highest(values[None], np.array([len(values)]))[0]


def highest_of(timing, values):
    return at_highest_of(timing[None], values[None], np.array([len(values)]))[0]


SLAP = FootRecipe(contact_pitch_deg=15.0, lowering_time_s=0.05)


def test_top_of_a_parabola_is_found_between_its_samples():
    """5 - (x - 3.3)^2 has its top of 5 at 3.3, where no sample is."""
    assert highest(5 - (np.arange(7) - 3.3) ** 2) == pytest.approx(5.0)


def test_at_the_ends_of_a_window_it_is_the_sample():
    """The spacing is not even there."""
    assert highest(np.array([5.0, 4.0, 3.0, 2.0])) == 5.0
    assert highest(np.array([1.0, 4.0, 3.0, 2.0, 1.0])) == 4.0
    parabola = 5 - (np.arange(7) - 2.3) ** 2
    assert highest(parabola[:5]) == pytest.approx(5.0)
    assert highest(parabola[:4]) == parabola[2]
    assert highest_of(parabola[:5], (np.arange(5) - 1.0) ** 2) == pytest.approx(1.69)


@pytest.mark.parametrize(
    ("name", "joint"),
    [
        ("dorsiflexion_at_contact_deg", "ankle"),
        ("knee_flexion_at_contact_deg", "knee"),
        ("foot_pitch_at_contact_deg", "foot_pitch"),
    ],
)
def test_what_is_told_at_contact_is_that_of_the_stride_s_own_contact(measured, name, joint):
    """An angle that rises by 1 degree in each 100 ms: the next contact lies 10 degrees higher."""
    walk = Walk()
    motion = walk.motion()
    rising = Signal(10 * walk.time_s, "deg", joint)
    motion = replace(motion, angles={**motion.angles, ("right", joint): rising})
    found = measured(name, motion, one_cycle(walk)).value
    assert found == pytest.approx(10 * walk.start_s)


def test_one_sample_has_no_rate():
    """And two have one, the same at both."""
    assert np.isnan(gradient(np.array([3.0]))).all()
    assert gradient(np.array([3.0, 5.0])).tolist() == [2.0, 2.0]


def test_value_is_read_where_another_is_highest_between_samples():
    """At 3.3, where 5 - (x - 3.3)^2 has its top, (x - 1)^2 is 5.29."""
    at = np.arange(7.0)
    assert highest_of(5 - (at - 3.3) ** 2, (at - 1) ** 2) == pytest.approx(5.29)


def test_noise_makes_a_timed_value_no_higher():
    """The highest of 20 samples of noise alone is near 1.9 SD, the one at a given instant at 0."""
    rng = np.random.default_rng(3)
    timing = -((np.arange(20) - 9.5) ** 2)
    noise = rng.standard_normal((400, 20))
    assert np.mean([highest(each) for each in noise]) > 1.5
    assert abs(np.mean([highest_of(timing, each) for each in noise])) < 0.15


def test_where_the_other_is_highest_at_an_end_the_highest_is_taken():
    """Its top lies outside, and would be read at a slope."""
    values = np.array([1.0, 2.0, 3.0, 9.0, 3.0, 2.0, 1.0])
    assert highest_of(np.arange(7.0), values) == highest(values)


def test_rate_of_what_swings_at_10_hz_is_kept_at_100_hz():
    """The largest slope of sin(2 pi 10 t) is 62.8 per second; three points give 58.8."""
    swing = np.sin(2 * np.pi * 10 * np.arange(0, 1, 0.01))
    rate = gradient(swing)[2:-2] * 100
    assert rate.max() == pytest.approx(2 * np.pi * 10, rel=0.006)


def test_a_gap_spreads_over_no_more_than_the_samples_beside_it():
    """Where five points do not fit, three do."""
    values = np.arange(12.0)
    values[6] = np.nan
    assert np.flatnonzero(np.isnan(gradient(values))).tolist() == [5, 7]


def slap_rates(rate_hz):
    recipe = WalkRecipe(
        speed_m_s=1.0, n_strides=4, left=SLAP, rate_hz=rate_hz, scatter=NO_SCATTER, marker_noise_m=0
    )
    motion = describe_motion(simulate_walk(recipe, seed=1).trial)
    rows = measure_cycles(motion, cut_cycles(motion, detect_events(motion)))
    name = "loading_response_plantarflexion_rate_deg_s"
    return [row.value for row in rows if (row.measure, row.side) == (name, "left")]


def test_a_slap_is_as_fast_at_100_as_at_250_hz():
    """Within 3 %: what is lost is lost by the filter, not by the frames."""
    slow, fast = slap_rates(100.0), slap_rates(250.0)
    assert len(slow) >= 3
    assert np.mean(slow) == pytest.approx(np.mean(fast), rel=0.03)
