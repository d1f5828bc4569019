"""Ranks, order, learning and several terms at once, against published numbers and a library."""

import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from gaittrack.cohort.asking import terms
from gaittrack.cohort.asking.terms import ORDER_AND_VISIT, SEQUENCE, TOGETHER, adjusted_effects
from gaittrack.cohort.inference.ranks import MOST_PEOPLE_BY_RANKS, rank_effect
from gaittrack.report.cohort_beside import _effect_rows, _rank_row

BEFORE = np.array([1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30])
AFTER = np.array([0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29])
"""Hamilton depression scores of nine patients: Hollander & Wolfe 1973, table 3.1, and R's help of
``wilcox.test``."""


def test_ranks_are_those_of_the_published_example():
    """Estimate -0.46, interval -0.786 to -0.010 (theirs of 96.1 %), one-sided p 0.0195."""
    found = rank_effect(AFTER - BEFORE)
    assert (found.estimate, found.low, found.high) == pytest.approx((-0.46, -0.786, -0.010))
    assert found.p / 2 == pytest.approx(0.01953, abs=1e-5)
    row = _rank_row(found, 2)
    assert row[1:3] == ["-0.46", "-0.79 to -0.01"] and row[-1] == "9 people; Wilcoxon p 0.0391"


def test_the_interval_by_ranks_is_what_the_test_does_not_refuse():
    """The test's p is above 0.05 inside of the ends and not outside; exact and of many people."""
    rng = np.random.default_rng(0)
    for n in (6, 13, 50, 51, 200):
        own = rng.gamma(4, size=n) - 3
        found = rank_effect(own)
        for end, way in ((found.low, -1), (found.high, 1)):
            inside, outside = (
                stats.wilcoxon(own - end + way * step, method="exact" if n < 51 else "asymptotic")
                for step in (1e-6, -1e-6)
            )
            assert inside.pvalue > 0.05 >= outside.pvalue - (n > 50) * 1e-3


def test_without_an_interval_by_ranks_it_says_why():
    """Of fewer than six, of all the same, of so many that memory would not hold them."""
    for own, code in (
        (np.arange(5.0), "fewer_people"),
        (np.ones(9), "values_do_not_differ"),
        (np.arange(MOST_PEOPLE_BY_RANKS + 1.0), "more_people"),
    ):
        found = rank_effect(own)
        assert found.reason.code == code and math.isnan(found.low)
        assert _rank_row(found, 1)[-1] == str(found.reason)


FIRST = [(310, 270), (310, 260), (370, 300), (410, 390), (250, 210), (380, 350), (330, 365)]
LAST = [(385, 370), (400, 310), (410, 380), (320, 290), (340, 260), (220, 90)]
"""Peak flow of 13 children with two drugs, those who got the first one first, and last: Senn 2002,
Cross-over Trials in Clinical Research, ch. 3."""


def effects_of(monkeypatch, means):
    """Return the effects of made-up differences, as they come from an answer."""
    monkeypatch.setattr(terms, "_differences", lambda view, answer: means)
    question = SimpleNamespace(measure="step_length_m")
    found = adjusted_effects(None, SimpleNamespace(question=question))
    return {each.term: each for each in found}


def made(rows):
    """Make differences of (person, visit, difference, reference, walked first, faster)."""
    names = ["person", "visit_no", "difference", "reference_value", "walked_first"]
    table = pd.DataFrame(rows, columns=[*names, "difference_in_speed"])
    table["further_visit"] = table["visit_no"] - 1.0
    table["hundred_days"] = math.nan
    table["value_in_reference"] = table["reference_value"] - table["reference_value"].mean()
    return table.set_index(["person", "visit_no"])


def test_a_two_period_crossover_is_that_of_the_published_example(monkeypatch):
    """Effect 46.6 (22.9 to 70.3) at a balanced order; period 15.9; sums as the t test has them."""
    both = [(*pair, 0.5) for pair in FIRST] + [(*pair, -0.5) for pair in LAST]
    rows = [(f"P{n}", 1, a - b, float(b), first, math.nan) for n, (a, b, first) in enumerate(both)]
    found = effects_of(monkeypatch, made(rows))
    order = found["walked_first"].effect
    assert (order.difference, order.low, order.high) == pytest.approx((46.6, 22.9, 70.3), abs=0.05)
    assert order.terms[0].effect / -2 == pytest.approx(15.9, abs=0.05)
    level = found[SEQUENCE].effect.terms[0]
    halves = [[(a + b) / 2 for a, b in group] for group in (FIRST, LAST)]
    other = stats.ttest_ind(*halves).confidence_interval()
    assert (level.low, level.high) == pytest.approx((other.low, other.high))
    (row,) = _effect_rows(found[SEQUENCE], 0)
    assert row[1:3] == ["", ""] and row[3] != "", "the mean of both is no change"
    assert found[ORDER_AND_VISIT].effect.reason.code == "term_as_condition", "all at one visit"
    told = found[TOGETHER]
    assert told.left_out == ("difference_in_speed", "further_visit")
    assert len(told.effect.terms) == 2


def test_order_and_learning_are_told_apart_where_both_vary(monkeypatch):
    """As regression has them; where the order goes with the visit it says that it cannot."""
    import statsmodels.api as sm

    rng = np.random.default_rng(1)
    rows = [
        (f"P{n}", visit, rng.normal(4 - 2 * first + visit), rng.normal(9), first, rng.normal())
        for n in range(14)
        for visit, first in ((1, 0.5 if n % 2 else -0.5), (2, 0.5 if n % 3 else -0.5), (3, 0.5))
    ]
    found = effects_of(monkeypatch, made(rows))
    for name, columns in (
        (ORDER_AND_VISIT, ["walked_first", "further_visit"]),
        (TOGETHER, [*terms._TOGETHER]),
    ):
        table, own = made(rows), found[name].effect
        design = sm.add_constant(table[columns])
        whose = table.index.get_level_values("person")
        other = sm.MixedLM(table["difference"], design, whose).fit(reml=True, method="powell")
        mine = [own.difference, *(each.effect for each in own.terms)]
        assert mine == pytest.approx(other.fe_params.to_numpy(), abs=0.02), name
        assert [each.name for each in own.terms] == columns
        assert len(list(_effect_rows(found[name], 1))) == 1 + len(columns)
    whole = [(*row[:4], row[1] - 1.5, row[5]) for row in rows if row[1] < 3]
    told = effects_of(monkeypatch, made(whole))[ORDER_AND_VISIT].effect
    assert told.reason.code == "terms_go_together"
    fewer = effects_of(monkeypatch, made([row for row in rows if row[1] < 3]))
    assert fewer[TOGETHER].effect.reason.code == "covers_too_little", "of two visits each"
    nobody = [(*row[:4], math.nan, row[5]) for row in rows]
    lacking = effects_of(monkeypatch, made(nobody))
    assert lacking[ORDER_AND_VISIT].effect.reason.code == "term_not_recorded"
    assert lacking[TOGETHER].left_out == ("walked_first",)
