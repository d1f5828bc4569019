"""How fast a foot falls, against made-up falls and walks whose rates are known."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.cycles import cut_cycles
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.kinematics.smoothing import FALL_CUTOFF_HZ, FALL_TIMING_CUTOFF_HZ, low_pass
from gaittrack.measures import measure_cycles
from gaittrack.measures.recording import NOISY_MARKERS
from gaittrack.simulate.recipe import NO_SCATTER, FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Signal
from tests.golden.rate_estimators import (
    CONTACT_S,
    ESTIMATORS,
    FALLS,
    angle_noise_deg,
    fall,
    row,
)
from tests.motions import Walk, one_cycle

PEAK, FLOOR = "loading_response_plantarflexion_rate_deg_s", "foot_to_floor_rate_deg_s"
CHOSEN = f"{FALL_CUTOFF_HZ:g} Hz, when {FALL_TIMING_CUTOFF_HZ:g} Hz is highest"


@pytest.mark.parametrize("rate_hz", [100.0, 200.0])
@pytest.mark.parametrize("at", FALLS)
def test_chosen_way_keeps_at_least_nine_tenths_of_every_fall_and_adds_a_tenth_at_most(at, rate_hz):
    """With the noise of good markers."""
    for noise_mm in (0.3, 0.5):
        assert 90 <= float(row(CHOSEN, at, rate_hz, noise_mm)[5]) <= 110


@pytest.mark.parametrize(("cutoff_hz", "percent"), [(6, 47), (15, 87), (20, 95)])
def test_a_lower_cut_off_keeps_less_of_a_slap(cutoff_hz, percent):
    """Half of its peak at 6 Hz: why the falling foot is filtered at 20."""
    kept = row(f"peak, {cutoff_hz} Hz", FALLS[-1], 200.0, 0.3)[5]
    assert float(kept) == pytest.approx(percent, abs=3)


@pytest.mark.parametrize("rate_hz", [100.0, 200.0])
@pytest.mark.parametrize("at", FALLS)
def test_measure_takes_the_rate_in_the_chosen_way(measured, at, rate_hz):
    """The same number from the same noisy angle: what is promised of that way is of the measure."""
    drop_deg, fall_s = at
    angle = fall(drop_deg, fall_s, rate_hz, 0.5, np.random.default_rng(4))
    walk = Walk(rate_hz=rate_hz, n_cycles=1)
    motion, n_frames = walk.motion(), len(walk.time_s)
    whole = np.pad(angle, (0, n_frames - len(angle)), mode="edge")
    smooth = low_pass(whole, cutoff_hz=FALL_CUTOFF_HZ, rate_hz=rate_hz)
    key = ("right", "ankle")
    motion = replace(
        motion,
        falling_angles={key: Signal(smooth, "deg", "ankle")},
        fast_marker_angles={
            key: Signal(low_pass(whole, cutoff_hz=15.0, rate_hz=rate_hz), "deg", "ankle")
        },
        foot_flat={},
    )
    end_s = (int((CONTACT_S + fall_s + 0.03) * rate_hz) + 1) / rate_hz
    cycle = one_cycle(walk, opposite_toe_off_s=end_s)
    found = measured(PEAK, motion, cycle).value
    assert found == pytest.approx(ESTIMATORS[CHOSEN](whole, rate_hz, fall_s), rel=0.03)


SLAP = FootRecipe(contact_pitch_deg=15.0, lowering_time_s=0.05)
RATE_PER_ANGLE = 45
"""Scatter of the rate (deg/s) at 20 Hz over that of the angle (deg), as at 100 Hz."""
TAME = FootRecipe(contact_pitch_deg=17.0, lowering_time_s=0.11)


def walked(foot, rate_hz, noise_mm):
    """Return the left rates found and the true ones."""
    recipe = WalkRecipe(
        speed_m_s=1.0,
        n_strides=6,
        left=foot,
        rate_hz=rate_hz,
        scatter=NO_SCATTER,
        marker_noise_m=noise_mm / 1000,
    )
    walk = simulate_walk(recipe, seed=5)
    motion = describe_motion(walk.trial)
    rows = measure_cycles(motion, cut_cycles(motion, detect_events(motion)))
    found = [r.value for r in rows if (r.measure, r.side) == (PEAK, "left") and r.value == r.value]
    return found, [cycle.loading_plantarflexion_rate_deg_s for cycle in walk.truth.of("left")]


# Bounds: what the filter takes (5 % of a slap, none of a slower fall), and three standard
# errors of the noise of six strides.
@pytest.mark.parametrize("rate_hz", [100.0, 200.0])
@pytest.mark.parametrize("noise_mm", [0.3, 0.5, 2.0])
@pytest.mark.parametrize(("foot", "least", "most"), [(SLAP, 0.88, 1.02), (TAME, 0.95, 1.05)])
def test_a_walk_s_rate_is_near_the_truth(foot, least, most, noise_mm, rate_hz):
    """From markers to the mean of a walk's strides, slaps and braced falls alike."""
    found, true = walked(foot, rate_hz, noise_mm)
    assert len(found) >= 5
    slack = 3 * RATE_PER_ANGLE * angle_noise_deg(noise_mm) / np.sqrt(len(found)) / np.mean(true)
    assert least - slack < np.mean(found) / np.mean(true) < most + slack


def test_rate_of_a_slap_stands_clear_of_a_braced_fall():
    """At least three quarters of what lies between them is seen; at 15 Hz it were a half."""
    (slap, true_slap), (tame, true_tame) = (walked(foot, 100.0, 0.5) for foot in (SLAP, TAME))
    seen = np.mean(slap) - np.mean(tame)
    assert seen > 0.75 * (np.mean(true_slap) - np.mean(true_tame))


@pytest.mark.parametrize(("noise_mm", "is_told"), [(0.3, False), (0.9, False), (2.0, True)])
def test_rate_from_trembling_markers_says_so(noise_mm, is_told):
    """Both of the falling foot's rates, past 1.2 mm; no other measure does."""
    recipe = WalkRecipe(n_strides=3, marker_noise_m=noise_mm / 1000)
    motion = describe_motion(simulate_walk(recipe, seed=8).trial)
    rows = measure_cycles(motion, cut_cycles(motion, detect_events(motion)))
    told = {row.measure for row in rows if NOISY_MARKERS in {label.code for label in row.labels}}
    assert told == ({PEAK, FLOOR} if is_told else set())
