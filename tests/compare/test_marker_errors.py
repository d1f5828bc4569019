"""Promises of the table of measurement errors."""

import math

import pytest

from gaittrack.compare.measurement_error.marker_errors import (
    HOWS,
    MARKER_GROUPS,
    NO_ERROR_FIGURE,
    Handling,
    OwnError,
    find_error,
    find_handling,
)
from gaittrack.compare.measurement_error.placement import Placement
from gaittrack.reasons import Reason

SWING = "peak_swing_dorsiflexion_deg"
HIP = "peak_hip_flexion_pelvis_thigh_deg"
THIGH = "peak_hip_flexion_thigh_vertical_deg"
KNEE = "loading_knee_flexion_peak_deg"
YIELD = "knee_yield_in_loading_deg"
TOE = "minimum_toe_clearance_mm"
PITCH = "foot_pitch_at_contact_deg"
RATE = "loading_response_plantarflexion_rate_deg_s"
SPEED = "walking_speed_m_s"


def error_of(measure, how="same day, same tester", groups=MARKER_GROUPS, values=(0, 0), **more):
    """Return the error of a measure."""
    return find_error(measure, Handling(how, frozenset(groups)), values, **more)


@pytest.mark.parametrize(
    ("measure", "taus"),
    [
        (SWING, (1.0, 1.8, 2.5)),
        ("dorsiflexion_at_contact_deg", (1.2, 2.0, 2.7)),
        (THIGH, (1.4, 2.0, 2.6)),
        (HIP, (2.0, 3.0, 4.0)),
        (KNEE, (1.9, 2.3, 3.6)),
        (YIELD, (0.7, 1.5, 1.8)),
        (TOE, (1.0, 2.0, 2.5)),
        (PITCH, (0.5, 1.2, 1.3)),
    ],
)
def test_all_markers_put_on_again_give_the_proposed_scatter(measure, taus):
    """By situation, each 2.77 times as error, inside the interval, and called a proposal."""
    for how, tau in zip(HOWS[1:], taus, strict=True):
        found = error_of(measure, how)
        assert (found.placement.own, found.placement.reference) == pytest.approx((tau, tau))
        assert found.error == pytest.approx(2.7718 * tau, rel=1e-4)
        assert found.is_inside and found.is_proposal and found.source


@pytest.mark.parametrize(
    ("measure", "groups", "variance"),
    [
        ("stance_knee_flexion_minimum_deg", ("pelvis", "thigh", "shank"), 64 + 100 + 9),
        ("stance_knee_flexion_minimum_deg", ("thigh",), 64 + 100),
        ("stance_knee_flexion_minimum_deg", ("shank",), 100 + 9),
        ("stance_knee_flexion_minimum_deg", ("pelvis",), 64),
    ],
)
def test_knee_scatter_follows_from_the_points_that_were_moved(measure, groups, variance):
    """(hip - 2 knee + ankle) / 400 mm, placed with 8, 5 and 3 mm of scatter."""
    found = error_of(measure, groups=groups)
    assert found.placement.own == pytest.approx(math.degrees(math.sqrt(variance) / 400), rel=0.015)


def test_markers_that_a_measure_does_not_use_leave_it_untouched():
    """Shoe markers do not move the hip, nor pelvis markers the ankle."""
    for measure, groups in ((HIP, ("foot",)), (SWING, ("pelvis",)), (TOE, ("shank", "thigh"))):
        found = error_of(measure, groups=groups)
        assert found.placement.error == 0 and not found.is_inside
        assert found == error_of(measure, "untouched", ())


def test_untouched_markers_keep_an_error_beside_the_interval():
    """3 deg or 3 mm; never inside, so that it is asked for once."""
    for measure in (SWING, HIP, KNEE, YIELD, TOE):
        found = error_of(measure, "untouched", ())
        assert (found.error, found.is_inside, found.is_proposal) == (3.0, False, True)
        assert found.placement.error == 0


def test_what_cancels_has_a_smaller_error():
    """An excursion of the knee against its angle; the ankle's range against its peak."""
    for how in HOWS[1:]:
        assert error_of(YIELD, how).error < error_of(KNEE, how).error
        assert error_of("push_off_range_deg", how).error < error_of(SWING, how).error


def test_no_scatter_shrinks_with_more_markers_or_another_tester():
    """Same day, other day, other tester; foot, then shank, thigh, pelvis."""
    for measure in (SWING, HIP, THIGH, KNEE, YIELD, TOE, PITCH):
        by_how = [error_of(measure, how).placement.own for how in HOWS]
        assert by_how[1:] == sorted(by_how[1:])
        by_group = [error_of(measure, groups=MARKER_GROUPS[:n]).placement.own for n in range(5)]
        assert by_group == sorted(by_group)


