"""Rates from markers that tremble unlike are not compared."""

import pytest

from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.intervals.verdict import NOT_COMPARABLE
from gaittrack.kinematics import describe_motion
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from tests.compare.made_up_walks import RATE, SWING, row_of, walks

FALLING = (RATE, "foot_to_floor_rate_deg_s", "foot_lowering_time_ms", "foot_lowering_angle_deg")


def noise_of(noise_mm):
    """Return the noise that is found in a made-up walk."""
    walk = simulate_walk(WalkRecipe(marker_noise_m=noise_mm / 1000), seed=7)
    return describe_motion(walk.trial).markers.noise_m


def compared(before_mm, after_mm):
    """Return the comparison of walks whose markers tremble so much."""
    values = {**dict.fromkeys(FALLING, 100.0), SWING: 5.0}
    before = walks("shoe", values, noise_m=noise_of(before_mm))
    after = walks(
        "brace", {name: 1.39 * value for name, value in values.items()}, noise_m=noise_of(after_mm)
    )
    return compare_walks([*before, *after], reference="shoe")


@pytest.mark.parametrize(("before_mm", "after_mm"), [(0.3, 2.0), (2.0, 0.3)])
def test_rates_from_markers_that_tremble_unlike_are_not_compared_and_it_is_told(
    before_mm, after_mm
):
    """2 mm against 0.3 mm, whichever way round, is no change of the foot's fall."""
    found = compared(before_mm, after_mm)
    for name in FALLING:
        row = row_of(found, name)
        assert row.verdict == NOT_COMPARABLE
        assert row.verdict_reason.code == "marker_noise_differs"
    assert "Markers tremble by" in str(row_of(found, RATE).verdict_reason)
    assert row_of(found, SWING).verdict != NOT_COMPARABLE
    assert "marker_noise_differs" in {note.reason.code for note in found.fairness}


@pytest.mark.parametrize(("before_mm", "after_mm"), [(0.3, 0.9), (2.0, 2.0)])
def test_noise_that_moves_no_rate_past_its_error_stands_in_no_way(before_mm, after_mm):
    """Little noise, or much in both alike."""
    found = compared(before_mm, after_mm)
    assert all(row_of(found, name).verdict != NOT_COMPARABLE for name in FALLING)
