"""Events from markers against simulated truth.

The limits are those asked of the detector: at 100 Hz and more contact within 25 ms (median 10),
toe-off within 35 ms (median 15); at 60 Hz 35 and 40 ms; walking at 0.3 m/s or slower right in count
and order, within 100 ms.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from gaittrack.events import detect_events, from_markers
from gaittrack.events.from_markers import read_markers
from gaittrack.kinematics import describe_motion
from gaittrack.simulate.recipe import FootRecipe, Gap, WalkRecipe
from gaittrack.simulate.walk import simulate_walk, stand
from tests.event_truth import detection_errors
from tests.golden.event_walks import FLAT, FOREFOOT, LIMP

LIMITS_MS = {"initial_contact": (10, 25), "toe_off": (15, 35)}
LIMITS_60_HZ_MS = {"initial_contact": 35, "toe_off": 40}
SLOW_M_S, SLOW_MS = 0.3, 100
PLAIN = WalkRecipe(speed_m_s=1.1, n_strides=4)
FEET = {
    "unimpaired": None,
    "slap": FootRecipe(contact_pitch_deg=12.0, lowering_time_s=0.05),
    "flat": FLAT,
    "forefoot": FOREFOOT,
    "steppage": FootRecipe(
        contact_pitch_deg=-8.0,
        swing_pitch_deg=-28.0,
        clearance_m=0.06,
        early_lift_m=0.03,
        toe_off_pitch_deg=-55.0,
    ),
    "limp, hangs 0.2 s": replace(LIMP, reach_hold_s=0.2),
    "limp, hangs 0.1 s": replace(LIMP, reach_hold_s=0.1),
}
PACES = ((0.2, 100.0), (0.5, 200.0), (0.8, 60.0), (1.6, 100.0))
"""Speed in m/s, rate in Hz; no foot hangs still for long in the short swing of a brisk walk."""
LABORATORIES = {
    "against the axis": replace(PLAIN, direction="-"),
    "Y up": replace(PLAIN, up_axis="Y"),
    "treadmill, Y up, against the axis": replace(
        PLAIN, belt_speed_m_s=1.1, up_axis="Y", direction="-"
    ),
    "slow treadmill": replace(PLAIN, speed_m_s=0.3, belt_speed_m_s=0.3),
    "tilted floor": replace(PLAIN, floor_tilt=0.002),
    "noise of 1 mm": replace(PLAIN, marker_noise_m=0.001),
}
WALKS = LABORATORIES | {
    f"{name}, {speed_m_s} m/s": replace(PLAIN, speed_m_s=speed_m_s, rate_hz=rate_hz, left=foot)
    for name, foot in FEET.items()
    for speed_m_s, rate_hz in PACES
    if speed_m_s < 1 or "hangs" not in name
}


@pytest.mark.parametrize("name", WALKS)
def test_events_of_every_walk_keep_the_limits(name):
    """None missed, none extra, errors within what is asked, whatever foot, pace and laboratory."""
    recipe = WALKS[name]
    for kind, errors in detection_errors(simulate_walk(recipe, seed=20260217)).items():
        assert errors.error_ms and errors.missed_s == errors.extra_s == ()
        if recipe.speed_m_s <= SLOW_M_S:
            assert errors.largest_ms <= SLOW_MS
        elif recipe.rate_hz < 100:
            assert errors.largest_ms <= LIMITS_60_HZ_MS[kind]
        else:
            assert abs(errors.median_ms) <= LIMITS_MS[kind][0]
            assert errors.largest_ms <= LIMITS_MS[kind][1]


@pytest.mark.parametrize("foot", FEET)
def test_events_come_in_the_order_of_walking(foot):
    """Contact and toe-off in turn on either foot, whatever the foot does."""
    walk = simulate_walk(replace(PLAIN, speed_m_s=0.4, left=FEET[foot]), seed=8)
    events = read_markers(describe_motion(walk.trial)).events
    for side in ("left", "right"):
        kinds = [event.kind for event in events if event.side == side]
        assert len(kinds) >= 9
        assert all(one != other for one, other in zip(kinds, kinds[1:], strict=False))


def test_standing_gives_no_events():
    """Nothing is found where nobody walks."""
    motion = describe_motion(stand(PLAIN, seed=1, duration_s=4.0))
    found = detect_events(motion)
    assert found.events == () and any("No initial contact" in p.what for p in found.problems)


def test_gap_takes_only_its_own_events():
    """A foot lost for half a second: no event inside, the others are as without the gap."""
    gaps = tuple(Gap(f"left {name}", 2.0, 2.5) for name in ("heel", "toe", "metatarsal 5"))
    holed = simulate_walk(replace(PLAIN, gaps=gaps), seed=8)
    found = read_markers(describe_motion(holed.trial)).events
    whole = read_markers(describe_motion(simulate_walk(PLAIN, seed=8).trial)).events
    right = [[e for e in events if e.side == "right"] for events in (found, whole)]
    assert right[0] == right[1]
    left = [e.time_s for e in found if e.side == "left"]
    assert all(min(abs(e.time_s - t) for e in whole if e.side == "left") < 0.02 for t in left)


def test_feet_without_a_pelvis_are_still_read():
    """Reach is then counted from the hip or the knee."""
    walk = simulate_walk(PLAIN, seed=8)
    legs = {k: v for k, v in walk.trial.markers.items() if "sis" not in k and "sacrum" not in k}
    trial = replace(walk.trial, markers=legs)
    errors = detection_errors(replace(walk, trial=trial))
    assert errors["initial_contact"].largest_ms <= 25
    assert errors["initial_contact"].missed_s == errors["initial_contact"].extra_s == ()


@pytest.mark.parametrize("noise_m", [0.0, 0.001])
def test_noise_of_a_millimetre_costs_no_event(noise_m):
    """None missed, none extra in ten strides."""
    recipe = WalkRecipe(speed_m_s=0.9, n_strides=10, marker_noise_m=noise_m)
    for errors in detection_errors(simulate_walk(recipe, seed=3)).values():
        assert errors.missed_s == errors.extra_s == () and np.median(np.abs(errors.error_ms)) < 10


def _contact_errors_ms(foot, speed_m_s, *, noise_m, seeds):
    """Return the errors of contacts of several walks on both feet."""
    errors = []
    for seed in range(seeds):
        recipe = WalkRecipe(
            speed_m_s=speed_m_s, n_strides=5, left=foot, right=foot, marker_noise_m=noise_m
        )
        errors += detection_errors(simulate_walk(recipe, seed=seed))["initial_contact"].error_ms
    return np.abs(errors)


@pytest.mark.parametrize("speed_m_s", [0.65, 0.8])
def test_a_foot_that_hangs_over_its_place_has_not_landed(speed_m_s):
    """Held low and slow for 0.2 s before it is put down: contact is where it lands."""
    foot = FEET["limp, hangs 0.2 s"]
    assert _contact_errors_ms(foot, speed_m_s, noise_m=0.0004, seeds=3).max() <= 25


@pytest.mark.parametrize("foot", ["flat", "unimpaired", "steppage"])
def test_scatter_of_1_mm_moves_few_contacts(foot):
    """At most one contact in eight is off by more than 25 ms, none by more than 60."""
    errors = np.concatenate(
        [_contact_errors_ms(FEET[foot], speed, noise_m=0.001, seeds=3) for speed in (0.5, 1.1)]
    )
    assert len(errors) >= 60
    assert (errors > 25).mean() <= 0.125 and errors.max() <= 60


def test_no_event_is_told_at_the_edge_of_what_was_seen():
    """There the smoothing lacks frames on one side; on its verge it is told, at every rate."""
    for rate_hz in (50.0, 100.0):
        foot = SimpleNamespace(side="left", start=50, rate_hz=rate_hz, n_frames=101)
        first_s, last_s = 50 / rate_hz, 150 / rate_hz
        inside = first_s + from_markers.EDGE_S, last_s - from_markers.EDGE_S
        told = [
            len(from_markers._inside(foot, time_s, "toe_off"))
            for edge in inside
            for time_s in (edge - 0.004, edge + 0.004)
        ]
        assert told == [0, 1, 1, 0]
