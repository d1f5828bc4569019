"""Promises of the floors."""

import math

import pytest

from gaittrack.compare.measurement_error import SITUATIONS, FloorRule, find_floor
from gaittrack.measures import MEASURES

UNTOUCHED, MOVED, OTHER_DAY = SITUATIONS
RATE = "loading_response_plantarflexion_rate_deg_s"


@pytest.mark.parametrize(
    ("measure", "figures"),
    [
        ("peak_swing_dorsiflexion_deg", (3, 5, 6)),
        ("peak_hip_flexion_pelvis_thigh_deg", (3, 5, 7)),
        ("peak_hip_flexion_thigh_vertical_deg", (3, 5, 7)),
        ("minimum_toe_clearance_mm", (3, 5, 8)),
    ],
)
def test_headline_floors_are_those_of_the_table(measure, figures):
    """By situation, with a source that names it; however large the values are."""
    for situation, figure in zip(SITUATIONS, figures, strict=True):
        for values in ((2.0, 1.0), (5000.0, 3000.0)):
            found = find_floor(measure, situation, *values)
            assert found.value == figure and situation in found.source


@pytest.mark.parametrize(
    ("situation", "values", "floor"),
    [
        (UNTOUCHED, (100, 80), 25),
        (UNTOUCHED, (300, 200), 50),
        (MOVED, (100, 100), 35),
        (MOVED, (400, 200), 75),
        (OTHER_DAY, (100, 100), 50),
        (OTHER_DAY, (400, 200), 90),
    ],
)
def test_rate_floor_is_the_larger_of_percent_and_least(situation, values, floor):
    """Per cent of the mean of both, so that swapping changes nothing."""
    assert find_floor(RATE, situation, *values).value == pytest.approx(floor)
    assert find_floor(RATE, situation, *values[::-1]).value == pytest.approx(floor)


@pytest.mark.parametrize(("speed", "floor"), [(0.3, 0.10), (0.5, 0.15), (1.2, 0.21)])
def test_speed_floor_goes_by_band(speed, floor):
    """The larger of the two published figures in each band."""
    found = find_floor("walking_speed_m_s", MOVED, speed, speed)
    assert found.value == floor and "Hosoi 2023" in found.source


def test_knee_has_the_general_figure_and_says_so():
    """Five degrees between sessions, not its own."""
    found = find_floor("loading_knee_flexion_peak_deg", UNTOUCHED, 10, 10)
    assert found.value == 5 and "not specific to this measure" in found.source


@pytest.mark.parametrize("measure", ["circumduction_mm", "heel_contact_share_percent"])
def test_measure_without_a_figure_says_so(measure):
    """NaN, never 0."""
    found = find_floor(measure, MOVED, 1, 1)
    assert math.isnan(found.value) and found.source == "no error figure known"


def test_own_floor_replaces_the_table_only_in_its_situation():
    """A laboratory's figure for another day says nothing of the same session."""
    own = {("peak_swing_dorsiflexion_deg", OTHER_DAY): FloorRule(4.2, 0, "own")}
    found = find_floor("peak_swing_dorsiflexion_deg", OTHER_DAY, 1, 2, own=own)
    assert (found.value, found.source, found.is_own) == (4.2, "own", True)
    assert find_floor("peak_swing_dorsiflexion_deg", MOVED, 1, 2, own=own).value == 5


def test_every_name_with_a_floor_is_a_measure():
    """A renamed measure would lose its floor without a word."""
    from gaittrack.compare import measurement_error as module

    known = {measure.name for measure in MEASURES}
    assert set(module._BY_SITUATION) | set(module._IN_ANY_SITUATION) <= known
    assert module.SPEED_MEASURE in known
