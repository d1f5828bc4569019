"""Landmarks guessed from where markers lie: right on both sides, or nothing."""

import numpy as np
import pytest

from gaittrack.kinematics.by_place import by_place
from gaittrack.kinematics.landmarks import find_landmarks
from gaittrack.lab_map import LabMap
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk

TURNS = {
    "as made": np.eye(3),
    "other way, up second": np.array([[-1.0, 0, 0], [0, 0, 1], [0, 1, 0]]),
    "along the second axis, up first": np.array([[0, 0, 1.0], [1, 0, 0], [0, 1, 0]]),
}


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("speed_m_s", [0.5, 1.2])
def test_what_is_guessed_by_place_is_right_whatever_the_axes_and_labels(turn, speed_m_s):
    """Heels, toes, ankles, knees and the pelvis of both sides are found, and none is wrong."""
    walk = simulate_walk(WalkRecipe(speed_m_s=speed_m_s, n_strides=4), seed=3)
    spelt = find_landmarks(walk.trial.markers, LabMap()).labels
    names = {label: f"Q{n}" for n, label in enumerate(walk.trial.markers)}
    turned = {names[label]: xyz @ TURNS[turn].T for label, xyz in walk.trial.markers.items()}
    found = by_place(turned, walk.trial.rate_hz)
    truth = {key: names[label] for key, label in spelt.items()}
    assert found.guesses == {key: truth[key] for key in found.guesses}
    parts = {key.split("_", 1)[1] for key in found.guesses}
    assert parts >= {"heel", "toe", "ankle", "knee", "hip", "asis", "psis"}
    assert set(found.moment) == set(turned) and 0 < found.at_s < walk.trial.duration_s
    assert min(up for _, up in found.moment.values()) >= -0.02


def test_nothing_is_guessed_where_markers_lie_otherwise():
    """One leg alone, a knee with a second marker above it, too few frames, gaps: no guess of it."""
    walk = simulate_walk(WalkRecipe(speed_m_s=1.2, n_strides=4), seed=3)
    markers, rate_hz = dict(walk.trial.markers), walk.trial.rate_hz
    one_leg = {label: xyz for label, xyz in markers.items() if "left" in label}
    assert by_place(one_leg, rate_hz).guesses == {}
    thigh = 0.8 * markers["left knee"] + 0.2 * markers["left hip"]
    guesses = by_place(markers | {"left thigh": thigh}, rate_hz).guesses
    assert "left_knee" not in guesses and "right_knee" not in guesses and "left_heel" in guesses
    short = {label: xyz[:10] for label, xyz in markers.items()}
    assert by_place(short, rate_hz).guesses == by_place({}, rate_hz).guesses == {}
    unseen = markers | {"left heel": np.full_like(markers["left heel"], np.nan)}
    assert "left_heel" not in by_place(unseen, rate_hz).guesses
