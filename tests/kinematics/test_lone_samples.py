"""A sample that no movement explains is named; movement, noise and kicks are not."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.kinematics.lone_samples import lone_sample_problems
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import AngleCurve, ForcePlate, Signal, Trial
from tests.faults.good_recordings import RECORDED, REFERENCE, SAMPLES, random_recipes, read
from tests.golden.make_fault_battery import SEED
from tests.read.made_up_sheets import curve, walk


@pytest.fixture(scope="module")
def recorded():
    """Give a recording of a laboratory, at 100 Hz with two plates."""
    return read(RECORDED[0])


def with_marker(trial, change):
    seen = {name: ~np.isnan(xyz).any(axis=1) for name, xyz in trial.markers.items()}
    label = max(seen, key=lambda name: seen[name].sum() if seen[name][150:250].all() else 0)
    xyz = trial.markers[label].copy()
    change(xyz)
    return replace(trial, markers={**trial.markers, label: xyz}), label


def test_a_sample_off_by_3_mm_is_named(recorded):
    """Its label, where and how far; nothing of all the others."""
    trial, label = with_marker(recorded, lambda xyz: xyz[200].__iadd__((0.0, 0.003, 0.0)))
    (problem,) = lone_sample_problems(trial, ())
    assert problem.where == label and problem.level == "warning"
    assert problem.reason.code == "lone_samples" and problem.reason["from_s"] == 2.0
    assert problem.reason["by"] == pytest.approx(3.0, abs=0.4) and "mm" in problem.what


@pytest.mark.parametrize(
    "change",
    [
        lambda xyz: None,
        lambda xyz: xyz[200].__iadd__(np.nan),
        lambda xyz: xyz[200:].__iadd__(0.02 * np.arange(len(xyz) - 200)[:, None]),
        lambda xyz: xyz[200:].__iadd__((0.05, 0.0, 0.0)),
    ],
    ids=["as recorded", "a gap", "a kick", "a step"],
)
def test_movement_is_no_lone_sample(recorded, change):
    """What jumps or is not seen is told elsewhere, or is right."""
    assert lone_sample_problems(with_marker(recorded, change)[0], ()) == []


@pytest.mark.parametrize("seen", ["snapping knee", "ending at a strike", "every second frame"])
def test_a_fast_movement_is_no_lone_sample(seen):
    """A knee that snaps straight at 60 Hz, the same in the last frames, feet at half the rate."""
    if seen == "every second frame":
        trial = read(REFERENCE / "walk_from_standing_150hz.trc")
        halved = {name: xyz[::2] for name, xyz in trial.markers.items()}
        n_frames = len(next(iter(halved.values())))
        trial = Trial(trial.rate_hz / 2, n_frames, trial.provenance, markers=halved)
    else:
        seed = 22 if seen == "snapping knee" else 23
        trial = simulate_walk(random_recipes(seed + 1, SEED)[seed], seed=seed).trial
    assert lone_sample_problems(trial, ()) == []


@pytest.mark.parametrize("decimals", [2, 3])
def test_rounding_is_no_lone_sample(decimals):
    """Places that a file writes to the centimetre or the millimetre stand in steps."""
    trial = read(SAMPLES / "P02" / "visit-1" / "without-brace" / "walk-1.c3d")
    rounded = {name: xyz.round(decimals) for name, xyz in trial.markers.items()}
    assert lone_sample_problems(replace(trial, markers=rounded), ()) == []


def test_what_no_marker_does_is_named_though_nothing_is_taken_from_it(recorded):
    """Thrown across the room and not back: whoever wears it."""
    trial, label = with_marker(recorded, lambda xyz: xyz[200:].__iadd__((1.5, 0.0, 0.0)))
    assert [problem.where for problem in lone_sample_problems(trial, ())] == [label]


def test_angles_curves_and_plates_are_held_against_their_neighbours(recorded):
    """Each in its own unit; as they are there is nothing to say."""
    knee, force = walk("knee", recorded.n_frames), recorded.plates[0].force_n.copy()
    signals = {("left", "knee"): Signal(knee, "deg", "")}
    curves = (AngleCurve("right", "hip", "1", curve("hip")),)
    trial = replace(recorded, angles=signals, curves=curves)
    assert lone_sample_problems(trial, ()) == []
    knee[50] += 30.0
    values, plate = curve("hip"), recorded.plates[0]
    values[40] -= 30.0
    force[1000, 2] += 500.0
    wrong = replace(
        trial,
        angles={("left", "knee"): Signal(knee, "deg", "")},
        curves=(replace(curves[0], values_deg=values),),
        plates=(
            ForcePlate(force, plate.centre_of_pressure_m, plate.corners_m, plate.rate_hz, "plate"),
        ),
    )
    found = {each.where: each.reason for each in lone_sample_problems(wrong, ())}
    assert set(found) == {"left knee", "right hip 1", "plate"}
    assert found["right hip 1"].code == "lone_points" and found["right hip 1"]["first"] == 40
    assert found["plate"]["unit"] == "N" and found["left knee"]["by"] == pytest.approx(30, abs=2)


@pytest.mark.parametrize("frame", [0, 1, 200, 201, 186, 185, -1, -2])
def test_a_sample_at_an_end_or_beside_a_gap_is_held_against_the_side_that_is_seen(frame):
    """Eighteen millimetres are named there too, where a marker has noise of 0.4 mm."""
    trial = read(SAMPLES / "P02" / "visit-1" / "without-brace" / "walk-1.c3d")
    xyz = trial.markers["left psis"].copy()
    xyz[187:200] = np.nan
    assert lone_sample_problems(replace(trial, markers={"psis": xyz}), ()) == []
    xyz[frame] += (0.0, 0.018, 0.0)
    (problem,) = lone_sample_problems(replace(trial, markers={"psis": xyz}), ())
    assert problem.where == "psis" and problem.reason["n"] == 1
