"""What stands beside the mean of a cohort, against published numbers and other computations."""

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from gaittrack.cohort.asking.answering import CohortAnswer, NotCompared, _left_out
from gaittrack.cohort.asking.beside import share_interval
from gaittrack.cohort.asking.declared import OutcomeResult, _adjusted
from gaittrack.cohort.asking.missing import missing_of
from gaittrack.cohort.asking.question import CohortQuestion
from gaittrack.cohort.inference.coverage import LEAST_PERCENT, coverage_table, why_not_shown
from gaittrack.cohort.inference.power import people_needed, power, scatter
from gaittrack.cohort.tables.reason_cells import packed
from gaittrack.cohort.tables.selection import EVERYBODY
from gaittrack.compare.intervals.verdict import NOT_COMPARABLE, NOT_SHOWN
from gaittrack.compare.walked.declared_outcomes import read_outcomes
from gaittrack.errors import LayoutError
from gaittrack.reasons import Reason

PAIR = ("orthosis_shod", "no-orthosis_shod")
NAN = math.nan


@pytest.mark.parametrize(
    ("size", "wanted", "people"),
    [(0.2, 0.8, 199), (0.5, 0.8, 34), (0.8, 0.8, 15), (0.5, 0.9, 44), (0.5, 0.95, 54)],
)
def test_people_needed_are_those_of_the_published_tables(size, wanted, people):
    """Small, medium and large effects (Cohen's d), one change per person, two-sided, 5 %."""
    from statsmodels.stats.power import TTestPower

    assert people_needed(3 * size, 3.0, wanted=wanted) == people
    assert power(size, 1.0, people) >= wanted > power(size, 1.0, people - 1)
    other = TTestPower().power(size, people, 0.05)
    assert power(size, 1.0, people) == pytest.approx(other, abs=1e-6)
    assert people_needed(1e-6, 1.0) is None and people_needed(0.0, 1.0) is None
    assert people_needed(1.0, 0.0) is None and people_needed(100.0, 1.0) == 2
    assert people_needed(-0.5, 1.0) == 34 and 19_600 < people_needed(0.02, 1.0) < 19_640
    assert power(0.0, 1.0, 9) == pytest.approx(0.05), "either way by chance"
    assert power(2.5, 0.4, 2) == pytest.approx(0.511996, abs=1e-6), "integrated over chi"
    assert people_needed(2.5, 0.4) == 3


def test_the_scatter_has_the_interval_of_chi_square():
    """Zar's example of a variance: 25 values, s² 1.8 has the 95 % interval 1.10 to 3.48."""
    own = np.random.default_rng(0).normal(size=25)
    own = (own - own.mean()) / own.std(ddof=1) * math.sqrt(1.8)
    sd, low, high = scatter(own)
    assert (sd**2, low**2, high**2) == pytest.approx((1.8, 1.0974, 3.4836), abs=1e-3)
    assert all(map(math.isnan, scatter(own[:1])))


def test_the_interval_of_a_share_always_covers():
    """As another library has it; and by counting, at least 95 % for whatever share, 3-40 people."""
    from statsmodels.stats.proportion import proportion_confint

    assert share_interval(7, 24) == pytest.approx(proportion_confint(7, 24, method="beta"))
    for n_people in (3, 8, 24, 40):
        ends = np.array([share_interval(n, n_people) for n in range(n_people + 1)])
        for share in np.linspace(0.01, 0.99, 99):
            holds = (ends[:, 0] <= share) & (share <= ends[:, 1])
            assert stats.binom.pmf(np.arange(n_people + 1), n_people, share)[holds].sum() >= 0.95
    assert all(map(math.isnan, share_interval(0, 0)))


