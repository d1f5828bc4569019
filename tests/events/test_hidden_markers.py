"""Hidden markers hide no steps that can still be seen, and spoil no number."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.cycles import cut_cycles
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.reasons import Reason
from gaittrack.simulate.recipe import Gap, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.vocabulary import SIDES

HIDDEN = (Gap("left asis", 0.5, 3.0), Gap("right psis", 1.0, 1.4), Gap("left toe", 0.0, 9.0))
PELVIS_GAP = Reason("long_gap", names=("pelvis",))


def walk_of(recipe: WalkRecipe):
    walk = simulate_walk(recipe, seed=3)
    motion = describe_motion(walk.trial)
    return walk, motion, detect_events(motion)


def test_contacts_are_found_while_pelvis_markers_are_hidden():
    """Every true contact has one within 25 ms although pelvis and toe markers come and go."""
    walk, _, detected = walk_of(replace(WalkRecipe(), gaps=HIDDEN))
    last_s = walk.trial.duration_s - 0.1
    true = [e for e in walk.truth.events if e.kind == "initial_contact" and 0.1 < e.time_s < last_s]
    for event in true:
        found = [e for e in detected.events if (e.side, e.kind) == (event.side, event.kind)]
        assert min(abs(e.time_s - event.time_s) for e in found) < 0.025


@pytest.mark.parametrize("together_s", [0.3, 0.0])
def test_pelvis_markers_that_take_turns_hide_no_step(together_s):
    """First the hind ones, then the front ones: every contact of the whole pelvis within 25 ms.

    Never seen together, they say nothing of each other: then only where those seen longer are.
    """
    until_s = 2.0
    gaps = [Gap(f"{side} asis", 0.0, until_s - together_s) for side in SIDES]
    gaps += [Gap(f"{side} psis", until_s, 99.0) for side in SIDES]
    walk, _, detected = walk_of(replace(WalkRecipe(), gaps=tuple(gaps)))
    found = [e for e in detected.events if e.kind == "initial_contact"]
    seen_s = 0.2 if together_s else until_s + 0.2
    true = [e for e in walk.truth.events if e.kind == "initial_contact"]
    inside = [e for e in true if seen_s < e.time_s < walk.trial.duration_s - 0.2]
    assert len(inside) >= 3
    for event in inside:
        times_s = [e.time_s for e in found if e.side == event.side]
        assert min(abs(time_s - event.time_s) for time_s in times_s) < 0.025


def test_a_cycle_without_its_pelvis_is_rejected_and_says_so():
    """Cycles that a long gap touches are rejected with the reason, the others kept."""
    _, motion, detected = walk_of(replace(WalkRecipe(), gaps=HIDDEN))
    cycles = cut_cycles(motion, detected)
    touched = [cycle for cycle in cycles if cycle.start_s < 1.4 and cycle.end_s > 1.0]
    assert touched
    assert all(PELVIS_GAP in cycle.reject_reasons for cycle in touched)
    assert any(cycle.is_kept for cycle in cycles)


def test_a_patchy_toe_gives_way_to_the_metatarsal():
    """A toe that is hardly seen is not the toe point, and cycles are not lost for it."""
    _, motion, _ = walk_of(replace(WalkRecipe(), gaps=(Gap("left toe", 0.0, 9.0),)))
    assert motion.toe_point_name["left"] == "left metatarsal 5"
    assert not np.isnan(motion.points["left_toe_point"]).any()


@pytest.mark.parametrize("speed_m_s", [0.5, 0.8, 1.4])
def test_a_missing_heel_is_said_and_the_ankle_stands_in(speed_m_s):
    """Without a heel the contacts come from the ankle, within 25 ms, with a warning."""
    recipe = WalkRecipe(speed_m_s=speed_m_s, left_out=("left heel",))
    walk, _, detected = walk_of(recipe)
    assert any("No heel was seen" in problem.what for problem in detected.problems)
    found = [e.time_s for e in detected.events if (e.side, e.kind) == ("left", "initial_contact")]
    true = [e for e in walk.truth.events if (e.side, e.kind) == ("left", "initial_contact")]
    inside = [e.time_s for e in true if 0.2 < e.time_s < walk.trial.duration_s - 0.2]
    assert inside
    assert all(min(abs(time_s - t) for t in found) < 0.025 for time_s in inside)


def test_a_missing_heel_is_not_said_where_the_file_gives_the_contacts():
    """The left heel is missing and every event of the left foot is marked."""
    walk = simulate_walk(replace(WalkRecipe(), left_out=("left heel",)), seed=3)
    marks = tuple(replace(e, source="file") for e in walk.truth.events if e.side == "left")
    detected = detect_events(describe_motion(replace(walk.trial, events=marks)))
    assert {e.source for e in detected.events if e.side == "right"} == {"markers"}
    assert not any("No heel was seen" in problem.what for problem in detected.problems)


def test_a_leg_without_pelvis_and_hip_is_said():
    """Toe-offs told from the knee come with a warning; those told from the body without."""
    body = ("left asis", "right asis", "left psis", "right psis", "left hip", "right hip")
    _, _, legs_only = walk_of(replace(WalkRecipe(), left_out=body))
    _, _, whole = walk_of(WalkRecipe())
    assert any("told from the knee" in problem.what for problem in legs_only.problems)
    assert not any("told from the knee" in problem.what for problem in whole.problems)
