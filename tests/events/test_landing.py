"""Landings of feet whose ends are stopped where it is known."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from gaittrack.events import landing
from gaittrack.events.foot_stretch import FootStretch, sagittal_speed
from gaittrack.events.impacts import Impact, find_impacts
from gaittrack.events.landing import find_landings
from gaittrack.events.swings import Swing

RATE_HZ = 200.0
N_FRAMES = 200
TIMES_S = np.arange(N_FRAMES) / RATE_HZ
SWING = Swing(10, 40, 100)
LANDS_S = 0.5


def lowered(*stops):
    """Return the path of an end that comes to its place and is stopped at heights at times.

    Each stop is (seconds, metres above the floor, metres a second of the fall that it ends).
    """
    up = np.zeros(N_FRAMES)
    for number, (time_s, height_m, fall_m_s) in enumerate(stops):
        since = stops[number - 1][0] if number else 0.0
        falling = (time_s - TIMES_S) * fall_m_s + height_m
        up = np.where((since <= TIMES_S) & (time_s > TIMES_S), falling, up)
        if number:
            held = np.minimum(falling, stops[number - 1][1])
            up = np.where((since <= TIMES_S) & (time_s > TIMES_S), held, up)
    forward = np.minimum(TIMES_S - LANDS_S + 0.1, 0.0) * 1.5
    return np.column_stack([forward, np.zeros(N_FRAMES), up])


def foot(**ends):
    """Return a stretch of a foot with the ends given."""
    made: Mapping = dict(ends)
    impacts = find_impacts(np.column_stack([end[:, 2] for end in ends.values()]), RATE_HZ)
    return FootStretch(
        side="left",
        start=0,
        rate_hz=RATE_HZ,
        body_m_s=np.ones(N_FRAMES),
        toe_m_s=np.full(N_FRAMES, 1.5),
        ends=made,
        impacts=dict(zip(ends, impacts, strict=True)),
        slow={name: sagittal_speed(end, RATE_HZ) < 0.4 for name, end in ends.items()},
    )


def landing_of(**ends):
    """Return the landing that ends the swing."""
    (found,) = find_landings(foot(**ends), [SWING], [N_FRAMES], [np.inf])
    assert found is not None
    return found


def landed_of(height_m, *impacts, ahead_m=0.0):
    """Return the landing of an end that comes down, and to its place, in frame 101."""
    is_before = TIMES_S * RATE_HZ < 101
    forward, up = np.where(is_before, -ahead_m, 0.0), np.where(is_before, height_m, 0.0)
    path = np.column_stack([forward, np.zeros(N_FRAMES), up])
    slow = {"front": TIMES_S > 0.3}
    stretch = replace(foot(front=path), impacts={"front": list(impacts)}, slow=slow)
    (landing,) = find_landings(stretch, [SWING], [N_FRAMES], [np.inf])
    assert landing is not None
    return landing


ONCE = ((LANDS_S, 0.0, 0.2),)
TWICE = ((LANDS_S, 0.005, 0.18), (LANDS_S + 0.12, 0.0, 0.1))


def test_a_foot_that_is_stopped_once_has_landed_there():
    """Within 5 ms, and nowhere else."""
    landing = landing_of(front=lowered(*ONCE))
    assert landing.frame / RATE_HZ == pytest.approx(LANDS_S, abs=0.005)
    assert landing.method == "impact" and np.isnan(landing.rival_frame)


def test_a_foot_that_is_stopped_twice_alike_may_have_landed_at_either():
    """The other stop is told."""
    landing = landing_of(front=lowered(*TWICE))
    both_s = sorted((landing.frame / RATE_HZ, landing.rival_frame / RATE_HZ))
    assert both_s == pytest.approx([LANDS_S, LANDS_S + 0.12], abs=0.01)


def test_a_foot_that_is_down_has_landed_whatever_comes_after():
    """A second stop from 3 mm up is no landing."""
    landing = landing_of(front=lowered((LANDS_S, 0.003, 0.18), (LANDS_S + 0.12, 0.0, 0.1)))
    assert landing.frame / RATE_HZ == pytest.approx(LANDS_S, abs=0.005)
    assert np.isnan(landing.rival_frame)


def test_a_foot_that_is_stopped_far_above_its_level_has_not_landed():
    """It hangs; 15 mm are more than any heel sinks, however clear the stop."""
    impacts = Impact(98, 98.0, 12.0, 96, 3.0), Impact(104, 104.0, 9.0, 102, 0.1)
    assert landed_of(0.015, *impacts).frame == 104


@pytest.mark.parametrize(("height_m", "landed"), [(0.003, 98), (0.009, 104)])
def test_of_one_stop_the_highest_peak_counts_unless_another_is_far_likelier(height_m, landed):
    """Two peaks, the first higher: at 3 mm it is the landing, at 9 mm it is not."""
    peaks = Impact(98, 98.0, 12.0, 96, 0.3), Impact(104, 104.0, 9.0, 96, 0.3)
    assert landed_of(height_m, *peaks).frame == landed


@pytest.mark.parametrize(
    ("height_m", "peak_m_s2", "rival"),
    [(0.0043, 12.0, 97), (0.0043, 9.0, np.nan), (0.006, 12.0, np.nan)],
)
def test_the_highest_peak_of_a_stop_may_be_the_landing(height_m, peak_m_s2, rival):
    """More than twice as high and two fifths as likely as the likeliest it is told; less is not."""
    peaks = Impact(97, 97.0, peak_m_s2, 96, 0.3), Impact(110, 110.0, 5.0, 96, 0.3)
    landing = landed_of(height_m, *peaks)
    assert landing.frame == 110
    assert landing.rival_frame == pytest.approx(rival, nan_ok=True)


def test_a_second_stop_after_the_other_foot_has_left_is_no_landing():
    """By then this foot is down."""
    stretch = foot(front=lowered(*TWICE))
    (landing,) = find_landings(stretch, [SWING], [N_FRAMES], [(LANDS_S + 0.1) * RATE_HZ])
    assert landing is not None and np.isnan(landing.rival_frame)


def test_two_ends_that_land_together_are_sure():
    """What one end leaves open the other tells."""
    front = lowered((LANDS_S, 0.005, 0.4), (LANDS_S + 0.12, 0.0, 0.09))
    assert landing_of(front=front).rival_frame / RATE_HZ == pytest.approx(LANDS_S + 0.12, abs=0.01)
    landing = landing_of(rear=lowered((LANDS_S + 0.01, 0.0, 0.2)), front=front)
    assert landing.frame / RATE_HZ == pytest.approx(LANDS_S, abs=0.01)
    assert np.isnan(landing.rival_frame)


@pytest.mark.parametrize(
    ("above_m", "ahead_m", "leads", "share"),
    [
        *((0.0, 0.0, True, 1.0), (-0.01, -0.01, False, 1.0)),
        *((0.015, 0.0, True, np.exp(-1)), (0.005, 0.0, False, np.exp(-1))),
        *((0.0, 0.02, True, np.exp(-1)), (0.01, 0.02, False, np.exp(-3))),
    ],
)
def test_a_stop_is_the_less_a_landing_the_higher_and_the_further_off(
    above_m, ahead_m, leads, share
):
    """By a factor of e for 2 cm of its way, 15 mm of height of a heel that leads, 5 mm else."""
    stop = Impact(frame=11, exact_frame=11.0, height_m_s2=5.0, began=9, fall_stopped_m_s=0.3)
    where = (np.array([value]) for value in (above_m, ahead_m, leads))
    assert landing._likelihood([stop], *where) == pytest.approx([0.3 * share])


@pytest.mark.parametrize(
    ("is_stopped", "above_m", "ahead_m", "hangs"),
    [
        *((True, 0.005, 0.5, True), (False, 0.005, 0.5, False), (False, 0.005, 0.011, True)),
        *((True, 0.0035, 0.0, False), (True, 0.011, 0.0, True), (True, 0.013, 0.0, False)),
    ],
)
def test_a_foot_hangs_a_little_over_its_place(is_stopped, above_m, ahead_m, hangs):
    """Between 4 and 12 mm; less than 12 mm ahead, unless it is the stop that was found."""
    one, other = (
        landing._Stop(Impact(2, 2.0, 5.0, began, 0.3), 0.3, above_m, ahead_m, True)
        for began in (1, 2)
    )
    assert landing._hangs(one, one if is_stopped else other) == hangs


@pytest.mark.parametrize(("late_frames", "landed"), [(9, 110), (16, 98)])
def test_a_stop_long_after_an_end_came_down_is_no_landing(late_frames, landed):
    """Where no heel leads, 50 ms after it is down: a harder stop 80 ms later is another matter."""
    impacts = (
        Impact(98, 98.0, 9.0, 96, 0.1),
        Impact(101 + late_frames, 101.0 + late_frames, 12.0, 105, 0.5),
    )
    assert landed_of(0.0035, *impacts).frame == landed