def told(differences, left_out):
    """Make an answer: people with a difference, others without; strides by condition."""
    rows = [(f"P{n}", each, NOT_SHOWN, 10, 0, 9, 1) for n, each in enumerate(differences)]
    rows += [(f"Q{n}", NAN, NOT_COMPARABLE, 8, 2, 2, 8) for n in range(left_out)]
    names = ["n_strides", "n_not_defined", "n_strides_reference", "n_not_defined_reference"]
    first = pd.DataFrame(rows, columns=["person", "difference", "verdict", *names])
    question = CohortQuestion(EVERYBODY, "minimum_toe_clearance_mm", "affected", PAIR)
    compared = first[first["verdict"] == NOT_SHOWN].groupby("person")["difference"].mean()
    told = (NotCompared(Reason(NOT_COMPARABLE), ("Q0",)),) if left_out else ()
    n = left_out - len(told)
    return CohortAnswer(question, first, first, compared, Counter(), Counter(), told, n, None)


def test_who_is_left_out_stands_under_figures_of_their_own_only():
    """Where figures differ, all stand under the short sentence, or each under the own one."""
    own = [
        Reason("contact_type_changed", reference_percent=0.0, own_percent=percent)
        for percent in (100.0, 89.0)
    ]
    inside = [Reason("covers_too_little", n_people=n, percent=50.0, least=93.0) for n in (3, 4)]
    own += [Reason("in_condition", condition="orthosis_shod", reason=each) for each in inside]
    own += [Reason("no_strides"), Reason("no_strides")]
    people = [f"P{n}" for n in range(len(own))]
    first = pd.DataFrame({"export_id": people, "verdict_reason": [packed(each) for each in own]})
    found = {each.people: each.reason for each in _left_out(first, set())}
    assert str(found["P0", "P1"]) == "contact type changed"
    assert (found[("P2",)], found[("P3",)]) == (own[2], own[3])
    assert found["P4", "P5"] == Reason("no_strides")


def test_the_bounds_hold_whatever_those_left_out_changed_by():
    """Of the mean within the others' changes, of the median whatever it was; and where it turns."""
    own = [1.0, 2.0, 4.0, 9.0]
    found = missing_of(told(own, 2))
    assert (found.mean_low, found.mean_high) == pytest.approx((3.0, 34 / 6))
    assert (found.median_low, found.median_high) == (1.5, 6.5)
    assert np.mean([*own, found.turning, found.turning]) == pytest.approx(0)
    rng = np.random.default_rng(0)
    for pair in rng.normal(scale=20, size=(200, 2)):
        assert found.median_low <= np.median([*own, *pair]) <= found.median_high
        assert found.mean_low <= np.mean([*own, *np.clip(pair, 1, 9)]) <= found.mean_high
    assert (found.percent, found.reference_percent) == pytest.approx((100 * 4 / 60, 100 * 20 / 60))
    assert (found.n_more, found.n_more_in_reference, found.p) == (0, 6, pytest.approx(2 / 64))
    assert math.isnan(missing_of(told([], 0)).p)
    none, all_gone = missing_of(told(own, 0)), missing_of(told([], 3))
    assert (none.mean_low, none.mean_high) == (4.0, 4.0) and math.isnan(none.turning)
    assert math.isnan(all_gone.mean_low) and all_gone.n_left_out == 3
    assert math.isinf(missing_of(told(own, 5)).median_high)


def test_who_lacks_it_more_often_is_by_the_share_of_steps_of_both_legs():
    """Not by how many lack it, nor by one leg; who lacks it as often in both is neither."""
    made = told([1.0, 2.0, 3.0], 0)
    strides = [(38, 2, 1, 1), (9, 1, 9, 1), (5, 0, 4, 1), (1, 4, 5, 0)]
    names = ["n_strides", "n_not_defined", "n_strides_reference", "n_not_defined_reference"]
    first = pd.DataFrame(strides, columns=names).assign(person=["P0", "P1", "P2", "P2"])
    found = missing_of(replace(made, first=first))
    assert (found.n_more, found.n_more_in_reference, found.p) == (1, 1, 1.0)
    assert (found.percent, found.reference_percent) == pytest.approx((700 / 60, 300 / 22))