def test_brace_and_none_have_their_own_published_scatter_on_another_day():
    """1.1 deg braced, 2.2 not; mirrored when swapped; only where both are known."""
    day = "other day, same tester"
    found = error_of(SWING, day, braced=(True, False))
    assert (found.placement.own, found.placement.reference) == (1.1, 2.2)
    assert not found.is_proposal
    assert found.error == error_of(SWING, day, braced=(False, True)).error
    assert error_of(SWING, day, braced=(True, None)) == error_of(SWING, day)


@pytest.mark.parametrize(
    ("middle", "error"), [(0.3, 0.10), (0.4, 0.15), (0.79, 0.15), (0.8, 0.21), (1.4, 0.21)]
)
def test_speed_keeps_its_published_error_beside_the_interval(middle, error):
    """By the speed of both, whatever was done to the markers."""
    for how in HOWS:
        found = error_of(SPEED, how, values=(middle + 0.1, middle - 0.1))
        assert (found.error, found.is_inside, found.is_proposal) == (error, False, False)


def test_rates_go_by_per_cent_of_both_and_by_handling():
    """20 % and 25 deg/s untouched, 25 % and 35 re-placed, 30 % and 50 on another day."""
    found = [error_of(RATE, how, values=(100, 300)).error for how in HOWS]
    assert found == [40, 50, 60, 60]
    assert [error_of(RATE, how, values=(0, 20)).error for how in HOWS] == [25, 35, 50, 50]
    assert error_of(RATE).is_proposal and not error_of(RATE).is_inside
    assert str(error_of(RATE).source).startswith("proposal: exploratory")


def test_a_measure_without_a_figure_says_so():
    """NaN, never 0."""
    found = error_of("circumduction_mm")
    assert (
        math.isnan(found.error)
        and found.source == Reason(NO_ERROR_FIGURE)
        and found.placement.error == 0
    )


OWN = OwnError(Placement(0.6, 0.6, 9, 0.2), 2.1, Reason("repeat_visits"))


def test_own_figures_come_first_in_the_situation_they_were_made_in():
    """Inside the interval where markers shift the measure, beside it where they do not."""
    own = dict.fromkeys(((SWING, HOWS[1]), (SPEED, HOWS[1])), OWN)
    found = error_of(SWING, own=own)
    assert found.placement == OWN.placement and found.is_inside and found.is_own
    assert not found.is_proposal and found.error == OWN.placement.error
    assert error_of(SWING, HOWS[2], own=own) == error_of(SWING, HOWS[2])
    beside = error_of(SPEED, values=(1, 1), own=own)
    assert (beside.error, beside.is_inside, beside.placement.error) == (2.1, False, 0)


def test_own_figures_without_any_error_are_not_believed():
    """Visits that their walks explain, and those that do not differ, fall back to the table."""
    for placement in (Placement(0, 0), Placement(0, 0, 9, 0.3)):
        own = dict.fromkeys(((SWING, HOWS[1]), (SPEED, HOWS[1])), OwnError(placement, 0.0, "s"))
        for measure in (SWING, SPEED):
            assert error_of(measure, own=own) == error_of(measure)


@pytest.mark.parametrize(
    ("groups", "is_other_day", "is_same_tester", "how"),
    [
        ((), False, None, "untouched"),
        ((), False, False, "untouched"),
        (None, False, None, "same day, same tester"),
        (("foot",), False, None, "same day, same tester"),
        (("foot",), False, False, "other tester"),
        ((), True, True, "other day, same tester"),
        (None, True, None, "other tester"),
        (None, True, False, "other tester"),
    ],
)
def test_what_is_not_recorded_never_makes_an_error_smaller(
    groups, is_other_day, is_same_tester, how
):
    """Unknown markers count as all put on again; another day as all, by another tester."""
    found = find_handling(groups, is_other_day=is_other_day, is_same_tester=is_same_tester)
    assert found.how == how
    whole = groups is None or is_other_day
    assert found.groups == frozenset(MARKER_GROUPS if whole else groups)


@pytest.mark.parametrize(
    "measure",
    [
        *("loading_response_plantarflexion_rate_deg_s", "foot_to_floor_rate_deg_s"),
        *("foot_lowering_time_ms", "foot_lowering_angle_deg"),
        *("foot_pitch_at_contact_deg", "dorsiflexion_at_contact_deg"),
    ],
)
def test_how_the_foot_comes_down_has_an_error_figure(measure):
    """Each with its source, and marked as a proposal: none was published."""
    handling = find_handling(["foot", "shank"], is_other_day=False)
    found = find_error(measure, handling, (100.0, 120.0))
    assert found.error > 0 and found.source and found.is_proposal
