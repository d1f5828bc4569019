"""Promises of judging many questions at once."""

import itertools
import math

import numpy as np
import pytest

from gaittrack.compare.intervals.holm import adjust, share_out


def test_equal_weights_agree_with_another_library():
    """Statsmodels' Holm, on random families."""
    from statsmodels.stats.multitest import multipletests

    rng = np.random.default_rng(0)
    for n in (1, 2, 8, 16):
        ps = rng.uniform(0, 0.1, n)
        theirs = multipletests(ps, method="holm")[1]
        assert list(adjust(dict(enumerate(ps))).values()) == pytest.approx(list(theirs))


def test_weights_agree_with_closed_testing():
    """Each question: the largest weighted Bonferroni p over every set of questions with it."""
    rng = np.random.default_rng(1)
    for aims in ((), (0,), (1, 4)):
        ps = dict(enumerate(rng.uniform(0, 0.05, 5)))
        weights = share_out(ps, aims)
        sets = [s for k in range(1, 6) for s in itertools.combinations(ps, k)]
        worst = {
            s: min(1.0, min(ps[key] * sum(weights[j] for j in s) / weights[key] for key in s))
            for s in sets
        }
        expected = {key: max(p for s, p in worst.items() if key in s) for key in ps}
        assert adjust(ps, aims) == pytest.approx(expected)


def test_aims_share_four_fifths_but_never_less_than_their_number():
    """Two of eight: 40 % each; nine of ten: 10 % each."""
    assert share_out(range(8), (0, 1)) == pytest.approx(
        {0: 0.4, 1: 0.4, **dict.fromkeys(range(2, 8), 0.2 / 6)}
    )
    assert share_out(range(10), range(9)) == pytest.approx(dict.fromkeys(range(10), 0.1))


def test_without_aims_or_with_nothing_else_all_count_alike():
    """One over the number."""
    assert share_out("abcd") == share_out("abcd", "abcd") == dict.fromkeys("abcd", 0.25)
    assert share_out(()) == {} and adjust({}) == {}


def test_a_question_that_was_not_judged_takes_no_share():
    """NaN in, NaN out; the others as if it were not there."""
    found = adjust({"a": 0.01, "b": math.nan, "c": 0.04}, aims=("b",))
    assert math.isnan(found["b"])
    assert (found["a"], found["c"]) == pytest.approx((0.02, 0.04))
