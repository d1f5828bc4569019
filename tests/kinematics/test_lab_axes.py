"""Forward, left and up from the data: any axes, any direction, there and back, treadmills."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.errors import MissingSignalError
from gaittrack.kinematics import describe_motion
from gaittrack.kinematics.lab_axes import axis_vector, find_axes
from gaittrack.simulate.recipe import NO_SCATTER, WalkRecipe
from gaittrack.simulate.walk import simulate_walk, stand

PLAIN = WalkRecipe(speed_m_s=1.1, n_strides=3, scatter=NO_SCATTER)


def motion_of(recipe, **changes):
    return describe_motion(simulate_walk(replace(recipe, **changes), seed=2).trial)


@pytest.mark.parametrize("up_axis", ["Z", "Y"])
@pytest.mark.parametrize("direction", ["+", "-"])
@pytest.mark.parametrize("belt_m_s", [0.0, 1.1])
def test_points_are_the_same_in_any_laboratory(up_axis, direction, belt_m_s):
    """Forward, left and up of the same walk do not depend on axes, direction or belt."""
    reference = motion_of(PLAIN)
    motion = motion_of(PLAIN, up_axis=up_axis, direction=direction, belt_speed_m_s=belt_m_s)
    assert motion.axes.up_axis == f"+{up_axis}"
    for key in ("left_toe_point", "right_heel", "pelvis"):
        here, there = (m.points[key] - m.points["pelvis"][0] for m in (motion, reference))
        away = np.abs(here - there)[10:-10].max(axis=0)
        drift_m = 0.01 * belt_m_s * motion.n_frames / motion.rate_hz  # belt speed to 1 %
        assert (away < (0.015 + drift_m, 0.015, 0.005)).all()
    assert (motion.points["left_asis"] - motion.points["right_asis"])[:, 1].min() > 0.15


@pytest.mark.parametrize("speed_m_s", [0.2, 0.6, 1.1, 1.5])
def test_belt_speed_is_recovered_to_2_percent(speed_m_s):
    """From the feet that stand on it; forward then runs on as over ground."""
    axes = motion_of(PLAIN, speed_m_s=speed_m_s, belt_speed_m_s=speed_m_s).axes
    assert axes.is_treadmill and axes.belt_speed_m_s == pytest.approx(speed_m_s, rel=0.02)


@pytest.mark.parametrize("speed_m_s", [0.2, 1.1])
def test_walk_over_ground_has_no_belt(speed_m_s):
    """However slow."""
    axes = motion_of(PLAIN, speed_m_s=speed_m_s).axes
    assert not axes.is_treadmill and axes.belt_speed_m_s == 0.0


def test_there_and_back_are_two_passes_of_opposite_direction():
    """Forward is constant within a pass and turns with the walker; the turn belongs to neither."""
    axes = motion_of(PLAIN, n_strides=10, turn_after_m=5.0).axes
    first, second = (axes.forward[axes.pass_number == number] for number in (1, 2))
    assert np.allclose(first, first[0]) and np.allclose(second, second[0])
    assert first[0] @ second[0] < -0.99
    assert set(np.unique(axes.pass_number)) >= {1.0, 2.0}


def test_standing_has_no_pass_and_faces_where_the_feet_point():
    """A standing trial still has axes."""
    axes = describe_motion(stand(PLAIN, seed=1)).axes
    assert not axes.pass_number.any() and axes.forward[0] @ [1.0, 0.0, 0.0] > 0.95


def test_turned_laboratory_gives_the_same_angles():
    """Walking along a diagonal of the floor changes nothing."""
    trial = simulate_walk(PLAIN, seed=2).trial
    turn = np.array([[0.6, 0.8, 0.0], [-0.8, 0.6, 0.0], [0.0, 0.0, 1.0]])
    turned = replace(trial, markers={key: xyz @ turn for key, xyz in trial.markers.items()})
    one, other = describe_motion(trial), describe_motion(turned)
    for key, signal in one.angles.items():
        assert np.abs(other.angles[key].values - signal.values).max() < 0.05, key


@pytest.mark.parametrize("name", ["+X", "-Y", "+Z"])
def test_named_axis_is_a_unit_vector(name):
    """Sign and letter."""
    vector = axis_vector(name)
    assert vector["XYZ".index(name[1])] == (1.0 if name[0] == "+" else -1.0)
    assert np.abs(vector).sum() == 1.0


def test_without_anything_above_the_foot_up_cannot_be_told():
    """The error lists what was found and how to name the rest."""
    with pytest.raises(MissingSignalError, match=r"left_heel.*map file"):
        find_axes({"left_heel": np.zeros((50, 3))}, rate_hz=100.0)
