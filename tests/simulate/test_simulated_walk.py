"""Geometry and timing of made-up walks: what is planned is what the markers show."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.simulate.foot_path import ARC_M, BALL_M, FootPath
from gaittrack.simulate.leg import BodyPath
from gaittrack.simulate.recipe import (
    NO_SCATTER,
    FootRecipe,
    Gap,
    WalkRecipe,
    healthy_foot,
    step_length_m,
    step_time_s,
)
from gaittrack.simulate.schedule import plan_steps
from gaittrack.simulate.walk import simulate_walk, stand
from gaittrack.vocabulary import SIDES
from tests.golden.event_walks import LIMP

QUIET = {"scatter": NO_SCATTER, "marker_noise_m": 0.0}
HANGING = replace(LIMP, reach_hold_s=0.2)


def frames_after(walk, side, kind, *, seconds=0.0):
    return [
        round((event.time_s + seconds) * walk.trial.rate_hz)
        for event in walk.truth.events
        if (event.side, event.kind) == (side, kind)
    ]


def pose_of(recipe, *, seed=1):
    schedule = plan_steps(recipe, np.random.default_rng(seed))
    time_s = np.arange(schedule.start_s, schedule.end_s, 0.002)
    return BodyPath(recipe, schedule).at(time_s)


def lengths(trial, one, other):
    return np.linalg.norm(trial.markers[one] - trial.markers[other], axis=1)


@pytest.mark.parametrize("rate_hz", [60.0, 100.0, 200.0])
@pytest.mark.parametrize(
    ("speed_m_s", "feet"),
    [(0.2, "healthy"), (0.8, "healthy"), (1.6, "healthy"), (0.2, "limp left"), (0.4, "limp left")],
)
def test_segments_keep_their_lengths_and_the_walker_its_speed(speed_m_s, rate_hz, feet):
    """At all corners: rigid segments, finite markers, speed and step count as ordered."""
    left = HANGING if feet == "limp left" else None
    walk = simulate_walk(
        WalkRecipe(speed_m_s=speed_m_s, rate_hz=rate_hz, n_strides=2, left=left, **QUIET), seed=1
    )
    pose = pose_of(walk.recipe)
    for side in SIDES:
        assert np.ptp(lengths(walk.trial, f"{side} heel", f"{side} toe")) < 1e-9
        for upper, lower, length_m in (("hip", "knee", 0.43), ("knee", "ankle", 0.42)):
            apart = getattr(pose, upper)[side] - getattr(pose, lower)[side]
            assert np.allclose(np.linalg.norm(apart, axis=1), length_m)
        assert len(walk.truth.of(side)) == 2
        for cycle in walk.truth.of(side):
            assert cycle.speed_m_s == pytest.approx(speed_m_s, rel=1e-6)
            assert cycle.start_s < cycle.toe_off_s < cycle.end_s
    knee = walk.truth.angles_deg["left", "knee"]
    assert knee.min() > 1.0 and knee.max() < 90.0
    travel = walk.trial.markers["left asis"][:, 0]
    seconds = walk.trial.duration_s
    assert (travel[-1] - travel[0]) / seconds == pytest.approx(speed_m_s, rel=0.06)


@pytest.mark.parametrize(
    ("speed_m_s", "foot"),
    [
        (0.2, None),
        (0.3, None),
        (0.8, None),
        (1.3, None),
        (1.6, None),
        (0.2, HANGING),
        (0.4, HANGING),
    ],
)
def test_sole_never_goes_below_the_floor(speed_m_s, foot):
    """Heel edge and ball of the sole stay above the floor, at rest on it in stance."""
    pose = pose_of(WalkRecipe(speed_m_s=speed_m_s, left=foot), seed=5)
    for side in SIDES:
        sole = pose.feet[side].sole_height(scale=1.0)
        in_stance = np.isnan(pose.feet[side].swing)
        assert np.abs(sole[in_stance]).max() < 1e-9
        assert sole.min() > -0.0005


def test_heel_edge_is_fixed_during_the_heel_rocker_and_the_arc_rolls_without_sliding():
    """Ball and heel edge: no slip, from the shoe's geometry alone."""
    schedule = plan_steps(WalkRecipe(scatter=NO_SCATTER), np.random.default_rng(0))
    steps = schedule.of("left")
    step = steps[2]
    path = FootPath(steps, scale=1.0)
    rocker = path.at(np.linspace(step.contact_s, step.contact_s + step.foot.lowering_time_s, 50))
    heel_x, heel_z = rocker.point(0.0, 0.0, scale=1.0)
    assert np.allclose(heel_x, step.heel_m) and np.allclose(heel_z, 0.0)
    rising = path.at(np.linspace(step.toe_off_s - 0.2, step.toe_off_s, 50))
    rolled = rising.arc_x_m - (step.heel_m + BALL_M)
    assert np.allclose(rolled, -ARC_M * rising.pitch_rad)
    assert np.degrees(rising.pitch_rad[-1]) == pytest.approx(step.foot.toe_off_pitch_deg)


