"""Promises of the typical ranges."""

import pytest

from gaittrack.compare.typical_values.typical import (
    POPULATIONS,
    population_of,
    read_typical_ranges,
    typical_ranges,
)
from gaittrack.errors import LayoutError
from gaittrack.measures import MEASURES


def test_every_measure_with_a_direction_has_an_adult_range_and_no_other():
    """What the measures declare and what is kept here agree."""
    declared = {measure.name for measure in MEASURES if measure.toward_typical != "none"}
    assert set(typical_ranges("adult_60_69")) == declared


@pytest.mark.parametrize(
    ("population", "measure", "low", "high"),
    [
        ("adult_18_59", "walking_speed_m_s", 0.91, 1.97),
        ("adult_60_69", "walking_speed_m_s", 0.68, 1.80),
        ("adult_70", "walking_speed_m_s", 0.55, 1.59),
        ("adult", "stride_length_m", 1.357 - 0.246, 1.357 + 0.246),
        ("adult", "stride_time_s", 1.02 - 0.12, 1.02 + 0.12),
        ("adult", "step_width_mm", 70, 182),
        ("adult", "dorsiflexion_at_contact_deg", -7, 7),
        ("adult", "mid_swing_dorsiflexion_deg", -6, 8),
        ("adult", "push_off_ankle_deg", -29, -5),
        ("adult_18_59", "stance_percent", 57.4, 64.6),
        ("adult_70", "stance_percent", 58.6, 67.4),
    ],
)
def test_ranges_are_mean_and_two_standard_deviations_of_people(population, measure, low, high):
    """As their sources print them; never of means."""
    found = typical_ranges(population)[measure]
    assert (found.low, found.high) == pytest.approx((low, high), abs=0.006)
    assert "2 SD of people" in found.source


def test_figures_from_memory_are_marked_so():
    """All angles; no figure with a table behind it."""
    for each in typical_ranges("adult_70").values():
        is_angle = each.measure.endswith("_deg") or "percent" in each.measure
        assert ("from memory" in each.source) == is_angle


def test_what_goes_by_age_is_silent_where_no_age_is_known():
    """Speed and the parts of the cycle."""
    unknown = set(typical_ranges("adult"))
    assert set(typical_ranges("adult_70")) - unknown == {
        *("walking_speed_m_s", "stance_percent", "swing_percent")
    }


def test_only_speed_itself_is_held_against_a_range_at_half_a_metre_a_second():
    """A walk at 0.5 m/s is never toward typical by ranges that begin at 1.0 m/s."""
    for population in POPULATIONS:
        at_slow = {name for name, one in typical_ranges(population).items() if one.holds_at(0.5)}
        assert at_slow <= {"walking_speed_m_s"}


def test_children_have_angles_only():
    """Distances and times follow leg length."""
    child = typical_ranges("child")
    assert all(name.endswith("_deg") for name in child)
    assert all("Sutherland" in each.source for each in child.values())


def test_unknown_population_is_refused():
    """The allowed are named."""
    with pytest.raises(ValueError, match="must be one of"):
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
        ("60-69", None, "adult_60_69"),
        ("70-79", None, "adult_70"),
        ("20-29", None, "adult_18_59"),
        ("55-64", None, "adult"),
        ("", 70.0, "adult_70"),
        ("", None, "adult"),
        ("10-14", 18.0, "adult_18_59"),
        ("", 17.9, "child"),
    ],
)
def test_populations_are_told_by_age_or_by_a_band_that_lies_in_one(band, years, population):
    """The age counts where it is known."""
    assert population_of(band, years) == population
