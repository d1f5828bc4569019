"""Names of sides and of the ends of a foot that are wrong: no number must come out as if right."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gaittrack.cycles import HIP_EXTENDED, cut_cycles
from gaittrack.events import detect_events
from gaittrack.events.detect import CONTESTED
from gaittrack.kinematics import describe_motion
from gaittrack.kinematics.loose_markers import TURNED_FOOT
from gaittrack.measures import measure_cycles
from gaittrack.pipeline import measure_file, measure_files
from gaittrack.reasons import Reason
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Signal
from gaittrack.vocabulary import opposite

SAMPLES = Path(__file__).parents[1] / "sample_trials"
FROM_THE_FOOT = (
    *("swing_dorsiflexion_deg", "toe_clearance_mm", "plantarflexion_rate_deg_s"),
    *("step_length_m", "heel_rise_time_percent", "foot_pitch_at_contact_deg"),
)
# Hip (thigh to vertical) at the middle of each phase, per cent and degrees, as printed on a
# teaching poster of the eight phases (Rancho terms).
POSTER_HIP = ((0, 20), (6, 20), (21.5, 0), (40.5, -20), (56, -10), (68.5, 15), (81, 25), (93.5, 20))


@pytest.fixture(scope="module")
def walk():
    return simulate_walk(WalkRecipe(n_strides=5), seed=6)


def marks(walk, *, exchanged=False):
    """Return the true events as marks of the file."""
    return tuple(
        replace(event, source="file", side=opposite(event.side) if exchanged else event.side)
        for event in walk.truth.events
    )


def cycles_of(trial):
    motion = describe_motion(trial)
    return motion, cut_cycles(motion, detect_events(motion))


def codes(cycle):
    return {reason.code for reason in cycle.reject_reasons}


def with_turned_left_foot(walk, **changes):
    markers = dict(walk.trial.markers)
    markers["left heel"], markers["left toe"] = markers["left toe"], markers["left heel"]
    return replace(walk.trial, markers=markers, **changes)


def angles_only(walk, **changes):
    angles = {key: Signal(v, "deg", key[1]) for key, v in walk.truth.angles_deg.items()}
    return replace(walk.trial, markers={}, plates=(), angles=angles, **changes)


def test_no_cycle_is_cut_from_the_markers_of_a_turned_foot(walk):
    """Its steps are rejected with the reason; the other foot keeps its values."""
    motion, cycles = cycles_of(with_turned_left_foot(walk))
    assert motion.turned_feet == ("left",)
    left = [cycle for cycle in cycles if cycle.side == "left"]
    assert left and all(codes(cycle) == {"from_turned_foot"} for cycle in left[:-1])
    assert not any(cycle.is_kept for cycle in left)
    right = [cycle for cycle in cycles if cycle.side == "right" and cycle.is_kept]
    assert right and all(np.isnan(cycle.opposite_contact_s) for cycle in right)
    known = {(r.cycle, r.measure): r for r in measure_cycles(*cycles_of(walk.trial))}
    for row in measure_cycles(motion, right):
        if row.measure in ("peak_swing_dorsiflexion_deg", "minimum_toe_clearance_mm"):
            value = known[row.cycle, row.measure].value
            assert row.value == pytest.approx(value, abs=0.05)


def test_values_of_a_turned_foot_are_not_defined_when_the_file_marks_its_steps(walk):
    """Knee and hip do not need the foot; what does says why it is not defined."""
    motion, cycles = cycles_of(with_turned_left_foot(walk, events=marks(walk)))
    rows = [row for row in measure_cycles(motion, cycles) if row.side == "left"]
    from_foot = [row for row in rows if row.measure.endswith(FROM_THE_FOOT)]
    assert from_foot and all(row.reason["why"] == Reason(TURNED_FOOT) for row in from_foot)
    assert any(row.measure.startswith("peak_swing_knee") and not row.reason for row in rows)


def test_cycles_cut_with_exchanged_marks_are_rejected(walk):
    """Marks that the markers give to the other foot cut no cycle; the right marks do."""
    _, wrong = cycles_of(replace(walk.trial, events=marks(walk, exchanged=True)))
    assert wrong and not any(cycle.is_kept for cycle in wrong)
    assert sum(CONTESTED in cycle.reject_reasons for cycle in wrong) >= len(wrong) - 2
    _, right = cycles_of(replace(walk.trial, events=marks(walk)))
    assert any(cycle.is_kept for cycle in right)
    assert not any(CONTESTED in cycle.reject_reasons for cycle in right)


def test_a_person_who_corrects_the_events_is_believed(walk):
    """Corrections stand above what the markers say."""
    motion = describe_motion(walk.trial)
    exchanged = marks(walk, exchanged=True)
    found = detect_events(motion, corrected=exchanged)
    assert not found.doubted


RECIPES = {
    "healthy": WalkRecipe(n_strides=5),
    "slow": WalkRecipe(n_strides=5, speed_m_s=0.4),
    "fast": WalkRecipe(n_strides=5, speed_m_s=1.5),
}


@pytest.mark.parametrize("recipe", RECIPES.values(), ids=RECIPES)
def test_angles_alone_show_that_sides_of_events_are_exchanged(recipe):
    """A hip that is extended at contact rejects the cycle, at any speed; the right sides do not."""
    walk = simulate_walk(recipe, seed=3)
    for exchanged in (True, False):
        _, cycles = cycles_of(angles_only(walk, events=marks(walk, exchanged=exchanged)))
        whole = [cycle for cycle in cycles if not np.isnan(cycle.end_s)]
        assert whole and all((HIP_EXTENDED in codes(c)) == exchanged for c in whole)


def test_hip_of_the_phase_table_is_flexed_at_contact_and_extended_half_a_cycle_later(walk):
    """The poster's hip as contact's own passes; taken for the other foot's it is rejected."""
    trial = angles_only(walk, events=marks(walk))
    percent, degrees = zip(*POSTER_HIP, strict=True)
    contacts = [e.time_s for e in trial.events if (e.side, e.kind) == ("left", "initial_contact")]
    times = np.arange(trial.n_frames) / trial.rate_hz
    phase = 100 * np.interp(times, contacts, np.arange(len(contacts)))
    for shift, is_rejected in ((0, False), (50, True)):
        hip = np.interp(phase + shift, percent, degrees, period=100)
        angles = {("left", "hip_thigh_vertical"): Signal(hip, "deg", "hip")}
        _, cycles = cycles_of(replace(trial, angles=angles))
        left = [c for c in cycles if c.side == "left" and not np.isnan(c.end_s)]
        assert left and all((HIP_EXTENDED in codes(c)) == is_rejected for c in left)


def test_no_sheet_of_the_made_up_people_is_doubted():
    """Right sheets, and the recorded ones of the sample walks, never meet these reasons."""
    paths = [p for p in SAMPLES.rglob("*") if p.suffix in (".csv", ".xlsx")]
    cycles = [c for r in measure_files(paths) for c in getattr(r, "cycles", ())]
    assert {cycle.from_curve for cycle in cycles} == {True, False}
    assert not any(HIP_EXTENDED in codes(cycle) for cycle in cycles)


@pytest.mark.parametrize(("shift", "is_kept"), [(0, True), (50, False)])
def test_curves_that_begin_at_the_other_foots_contact_are_rejected(tmp_path, shift, is_kept):
    """0 % is contact: where the poster's hip is extended there, nothing is measured."""
    percent = np.arange(101)
    hip = np.interp(percent + shift, *zip(*POSTER_HIP, strict=True), period=100)
    rows = ["%,left hip (vertical),left ankle"]
    rows += [f"{at},{degrees:.2f},{at % 7}" for at, degrees in zip(percent, hip, strict=True)]
    sheet = tmp_path / "curves.csv"
    sheet.write_text("\n".join(rows))
    (cycle,) = measure_file(sheet).cycles
    assert cycle.is_kept == is_kept