@pytest.mark.parametrize("speed_m_s", [0.8, 1.3, 1.6])
def test_heel_stops_abruptly_at_contact(speed_m_s):
    """The heel marker's strongest upward acceleration near contact is at the contact frame."""
    walk = simulate_walk(WalkRecipe(speed_m_s=speed_m_s, rate_hz=200.0, **QUIET), seed=1)
    height = walk.trial.markers["left heel"][:, 2]
    acceleration = np.gradient(np.gradient(height))
    for frame in frames_after(walk, "left", "initial_contact"):
        near = slice(frame - 12, frame + 13)
        assert abs(np.argmax(acceleration[near]) - 12) <= 1


def test_greatest_reach_comes_before_contact_and_much_before_with_a_limp_foot():
    """Heel ahead of the pelvis is greatest 20–80 ms early in health, > 150 ms in a limp foot."""
    for foot, least_s, most_s in ((healthy_foot(1.3), 0.02, 0.08), (HANGING, 0.15, 0.4)):
        speed = 1.3 if foot is not HANGING else 0.3
        walk = simulate_walk(WalkRecipe(speed_m_s=speed, left=foot, rate_hz=200.0, **QUIET), seed=1)
        reach = (walk.trial.markers["left heel"] - walk.trial.markers["left psis"])[:, 0]
        for frame in frames_after(walk, "left", "initial_contact")[1:]:
            early = 120 - int(np.argmax(reach[frame - 120 : frame + 1]))
            assert least_s <= early / 200.0 <= most_s


def test_forefoot_is_furthest_behind_the_pelvis_about_toe_off():
    """The forefoot marker's minimum relative to the pelvis is within 40 ms of toe-off."""
    walk = simulate_walk(WalkRecipe(speed_m_s=1.3, rate_hz=200.0, **QUIET), seed=1)
    behind = (walk.trial.markers["left toe"] - walk.trial.markers["left psis"])[:, 0]
    for frame in frames_after(walk, "left", "toe_off"):
        assert abs(int(np.argmin(behind[frame - 30 : frame + 31])) - 30) <= 8


def test_angles_recomputed_from_markers_are_the_truth():
    """Sagittal angles by plane geometry on the markers equal the truth, dorsiflexion positive."""
    walk = simulate_walk(WalkRecipe(**QUIET), seed=2)
    for side in SIDES:
        xyz = {
            name: walk.trial.markers[f"{side} {name}"]
            for name in ("hip", "knee", "ankle", "heel", "toe")
        }
        shank = np.degrees(np.arctan2(*(xyz["knee"] - xyz["ankle"])[:, [0, 2]].T))
        thigh = np.degrees(np.arctan2(*(xyz["hip"] - xyz["knee"])[:, [0, 2]].T))
        foot = xyz["toe"] - xyz["heel"]
        pitch = np.degrees(np.arctan2(foot[:, 2], foot[:, 0]) - np.arctan2(0.005, 0.221))
        angles = walk.truth.angles_deg
        assert np.allclose(angles[side, "ankle"], shank + pitch, atol=0.02)
        assert np.allclose(angles[side, "knee"], shank - thigh, atol=1e-6)
        assert np.allclose(angles[side, "hip_thigh_vertical"], -thigh, atol=1e-6)


def test_unimpaired_walk_is_within_the_published_phase_table():
    """Rancho phase angles (20 hip, 0–5 knee, 0 ankle at contact; swing knee 60) within 6–8.5°."""
    walk = simulate_walk(WalkRecipe(speed_m_s=1.37, rate_hz=200.0, **QUIET), seed=1)
    cycle = walk.truth.of("left")[0]
    span = slice(round(cycle.start_s * 200), round(cycle.end_s * 200))
    angles = {joint: walk.truth.angles_deg["left", joint][span] for joint in ("ankle", "knee")}
    hip = walk.truth.angles_deg["left", "hip_thigh_vertical"][span]
    assert hip[0] == pytest.approx(20, abs=6) and hip.min() == pytest.approx(-20, abs=6)
    assert angles["knee"][0] == pytest.approx(2.5, abs=8.5)
    assert angles["knee"].max() == pytest.approx(65, abs=6)
    assert cycle.middle_swing_dorsiflexion_deg == pytest.approx(0, abs=6)


