"""Cycles: contact to contact, kept or rejected with a reason, never dropped."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.cycles import N_PERCENT_POINTS, PARTIAL, cut_cycles, cycles_of_curves
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.reasons import Reason
from gaittrack.simulate.recipe import Gap, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import AngleCurve, Event, Provenance, Trial

PLAIN = WalkRecipe(speed_m_s=1.1, n_strides=4)


def cycles_of(recipe=PLAIN, *, seed=9, removed=(), corrected=()):
    motion = describe_motion(simulate_walk(recipe, seed=seed).trial)
    found = detect_events(motion, removed=removed, corrected=corrected)
    return cut_cycles(motion, found)


def codes(cycles):
    return {reason.code for cycle in cycles for reason in cycle.reject_reasons}


@pytest.fixture(scope="module")
def walk():
    """Give a plain walk with its truth."""
    return simulate_walk(PLAIN, seed=9)


def test_cycles_are_those_of_the_truth(walk):
    """Count, start, toe-off, end, contact type and speed of each."""
    kept = [cycle for cycle in cycles_of() if cycle.is_kept]
    assert len(kept) == len(walk.truth.cycles)
    for cycle, truth in zip(kept, walk.truth.cycles, strict=True):
        assert (cycle.side, cycle.contact) == (truth.side, truth.contact)
        for key in ("start_s", "toe_off_s", "end_s"):
            assert getattr(cycle, key) == pytest.approx(getattr(truth, key), abs=0.025)
        assert cycle.speed_m_s == pytest.approx(truth.speed_m_s, rel=0.04)
        assert cycle.start_s < cycle.opposite_toe_off_s < cycle.opposite_contact_s < cycle.toe_off_s


def test_cycles_of_a_side_follow_one_another_and_are_named_apart():
    """No overlap, no gap between neighbours, ids unique."""
    cycles = cycles_of()
    for side in ("left", "right"):
        own = [cycle for cycle in cycles if cycle.side == side]
        assert all(a.end_s == b.start_s for a, b in zip(own, own[1:], strict=False))
    assert len({cycle.id for cycle in cycles}) == len(cycles)


def test_last_contact_of_each_foot_is_a_partial_cycle():
    """Kept in the list with its reason; no end, no curves."""
    partial = [cycle for cycle in cycles_of() if PARTIAL in codes([cycle])]
    assert {cycle.side for cycle in partial} == {"left", "right"} and len(partial) == 2
    assert all(np.isnan(cycle.end_s) and not cycle.percent_curves for cycle in partial)


def test_percent_curves_are_the_angles_at_0_to_100_percent():
    """101 points; ends are the angles at the contacts, the middle one at half time."""
    motion = describe_motion(simulate_walk(PLAIN, seed=9).trial)
    cycle = next(c for c in cut_cycles(motion, detect_events(motion)) if c.is_kept)
    values = motion.angles[cycle.side, "knee"].values
    frames = np.array([cycle.start_s, (cycle.start_s + cycle.end_s) / 2, cycle.end_s]) * 100
    curve = cycle.percent_curves["knee"]
    assert curve.shape == (N_PERCENT_POINTS,)
    expected = np.interp(frames, np.arange(len(values)), values)
    assert curve[[0, 50, 100]] == pytest.approx(expected, abs=1e-9)
    assert not {"left", "right"} & set(cycle.percent_curves)


def test_gap_in_heel_marker_rejects_the_cycle_and_only_it():
    """With the point that is missing named."""
    cycles = cycles_of(replace(PLAIN, gaps=(Gap("left heel", 1.7, 1.95),)))
    hit = [c for c in cycles if "long_gap" in codes([c])]
    assert [c.side for c in hit] == ["left"]
    assert hit[0].start_s < 1.7 and hit[0].end_s > 1.95
    (gap,) = [each for each in hit[0].reject_reasons if each.code == "long_gap"]
    assert "heel" in gap["names"]


def test_cycle_without_a_toe_off_is_rejected(walk):
    """And one with two as well."""
    first = next(c for c in cycles_of() if c.is_kept)
    off = Event(first.toe_off_s, first.side, "toe_off", "markers")
    (without,) = [c for c in cycles_of(removed=[off]) if c.id == first.id]
    assert "no_toe_off_inside" in codes([without]) and np.isnan(without.toe_off_s)
    second = replace(off, time_s=first.start_s + 0.2)
    (twice,) = [c for c in cycles_of(corrected=[second]) if c.id == first.id]
    assert Reason("toe_offs_inside", n=2) in twice.reject_reasons


def test_missing_contact_makes_no_long_cycle():
    """Two cycles in one are rejected, whatever their toe-offs."""
    third = [c for c in cycles_of(replace(PLAIN, n_strides=6)) if c.side == "left"][2]
    contact = Event(third.start_s, "left", "initial_contact", "markers")
    cycles = cycles_of(replace(PLAIN, n_strides=6), removed=[contact])
    long = [c for c in cycles if c.side == "left" and c.duration_s > 1.7 * third.duration_s]
    assert len(long) == 1 and not long[0].is_kept


def test_steps_in_the_turn_are_rejected_and_the_straight_ones_kept():
    """There and back: no kept cycle spans the turn."""
    recipe = replace(PLAIN, n_strides=10, turn_after_m=5.0)
    motion = describe_motion(simulate_walk(recipe, seed=9).trial)
    cycles = cut_cycles(motion, detect_events(motion))
    assert codes(cycles) & {"turning", "not_within_pass", "foot_turned"}
    kept = [cycle for cycle in cycles if cycle.is_kept]
    assert len(kept) >= 8
    for cycle in kept:
        frames = slice(round(cycle.start_s * 100), round(cycle.end_s * 100))
        assert len(np.unique(motion.axes.pass_number[frames])) == 1
        assert cycle.speed_m_s == pytest.approx(1.1, rel=0.1)


def test_steps_out_of_standing_are_rejected():
    """No kept cycle begins while the walker gets going; the others stay."""
    recipe = replace(PLAIN, n_strides=8, starts_inside=True, stops_inside=True)
    cycles = cycles_of(recipe)
    assert codes(cycles) & {"starting", "not_within_pass", "starting_or_stopping"}
    kept = [cycle for cycle in cycles if cycle.is_kept]
    assert len(kept) >= 12 and min(cycle.start_s for cycle in kept) > 1.5
    assert all(cycle.speed_m_s == pytest.approx(1.1, rel=0.1) for cycle in kept)


def test_disagreement_over_50_ms_marks_the_cycle_for_review_without_rejecting_it():
    """The difference stands in the reason."""
    plain = next(c for c in cycles_of() if c.is_kept)
    moved = Event(plain.toe_off_s + 0.06, plain.side, "toe_off", "corrected")
    (cycle,) = [c for c in cycles_of(corrected=[moved]) if c.id == plain.id]
    assert cycle.is_kept and [one["difference_ms"] for one in cycle.review_reasons] == [-60]
    assert cycle.sources == ("corrected", "markers")


def curve(cycle="1", side="left", joint="knee", points=51, **times):
    values = np.sin(np.linspace(0.0, 2 * np.pi, points))
    return AngleCurve(side=side, joint=joint, cycle=cycle, values_deg=values, **times)


def trial_of(*curves):
    return Trial(rate_hz=np.nan, n_frames=0, provenance=Provenance("s", "", "sheet"), curves=curves)


def test_curves_of_a_sheet_become_cycles_of_their_own():
    """Curves of one name belong together; 51 points are put on 101."""
    trial = trial_of(
        curve(cycle_time_s=1.2, toe_off_percent=60.0), curve(joint="ankle"), curve("2", "right")
    )
    first, second = cycles_of_curves(trial)
    assert set(first.percent_curves) == {"knee", "ankle"} and set(second.percent_curves) == {"knee"}
    assert (first.start_s, first.end_s) == (0.0, 1.2)
    assert first.toe_off_s == pytest.approx(0.72)
    assert first.percent_curves["knee"][[0, 25, 75]] == pytest.approx([0.0, 1.0, -1.0], abs=0.01)
    assert first.from_curve and first.label == "1" and first.is_kept


def test_curve_without_a_time_has_none():
    """No cycle time: NaN, so that no rate can be made of it."""
    (cycle,) = cycles_of_curves(trial_of(curve()))
    assert np.isnan([cycle.end_s, cycle.toe_off_s, cycle.duration_s]).all()
