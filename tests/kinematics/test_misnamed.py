"""Markers that cannot be the landmark they are named after give no number."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gaittrack.cycles import cut_cycles
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.measures import measure_cycles
from gaittrack.pipeline import measure_file
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk

REFERENCE = Path(__file__).parents[1] / "reference"
RECORDED = sorted(p for p in REFERENCE.iterdir() if p.suffix in (".c3d", ".txt"))
LIMP = FootRecipe(contact_pitch_deg=10.0, swing_pitch_deg=-22.0, lowering_time_s=0.06)
HEADLINE = (
    "loading_response_plantarflexion_rate_deg_s",
    "peak_swing_dorsiflexion_deg",
    "minimum_toe_clearance_mm",
    "peak_hip_flexion_pelvis_thigh_deg",
    "peak_hip_flexion_thigh_vertical_deg",
    "peak_swing_knee_flexion_deg",
)
TOLERANCE = {"deg": 3.0, "mm": 3.0, "deg/s": 40.0}


@pytest.fixture(scope="module")
def trial():
    return simulate_walk(WalkRecipe(speed_m_s=1.0, n_strides=4, left=LIMP), seed=4).trial


def headline(trial):
    """Return (side, start, measure, value, unit) of kept cycles, and the motion."""
    motion = describe_motion(trial)
    cycles = cut_cycles(motion, detect_events(motion))
    starts = {(c.side, c.id): c.start_s for c in cycles}
    rows = [
        (row.side, starts[row.side, row.cycle], row.measure, row.value, row.unit)
        for row in measure_cycles(motion, cycles)
        if row.measure in HEADLINE and not np.isnan(row.value)
    ]
    return rows, motion


def is_right(row, right):
    """Whether a value is that of the same stride of the unchanged walk."""
    side, start_s, measure, value, unit = row
    return any(
        (side, measure) == (other[0], other[2])
        and abs(start_s - other[1]) < 0.15
        and abs(value - other[3]) < TOLERANCE[unit]
        for other in right
    )


def exchanged(trial, one, other, frames=slice(None)):
    markers = {key: xyz.copy() for key, xyz in trial.markers.items()}
    for target, source in ((one, other), (other, one)):
        markers[target][frames] = trial.markers[source][frames]
    return replace(trial, markers=markers)


PAIRS = [
    ("left heel", "right heel"),
    ("left ankle", "right ankle"),
    ("left knee", "right knee"),
    ("left asis", "right asis"),
    ("left asis", "left psis"),
    ("left knee", "left ankle"),
    ("left ankle", "left heel"),
    ("right asis", "right hip"),
    ("left toe", "left metatarsal 5"),
]


@pytest.mark.parametrize("pair", PAIRS, ids=[" and ".join(pair) for pair in PAIRS])
def test_exchanged_names_give_the_right_value_or_none(trial, pair):
    """Every headline value is that of the unchanged walk, or not defined, and it is told."""
    right, _ = headline(trial)
    found, motion = headline(exchanged(trial, *pair))
    assert len(right) > 20
    assert not [row for row in found if not is_right(row, right)]
    assert any(problem.what.startswith("Left out") for problem in motion.problems)


@pytest.mark.parametrize("share", [0.15, 0.3, 0.5, 0.8])
def test_heels_exchanged_for_a_part_of_the_walk_are_left_out(trial, share):
    """More than a moment: nothing is taken from them."""
    n = trial.n_frames
    frames = slice(int(0.15 * n), int((0.15 + share) * n))
    motion = describe_motion(exchanged(trial, "left heel", "right heel", frames))
    assert "left_heel" not in motion.points and "right_heel" not in motion.points
    assert "left_heel" not in motion.landmark_labels


def test_feet_that_change_legs_half_way_leave_no_leg(trial):
    """Which half is right cannot be told: no cycle is cut."""
    frames = slice(trial.n_frames // 2, None)
    for name in ("heel", "toe", "ankle", "metatarsal 5"):
        trial = exchanged(trial, f"left {name}", f"right {name}", frames)
    motion = describe_motion(trial)
    assert not any(key.endswith(("heel", "toe", "ankle")) for key in motion.points)
    assert detect_events(motion).events == ()


@pytest.mark.parametrize("file", RECORDED, ids=[file.stem for file in RECORDED])
def test_no_landmark_of_a_recorded_walk_is_left_out(file):
    """Skin moves, toes bend, digitising scatters: all of it stays on its leg."""
    problems = measure_file(file).problems
    assert not [p.what for p in problems if p.what.startswith("Left out: ")]


@pytest.mark.parametrize("pitch_deg", [-45.0, 25.0])
def test_a_foot_that_swings_far_is_not_left_out(pitch_deg):
    """Knee to toe changes by a decimetre in a foot that hangs or is thrown up."""
    foot = FootRecipe(contact_pitch_deg=20.0, swing_pitch_deg=pitch_deg, toe_off_pitch_deg=-75.0)
    walk = simulate_walk(WalkRecipe(speed_m_s=0.8, n_strides=3, left=foot), seed=2)
    motion = describe_motion(walk.trial)
    assert not [p for p in motion.problems if p.what.startswith("Left out")]