def test_loading_rate_of_a_raised_cosine():
    """The foot's lowering by A° in T s has the analytic peak rate pi/2 · A/T."""
    foot = FootRecipe(contact_pitch_deg=12.0, lowering_time_s=0.07)
    walk = simulate_walk(WalkRecipe(left=foot, rate_hz=1000.0, **QUIET), seed=1)
    start = round(walk.truth.of("left")[0].start_s * 1000)
    pitch = walk.truth.angles_deg["left", "foot_pitch"][start + 1 : start + 70]
    assert -np.diff(pitch).min() * 1000 == pytest.approx(np.pi / 2 * 12 / 0.07, rel=0.01)


def test_clearance_is_what_was_ordered():
    """Forefoot clearance within 3 mm of the recipe; none where no minimum was ordered."""
    for ordered in (0.01, 0.03):
        foot = FootRecipe(clearance_m=ordered)
        cycle = simulate_walk(WalkRecipe(left=foot, **QUIET), seed=1).truth.of("left")[0]
        assert cycle.forefoot_clearance_m == pytest.approx(ordered, abs=0.003)
    for speed in (0.2, 0.4):
        walk = simulate_walk(WalkRecipe(speed_m_s=speed, left=HANGING, **QUIET), seed=1)
        assert all(np.isnan(cycle.toe_clearance_m) for cycle in walk.truth.of("left"))


@pytest.mark.parametrize(("pitch", "kind"), [(18.0, "heel"), (0.0, "flat"), (-9.0, "forefoot")])
def test_contact_type_follows_the_pitch(pitch, kind):
    """Heel, flat and forefoot contact are told in events and cycles."""
    foot = FootRecipe(contact_pitch_deg=pitch)
    truth = simulate_walk(WalkRecipe(right=foot, **QUIET), seed=1).truth
    contacts = {e.contact for e in truth.events if (e.side, e.kind[0]) == ("right", "i")}
    assert contacts == {kind} == {cycle.contact for cycle in truth.of("right")}
    assert np.isnan(truth.of("right")[0].loading_plantarflexion_deg) == (kind != "heel")


def test_lower_swinging_foot_needs_more_hip_flexion():
    """Steppage: with the same clearance a hanging foot flexes hip and knee more."""
    held, hanging = (
        simulate_walk(WalkRecipe(left=FootRecipe(swing_pitch_deg=p), **QUIET), seed=1)
        for p in (-15.0, -32.0)
    )
    difference = (
        hanging.truth.of("left")[0].peak_hip_flexion_thigh_vertical_deg
        - held.truth.of("left")[0].peak_hip_flexion_thigh_vertical_deg
    )
    assert difference > 3.0


def test_same_seed_same_walk_other_seed_other_walk():
    """A walk is fixed by its recipe and seed."""
    one, same, other = (simulate_walk(WalkRecipe(), seed=seed) for seed in (3, 3, 4))
    label = "left toe"
    assert np.array_equal(one.trial.markers[label], same.trial.markers[label])
    assert one.truth.events == same.truth.events != other.truth.events


def test_axes_direction_and_belt():
    """Upward axis, direction and belt change the file's axes and nothing of the truth."""
    plain = simulate_walk(WalkRecipe(**QUIET), seed=1)
    turned = simulate_walk(WalkRecipe(up_axis="Y", direction="-", **QUIET), seed=1)
    x, y, z = plain.trial.markers["left heel"].T
    assert np.allclose(turned.trial.markers["left heel"], np.column_stack((-x, z, y)))
    belt = simulate_walk(WalkRecipe(belt_speed_m_s=1.2, **QUIET), seed=1)
    pelvis = belt.trial.markers["left asis"][:, 0]
    assert np.ptp(pelvis) < 0.2
    assert turned.truth.events == plain.truth.events == belt.truth.events


def test_left_is_left_of_the_way_in_every_direction():
    """(left hip − right hip) points to the left of forward × up, both directions, Y-up and Z-up."""
    for up_axis, up in (("Z", (0, 0, 1)), ("Y", (0, 1, 0))):
        for direction in ("+", "-"):
            trial = simulate_walk(WalkRecipe(up_axis=up_axis, direction=direction), seed=1).trial
            way = trial.markers["left asis"][-1] - trial.markers["left asis"][0]
            across = trial.markers["left hip"][0] - trial.markers["right hip"][0]
            assert np.cross(up, way) @ across > 0


def test_start_and_stop_in_view_stand_still():
    """A walk that starts and stops in view stands still at both ends, feet side by side."""
    walk = simulate_walk(WalkRecipe(starts_inside=True, stops_inside=True, **QUIET), seed=1)
    for side in SIDES:
        heel = walk.trial.markers[f"{side} heel"][:, 0]
        assert np.ptp(heel[:20]) < 1e-6 and np.ptp(heel[-20:]) < 1e-6
    ends = [walk.trial.markers[f"{side} heel"][-1, 0] for side in SIDES]
    assert ends[0] == pytest.approx(ends[1], abs=1e-9)