def test_other_outcomes_are_judged_by_holm_and_only_behind_the_primary_one():
    """Holm as another library has it; none is better than the primary one; NaN stays NaN."""
    from statsmodels.stats.multitest import multipletests

    p = [0.02, 0.015, 0.03, 0.2]
    found = list(
        _adjusted([OutcomeResult(str(n), False, 9, 1, 0, 2, x, x) for n, x in enumerate(p)])
    )
    holm = multipletests(p[1:], method="holm")[1]
    assert [each.adjusted_p for each in found] == pytest.approx([0.02, *np.maximum(0.02, holm)])
    assert [each.is_primary for each in found] == [True, False, False, False]
    rows = [OutcomeResult(str(n), False, 9, 1, 0, 2, x, x) for n, x in enumerate((NAN, 0.001, NAN))]
    unknown = list(_adjusted(rows))
    assert unknown[1].adjusted_p == 1.0 and math.isnan(unknown[2].adjusted_p)


GOOD = 'primary = "walking_speed_m_s"\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('primary = "speed"\n', "speed is no measure"),
        (GOOD + 'secondary = ["walking_speed_m_s"]\n', "named twice"),
        (GOOD + 'second = "x"\n', "outcomes.toml"),
        ('secondary = ["walking_speed_m_s"]\n', "outcomes.toml"),
        (GOOD + "secondary = 5\n", "is no list"),
        (
            GOOD + '[[important]]\nmeasure = "walking_speed_m_s"\ndifference = 0\nsource = "A"\n',
            "needs a difference",
        ),
        (
            GOOD + '[[important]]\nmeasure = "walking_speed_m_s"\ndifference = 0.1\nsource = " "\n',
            "needs a difference",
        ),
    ],
)
def test_a_declaration_that_cannot_be_meant_is_refused(tmp_path, text, words):
    """With the place; a good one is read."""
    path = tmp_path / "outcomes.toml"
    path.write_text(text)
    with pytest.raises(LayoutError, match=words):
        read_outcomes(path)
    path.write_text(GOOD)
    assert read_outcomes(path).primary == "walking_speed_m_s"


def test_what_does_not_cover_is_not_shown(monkeypatch):
    """A size is shown if it and all larger ones cover, by as many visits; else it says why not."""
    rows = [("model", 3, "1", 95.0), ("model", 8, "1", 93.0)]
    rows += [("model", 3, "3", 94.0), ("model", 8, "3", 92.9), ("model", 20, "3", 93.0)]
    rows += [
        ("mean", 3, "1", 80.0),
        ("by_visit", 3, "1", 80.0),
        ("by_visit", 3, "1 or 2", 95.0),
        ("model", 20, "1 or 2", 80.0),
        ("model", 40, "1 or 2", 95.0),
        ("model", 40, "3", 95.0),
    ]
    table = pd.DataFrame(rows, columns=["method", "people", "visits", "covers_percent"])
    monkeypatch.setattr("gaittrack.cohort.inference.coverage.coverage_table", lambda: table)

    def why(people, method="model"):
        found = why_not_shown(method, np.array(people))
        return found and found.code

    assert why([1, 2, 3, 4]) is None and why([1, 2, 3]) is None, "of its own way, from 3 on"
    assert why(np.repeat(range(4), 3)) == "covers_too_little", "8 people do not cover"
    assert why(np.repeat(range(21), 3)) is None
    assert why(np.repeat(range(21), 2)) == "covers_too_little", "one or two visits do not"
    assert why(np.repeat(range(41), 2)) is None
    assert why([*range(8), 1]) == "too_few_repeats"
    assert why([*range(40), *range(20)]) is None, "one and a half on average are enough"
    assert why(np.repeat(range(4), 2), "by_visit") is None, "one visit each is another matter"
    assert why([1, 2]) == "coverage_not_simulated"


def test_the_table_of_coverage_holds_what_was_asked_for():
    """3 to 40 people, 1 to 6 visits, 4,000 runs; the main figure covers everywhere."""
    table = coverage_table()
    assert (table["n_runs"] >= 4000).all()
    assert (table["people"].min(), table["people"].max()) == (3, 40)
    assert set(table["visits"]) == {"1", "1 or 2", "3", "6", "1 to 6"}
    assert table.loc[table["method"] == "mean", "covers_percent"].min() >= LEAST_PERCENT
