"""A marker that leaves the rest of its bone is found by distances and told beside numbers."""

import numpy as np
import pytest

from gaittrack.measures.told_labels import DOUBTED
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from tests.faults.good_recordings import REFERENCE, Good, measured, random_recipes, read
from tests.faults.wild_walks import _filled, _late, _of, _ramp, _shifted, _slip

CODES = {
    *("distance_off", "distance_creeps", "marker_late", "stands_otherwise"),
    *("knee_flexes_otherwise", "pelvis_tilt_changes", "pelvis_obliquity_changes"),
}
RECORDED = (
    "walk_two_plates_100hz.c3d",
    "walk_overground_two_plates_100hz.c3d",
    "walk_from_standing_150hz.trc",
    "handbook_walk_2d_coordinates_70hz.txt",
)


@pytest.fixture(scope="module")
def good():
    """Give a walk that is right."""
    return Good("simulated", simulate_walk(WalkRecipe(n_strides=4), seed=21).trial)


def told_of(walk):
    return {p.reason.code: p for p in walk.problems if p.reason.code in CODES}


def values(walk, measure):
    table = walk.values()
    return table[table["measure"] == measure].set_index("side")["value"]


@pytest.mark.parametrize("name", RECORDED)
def test_recorded_walks_raise_no_doubt(name):
    """Skin, bending toes and soft shoes of four laboratories."""
    assert not told_of(measured(read(REFERENCE / name)))


def test_made_up_walks_raise_none():
    """Drawn over all that patients show."""
    found = [
        told_of(measured(simulate_walk(recipe, seed=seed).trial))
        for seed, recipe in enumerate(random_recipes(12, 77))
    ]
    assert not any(found)


def test_a_heel_that_slips_is_named_and_gives_no_ankle(good):
    """By 2 cm within a step, forward: 5 degrees of the foot's slope."""
    walk = measured(_shifted("heel", 0.02, "ahead", _slip)(good))
    problem = told_of(walk)["distance_creeps"]
    assert problem.where == "left heel" and 15 < problem.reason["by"] < 25
    ankle = values(walk, "peak_swing_dorsiflexion_deg")
    assert np.isnan(ankle["left"]) and not np.isnan(ankle["right"])


def test_a_small_drift_stands_beside_the_number_as_a_doubt(good):
    """12 mm over four strides: the numbers stay, the other leg's are not doubted."""
    walk = measured(_shifted("heel", 0.012, "ahead", _ramp)(good))
    assert "distance_creeps" in told_of(walk)
    doubted = {
        row.side
        for row in walk.rows
        if row.measure == "peak_swing_dorsiflexion_deg"
        and row.reason is None
        and DOUBTED in {label.code for label in row.labels}
    }
    assert doubted == {"left"}


@pytest.mark.parametrize(("name", "n_frames"), [("toe", 1), ("heel", 1), ("knee", 2)])
def test_a_marker_that_comes_late_is_told(good, name, n_frames):
    """By one or two frames of ten milliseconds; later ones are on no leg."""
    problem = told_of(measured(_of(name, _late(n_frames))(good)))["marker_late"]
    assert f"left {name}" in problem.where
    assert problem.reason["by"] == pytest.approx(10 * n_frames, abs=8)


def test_a_swing_filled_over_spoils_its_strides_only(good):
    """A spline over 0.3 s: the foot's other strides keep their numbers."""
    walk = measured(_of("heel", _filled(0.3, "spline", "one"))(good))
    assert "distance_off" in told_of(walk)
    rows = [
        row
        for row in walk.rows
        if row.measure == "peak_swing_dorsiflexion_deg" and row.side == "left"
    ]
    assert {row.reason is None for row in rows} == {True, False}


def test_a_toe_that_slips_up_stands_higher_than_it_did(good):
    """By 3 cm: the way to the heel hardly changes, the height of its stances does."""
    problem = told_of(measured(_shifted("toe", 0.03, "up", _slip)(good)))["stands_otherwise"]
    assert problem.where == "left toe" and 25 < problem.reason["by"] < 35


def test_a_pelvis_marker_that_slips_up_tilts_the_pelvis(good):
    """By 6 cm at one of four: every distance is as it was."""
    assert "pelvis_obliquity_changes" in told_of(
        measured(_shifted("asis", 0.06, "up", _slip)(good))
    )


def test_a_knee_that_slips_forward_is_doubted(good):
    """By 5 cm: hardly along its bones, but the knee is 14 degrees straighter in the mean."""
    problem = told_of(measured(_shifted("knee", 0.05, "ahead", _slip)(good)))[
        "knee_flexes_otherwise"
    ]
    assert problem.where == "left knee" and problem.doubts and not problem.spoils
