"""Promises of the verdicts, in their order."""

import itertools
import math

import pytest

from gaittrack.compare.intervals.decision import VERDICTS, Evidence, decide


@pytest.mark.parametrize(
    ("difference", "walks_half", "is_inside", "p", "verdict"),
    [
        (6.0, 2.0, True, 0.01, "larger"),
        (4.0, 2.0, True, 0.01, "larger"),
        (6.0, 2.0, False, 0.01, "larger"),
        (5.0, 2.0, False, 0.05, "larger"),
        (4.9, 2.0, False, 0.01, "change_in_these_walks"),
        (6.0, 2.0, True, 0.051, "change_in_these_walks"),
        (1.5, 1.4, True, 0.9, "change_in_these_walks"),
        (1.0, 2.0, True, 0.9, "no_change_larger_than_error"),
        (2.0, 3.0, False, 0.2, "no_change_larger_than_error"),
        (2.1, 3.0, False, 0.2, "not_shown"),
        (0.0, 5.1, True, 1.0, "not_shown"),
    ],
)
def test_verdicts_come_in_their_order(difference, walks_half, is_inside, p, verdict):
    """Error 5: the family, then the walks without 0, then the walks inside the error, else none."""
    for sign in (1, -1):
        assert decide(Evidence(sign * difference, walks_half, 5.0, is_inside, p)) == verdict


def test_without_an_error_figure_no_change_is_called():
    """However far the walks lie from 0."""
    assert decide(Evidence(50, 1, math.nan, False, 1e-6)) == "no_error_figure"


@pytest.mark.parametrize("obstacle", ["not_comparable", "not_trusted", "not_defined"])
def test_an_obstacle_forbids_every_other_verdict(obstacle):
    """Even the clearest change."""
    assert decide(Evidence(50, 1, 5.0, True, 1e-6, obstacle)) == obstacle


def test_what_a_family_did_not_judge_is_never_larger():
    """NaN is no small p."""
    assert decide(Evidence(50, 1, 5.0, True, math.nan)) == "change_in_these_walks"


def test_the_list_is_closed_and_claims_no_effect():
    """Every case gives a code of the list, and each is reached."""
    cases = itertools.product(
        (0, 1, 4, 9), (math.nan, 0.5, 3, 8), (math.nan, 5), (True, False), (math.nan, 0.01, 0.5)
    )
    found = {decide(Evidence(*case)) for case in cases}
    found |= {decide(Evidence(1, 1, 1, True, 1, each)) for each in VERDICTS[5:]}
    assert found == set(VERDICTS)
    assert not any("effect" in each or "significant" in each for each in VERDICTS)
