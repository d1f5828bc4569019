"""Gaps that were filled over before the file was written are told, and stand beside numbers."""

import numpy as np
import pytest

from gaittrack.measures.told_labels import DOUBTED
from gaittrack.reasons import Reason
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from tests.faults.good_recordings import REFERENCE, Good, measured, read
from tests.faults.wild_walks import _filled, _of

RECORDED = ("walk_from_standing_150hz.trc", "handbook_walk_2d_coordinates_70hz.txt")


def told_of(walk):
    return [p for p in walk.problems if p.reason.code == "filled_before"]


@pytest.mark.parametrize("name", RECORDED)
def test_what_was_seen_all_along_is_not_told(name):
    """Of two recordings that hold every number as it was."""
    assert not told_of(measured(read(REFERENCE / name)))


@pytest.mark.parametrize(("how", "labelled"), [("spline", {"left-02"}), ("line", set())])
def test_a_toe_filled_over_in_swing_is_doubted_there(how, labelled):
    """0.2 s of one swing, in 32-bit numbers of millimetres: that stride is labelled.

    A line has corners, which are jumps: no number of the toe is left there.
    """
    trial = simulate_walk(WalkRecipe(n_strides=4), seed=21).trial
    filled = _of("toe", _filled(0.2, how, "one"))(Good("simulated", trial))
    stored = {
        label: (1000 * xyz).astype(np.float32).astype(float) / 1000
        for label, xyz in filled.markers.items()
    }
    walk = measured(type(trial)(trial.rate_hz, trial.n_frames, trial.provenance, markers=stored))
    (problem,) = told_of(walk)
    assert problem.where == "left toe"
    assert problem.reason["longest_s"] == pytest.approx(0.2, abs=0.03)
    label = Reason(DOUBTED, why=problem.reason)
    assert {row.cycle for row in walk.rows if label in row.labels} == labelled
