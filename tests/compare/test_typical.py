"""Promises of the typical ranges."""

import pytest

from gaittrack.compare.typical import population_of, read_typical_ranges, typical_ranges
from gaittrack.errors import LayoutError
from gaittrack.measures import MEASURES


def test_every_measure_with_a_direction_has_an_adult_range_and_no_other():
    """What the measures declare and what is kept here agree."""
    declared = {measure.name for measure in MEASURES if measure.toward_typical != "none"}
    assert set(typical_ranges("adult")) == declared


@pytest.mark.parametrize(
    ("measure", "low", "high"),
    [
        ("walking_speed_m_s", 1.34 - 0.24, 1.34 + 0.24),
        ("stride_length_m", 1.357 - 0.246, 1.357 + 0.246),
        ("stride_time_s", 1.02 - 0.12, 1.02 + 0.12),
        ("cadence_steps_min", 120 / (1.02 + 0.12), 120 / (1.02 - 0.12)),
        ("stance_percent", 62 - 4.2, 62 + 4.2),
        ("swing_percent", 38 - 4.2, 38 + 4.2),
        ("dorsiflexion_at_contact_deg", 0 - 5, 0 + 5),
        ("mid_swing_dorsiflexion_deg", 0 - 5, 0 + 5),
        ("peak_stance_dorsiflexion_deg", 10 - 5, 10 + 5),
        ("push_off_ankle_deg", -15 - 5, -15 + 5),
        ("knee_flexion_at_contact_deg", 0 - 5, 5 + 5),
        ("loading_knee_flexion_peak_deg", 20 - 5, 20 + 5),
        ("peak_swing_knee_flexion_deg", 60 - 5, 70 + 5),
        ("peak_hip_flexion_thigh_vertical_deg", 25 - 5, 25 + 5),
    ],
)
def test_adult_ranges_follow_their_sources(measure, low, high):
    """Mean and two standard deviations of 40 adults; phase table as taught, 5 deg around it."""
    found = typical_ranges("adult")[measure]
    assert (found.low, found.high) == pytest.approx((low, high), rel=0.004, abs=0.006)


def test_children_have_angles_only():
    """Distances and times follow leg length."""
    child = typical_ranges("child")
    assert all(name.endswith("_deg") for name in child)
    assert all("Sutherland" in each.source for each in child.values())


def test_unknown_population_is_refused():
    """The allowed are named."""
    with pytest.raises(ValueError, match="adult or child"):
        typical_ranges("elderly")


def test_own_reference_file_is_read(tmp_path):
    """With its source and its speeds."""
    path = tmp_path / "own.toml"
    path.write_text(
        "[[typical]]\nmeasure='peak_swing_dorsiflexion_deg'\nlow=1\nhigh=7\nsource='own 30 adults'"
        "\nlowest_speed_m_s=0.5\nhighest_speed_m_s=0.9\n"
    )
    found = read_typical_ranges(path)["peak_swing_dorsiflexion_deg"]
    assert found.distance(9) == 2 and found.holds_at(0.6) and not found.holds_at(1.3)
    assert not found.holds_at(float("nan"))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", r"No \[\[typical\]\]"),
        ("[[typical]]\nmeasure='x'\nlow=1\nhigh=2\nsource='s'", "'x' is not a measure"),
        ("[[typical]]\nmeasure='step_width_mm'\nlow=3\nhigh=2\nsource='s'", "above its upper"),
        ("[[typical]]\nmeasure='step_width_mm'\nlow='3'\nhigh=2\nsource='s'", "not a number"),
        ("[[typical]]\nmeasure='step_width_mm'\nlow=3\nhigh=2", "missing: source"),
        ("[[typical", "cannot be read"),
    ],
)
def test_damaged_reference_file_is_refused(tmp_path, text, words):
    """What, where, what to do."""
    path = tmp_path / "own.toml"
    path.write_text(text)
    with pytest.raises(LayoutError, match=words):
        read_typical_ranges(path)


@pytest.mark.parametrize(
    ("band", "years", "population"),
    [
        ("10-14", None, "child"),
        ("15-19", None, "child"),
        ("60-69", None, "adult"),
        ("", None, "adult"),
        ("10-14", 18.0, "adult"),
        ("", 17.9, "child"),
    ],
)
def test_children_are_told_by_age_or_by_a_band_that_ends_below_eighteen(band, years, population):
    """The age counts where it is known."""
    assert population_of(band, years) == population
