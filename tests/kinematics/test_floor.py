"""A tilt of the recorded volume moves no height over the floor and no angle between segments."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gaittrack.cycles import cut_cycles
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.measures import measure_cycles
from gaittrack.measures.trust import without_spoiled
from gaittrack.read import read_trial
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk, stand

ROOT = Path(__file__).parents[2]
RECIPE = WalkRecipe(speed_m_s=1.0, n_strides=4)
HEIGHTS = (
    "minimum_toe_clearance_mm",
    "minimum_forefoot_clearance_mm",
    "toe_height_under_hip_mm",
    "opposite_heel_rise_at_mid_swing_mm",
)
BETWEEN_SEGMENTS = ("loading_knee_flexion_peak_deg", "peak_hip_flexion_pelvis_thigh_deg")
LIMITS = dict.fromkeys(HEIGHTS, 1.0) | dict.fromkeys(BETWEEN_SEGMENTS, 0.2)
TO_THE_VERTICAL = (
    "mid_swing_dorsiflexion_deg",
    "peak_hip_flexion_thigh_vertical_deg",
    "shank_lean_at_mid_stance_deg",
)
CANCELLING = (
    *("loading_response_plantarflexion_rate_deg_s", "push_off_range_deg"),
    *("stance_ankle_range_deg", "foot_pitch_at_contact_deg", *BETWEEN_SEGMENTS),
)


def tilted(trial, degrees, about):
    """Turn a recording about an axis of its file, as a volume calibrated askew does."""
    axis = np.eye(3)["XYZ".index(about)]
    cross = np.cross(np.eye(3), axis)
    angle = np.radians(degrees)
    turn = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross
    return replace(trial, markers={key: xyz @ turn for key, xyz in trial.markers.items()})


def measured(trial, standing=None):
    motion = describe_motion(trial, standing=standing)
    cycles = cut_cycles(motion, detect_events(motion))
    rows = measure_cycles(motion, cycles)
    return motion, without_spoiled(rows, motion.problems, cycles, rate_hz=motion.rate_hz)


def values(rows, names):
    return {(r.cycle, r.measure): r.value for r in rows if r.measure in names}


def problems_of_floor(motion):
    return [problem for problem in motion.problems if problem.where == "floor"]


SIMULATED = {
    "one way": RECIPE,
    "there and back": replace(RECIPE, n_strides=10, turn_after_m=5.0),
    "belt": replace(RECIPE, belt_speed_m_s=1.0),
    "upward Y": replace(RECIPE, up_axis="Y"),
}
RECORDED = {
    "sample": ROOT / "sample_trials/P02/visit-1/without-brace/walk-1.c3d",
    "reference": ROOT / "tests/reference/walk_two_plates_100hz.c3d",
}


def trial_of(name):
    if name in RECORDED:
        return read_trial(RECORDED[name])
    return simulate_walk(SIMULATED[name], seed=5).trial


@pytest.fixture(scope="module", params=[*SIMULATED, *RECORDED])
def recorded(request):
    trial = trial_of(request.param)
    motion, rows = measured(trial)
    level_axes = [name for name in "XYZ" if name != motion.axes.up_axis[1]]
    return trial, level_axes, values(rows, LIMITS)


@pytest.mark.parametrize("degrees", [-5, -1.5, 0.5, 1, 3, 5])
@pytest.mark.parametrize("which", [0, 1])
def test_a_tilted_volume_moves_no_height_and_no_angle_between_segments(recorded, degrees, which):
    """Each stride keeps its heights within 1 mm, whatever level axis the volume is tilted about."""
    trial, level_axes, level = recorded
    _, rows = measured(tilted(trial, degrees, level_axes[which]))
    others = values(rows, LIMITS)
    assert level.keys() == others.keys() and len(level) >= 8
    for key, value in level.items():
        assert others[key] == pytest.approx(value, abs=LIMITS[key[1]], nan_ok=True), key


def test_a_stance_that_the_end_cuts_off_raises_no_floor():
    """At the edge of the volume the last one lies 10 mm high: heights of strides stay."""
    walk = simulate_walk(replace(RECIPE, n_strides=2), seed=5)
    *_, contact = (e.time_s for e in walk.truth.events if e.kind == "initial_contact")
    rate_hz, n_frames = walk.trial.rate_hz, int((contact + 0.2) * walk.trial.rate_hz)
    before_s = contact - np.arange(n_frames) / rate_hz
    raised = np.outer(np.interp(before_s, [0.0, 0.1], [0.01, 0.0]), [0.0, 0.0, 1.0])
    cut = {label: xyz[:n_frames] for label, xyz in walk.trial.markers.items()}
    edge = {label: xyz + raised for label, xyz in cut.items()}
    found = [
        values(measured(replace(walk.trial, n_frames=n_frames, markers=markers))[1], HEIGHTS[:2])
        for markers in (cut, edge)
    ]
    assert found[0].keys() == found[1].keys() and len(found[0]) >= 6
    for key, value in found[0].items():
        assert found[1][key] == pytest.approx(value, abs=0.5, nan_ok=True), key


@pytest.fixture(scope="module")
def tilted_walk():
    return tilted(simulate_walk(RECIPE, seed=5).trial, 3.0, "Y")


def test_angles_to_the_vertical_are_not_trusted_past_one_degree(tilted_walk):
    """A tilt and a ramp look alike: ankle, thigh and shank say so; what cancels stays."""
    motion, rows = measured(tilted_walk)
    assert [p.reason.code for p in problems_of_floor(motion)] == ["tilt_or_ramp"]
    for row in rows:
        if row.measure in TO_THE_VERTICAL:
            assert row.reason is not None and row.reason.code == "not_trusted", row
        if row.measure in CANCELLING:
            assert row.reason is None, row


def test_a_slope_below_one_degree_is_told_and_trusted():
    """It is taken for a tilt."""
    motion, rows = measured(tilted(simulate_walk(RECIPE, seed=5).trial, 0.7, "Y"))
    assert [(p.level, p.spoils) for p in problems_of_floor(motion)] == [("info", ())]
    assert np.isfinite(list(values(rows, TO_THE_VERTICAL).values())).all()


@pytest.fixture(scope="module")
def level_standing():
    return stand(RECIPE, seed=5)


def test_standing_in_the_tilted_volume_tells_the_tilt(tilted_walk, level_standing):
    """The feet slope there as in the walk: angles are those of the level walk, and trusted."""
    level = values(measured(simulate_walk(RECIPE, seed=5).trial, level_standing)[1], CANCELLING)
    motion, rows = measured(tilted_walk, tilted(level_standing, 3.0, "Y"))
    assert [p.reason.code for p in problems_of_floor(motion)] == ["floor_is_tilted"]
    assert np.isfinite(list(values(rows, TO_THE_VERTICAL).values())).all()
    for key, value in values(rows, CANCELLING).items():
        assert value == pytest.approx(level[key], abs=1.0), key


def test_standing_beside_a_ramp_does_not(tilted_walk, level_standing):
    """The feet slope otherwise there: the zero is that of level standing, the ramp stays open."""
    motion, _ = measured(tilted_walk, level_standing)
    assert [p.reason.code for p in problems_of_floor(motion)] == ["tilt_or_ramp"]
    assert motion.neutral["left"].source == "standing trial"
    assert not [p for p in motion.problems if p.reason.code == "other_zero"]


def test_a_rise_across_is_told_and_spoils_the_pelvis_against_the_floor():
    """Both markers of both feet show it; what is across the way is not trusted."""
    motion, rows = measured(tilted(simulate_walk(RECIPE, seed=5).trial, 5.0, "X"))
    assert [p.reason.code for p in problems_of_floor(motion)] == ["floor_rises_across"]
    hike = [row.reason for row in rows if row.measure == "peak_pelvic_hike_deg"]
    assert hike and all(reason.code == "not_trusted" for reason in hike)
    assert np.isfinite(list(values(rows, TO_THE_VERTICAL).values())).all()


@pytest.mark.parametrize(
    "recipe",
    [
        replace(RECIPE, belt_speed_m_s=1.0),
        replace(RECIPE, n_strides=1),
        replace(RECIPE, marker_noise_m=0.002),
        replace(RECIPE, floor_tilt=0.002),
    ],
)
def test_a_level_floor_is_left_alone(recipe):
    """On a treadmill, from few stances, with scattered markers, over a slight tilt."""
    motion, _ = measured(simulate_walk(recipe, seed=5).trial)
    assert not problems_of_floor(motion)