def test_turn_comes_back():
    """After the turn the walker goes the other way."""
    walk = simulate_walk(WalkRecipe(n_strides=6, turn_after_m=2.5, **QUIET), seed=1)
    speed = np.gradient(walk.trial.markers["left asis"][:, 0]) * 100
    assert speed[:50].mean() > 0.8 and speed[-50:].mean() < -0.8


def test_floor_tilt_raises_the_stance_heights():
    """10 mm in 10 m: the heel's lowest height grows by 1 mm per metre."""
    walk = simulate_walk(WalkRecipe(floor_tilt=0.001, n_strides=5, **QUIET), seed=1)
    flat = simulate_walk(WalkRecipe(n_strides=5, **QUIET), seed=1)
    rise = walk.trial.markers["left heel"][:, 2] - flat.trial.markers["left heel"][:, 2]
    assert np.allclose(rise, 0.001 * flat.trial.markers["left heel"][:, 0])


def test_gaps_view_and_left_out_markers():
    """Ordered gaps are NaN, markers outside the view too; others are untouched."""
    recipe = WalkRecipe(
        gaps=(Gap("left toe", 1.0, 1.2),), left_out=("right toe",), view_m=(1.0, 4.0)
    )
    trial = simulate_walk(recipe, seed=1).trial
    toe = np.isnan(trial.markers["left toe"][:, 0])
    assert toe[101:119].all() and not toe[125]
    assert "right toe" not in trial.markers
    seen = trial.markers["left asis"][:, 0]
    assert np.nanmin(seen) > 0.99 and np.nanmax(seen) < 4.01 and np.isnan(seen).any()


def test_force_is_above_20_newtons_exactly_between_contact_and_toe_off():
    """Threshold crossings of each plate equal a contact and toe-off to one force sample."""
    for recipe in (WalkRecipe(with_plates=True), WalkRecipe(speed_m_s=0.3, with_plates=True)):
        walk = simulate_walk(recipe, seed=1)
        assert len(walk.trial.plates) == 2
        for plate in walk.trial.plates:
            loaded = np.flatnonzero(plate.force_n[:, 2] > 20.0)
            assert np.array_equal(loaded, np.arange(loaded[0], loaded[-1] + 1))
            for kind, sample in (("initial_contact", loaded[0]), ("toe_off", loaded[-1])):
                errors = [
                    abs(e.time_s - sample / plate.rate_hz)
                    for e in walk.truth.events
                    if e.kind == kind
                ]
                assert min(errors) <= 1.01 / plate.rate_hz
            centre = plate.centre_of_pressure_m[loaded, :2]
            low, high = plate.corners_m[:, :2].min(axis=0), plate.corners_m[:, :2].max(axis=0)
            assert ((centre > low + 0.01) & (centre < high - 0.01)).all()


def test_standing_trial_stands_nearly_straight():
    """A standing trial has no movement but noise, and knees within 10° of straight."""
    trial = stand(WalkRecipe(marker_noise_m=0.0), seed=1)
    for side in SIDES:
        hip, knee, ankle = (trial.markers[f"{side} {n}"][0] for n in ("hip", "knee", "ankle"))
        thigh, shank = np.arctan2(*(hip - knee)[[0, 2]]), np.arctan2(*(knee - ankle)[[0, 2]])
        assert abs(np.degrees(shank - thigh)) < 10
        assert np.ptp(trial.markers[f"{side} heel"], axis=0).max() == 0.0


def test_speed_is_step_length_over_step_time():
    """Worked example: walk ratio 0.0064 at 1.2 m/s gives 106.1 steps/min and 0.679 m."""
    recipe = WalkRecipe(speed_m_s=1.2)
    assert 60 / step_time_s(recipe) == pytest.approx(106.07, abs=0.01)
    assert step_length_m(recipe) == pytest.approx(0.6788, abs=0.0001)


def test_running_speed_is_refused():
    """The message names the range and the value."""
    with pytest.raises(ValueError, match=r"0\.15–1\.8 m/s, got 3\.0"):
        simulate_walk(WalkRecipe(speed_m_s=3.0), seed=1)


def test_recipe_that_overstretches_the_leg_is_refused():
    """A foot hanging still for 0.2 s at 1.6 m/s is out of reach; the message says what to do."""
    with pytest.raises(ValueError, match="cannot be walked.*shorten reach_hold_s"):
        simulate_walk(WalkRecipe(speed_m_s=1.6, left=HANGING), seed=1)
