"""Warnings about walks that no person walks."""

import math

import pytest

from gaittrack.cycles import Cycle
from gaittrack.plausibility import doubts
from gaittrack.reasons import Reason


def cycles(*, stride_s=1.1, speed_m_s=1.2, reject_reasons=()):
    """Return three cycles of one walk."""
    return [
        Cycle(
            f"left-{number:02d}",
            "left",
            number * stride_s,
            (number + 0.6) * stride_s,
            (number + 1) * stride_s,
            speed_m_s=speed_m_s,
            reject_reasons=reject_reasons,
        )
        for number in range(3)
    ]


@pytest.mark.parametrize(
    ("stride_s", "speed_m_s"), [(1.1, 1.2), (2.4, 0.2), (1.5, 0.5), (0.9, 1.9), (0.8, 0.3)]
)
def test_walks_of_persons_raise_no_doubt(stride_s, speed_m_s):
    """Comfortable, very slow, brisk and short-stepped walking pass."""
    assert doubts(cycles(stride_s=stride_s, speed_m_s=speed_m_s), "walk.c3d") == []


@pytest.mark.parametrize(
    ("stride_s", "speed_m_s", "words"),
    [
        (0.11, 12.0, "cadence of 1091 steps/min"),
        (11.0, 0.12, "cadence of 11 steps/min"),
        (1.1, 1200.0, "speed of 1200.0 m/s"),
        (3.67, 0.36, "too slow for its steps"),
        (2.2, 0.6, "too slow for its steps"),
    ],
)
def test_what_no_person_walks_asks_for_the_rate(stride_s, speed_m_s, words):
    """A rate or a unit that is wrong shows as cadence, speed or steps, and --rate is named."""
    found = doubts(cycles(stride_s=stride_s, speed_m_s=speed_m_s), "walk.c3d")
    assert any(words in problem.what and "--rate" in problem.action for problem in found)
    assert {problem.level for problem in found} == {"warning"}


def test_unknown_time_and_speed_raise_no_doubt():
    """Curves without a cycle time say nothing about cadence or speed."""
    assert doubts(cycles(stride_s=math.nan, speed_m_s=math.nan), "sheet.xlsx") == []


def test_no_cycles_is_said():
    """A file without cycles, or with rejected ones only, says that nothing was measured."""
    (none,) = doubts([], "standing.c3d")
    (rejected,) = doubts(cycles(reject_reasons=(Reason("no_toe_off_inside"),)), "gaps.c3d")
    assert "found" in none.what
    assert "kept" in rejected.what and "no toe-off inside" in rejected.action


@pytest.mark.parametrize(
    ("stride_s", "speed_m_s", "leg_m", "codes"),
    [
        (0.62, 2.0, 0.85, ["cadence_of_no_walk"]),
        (0.62, 1.1, 0.5, []),
        (0.62, 2.0, math.nan, []),
        (1.97, 0.72, 0.74, ["too_slow_for_steps"]),
        (1.97, 0.72, 0.95, []),
        (1.1, 1.2, 0.85, []),
    ],
)
def test_a_walk_is_judged_by_the_legs_that_walk(stride_s, speed_m_s, leg_m, codes):
    """Short legs step faster; without their length only what no leg does is told."""
    found = doubts(cycles(stride_s=stride_s, speed_m_s=speed_m_s), "walk.c3d", leg_m=leg_m)
    assert [problem.reason.code for problem in found] == codes
