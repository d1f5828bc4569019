"""Cohort statistics against other computations and a published model."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from gaittrack.cohort.inference.mixed_model import (
    NO_SCATTER_BETWEEN,
    mixed_effect,
    random_intercept,
)
from gaittrack.cohort.inference.statistics import mean_difference, statistics_table
from gaittrack.cohort.people.deidentify import deidentify
from gaittrack.cohort.tables.changes import change_table
from gaittrack.cohort.tables.reason_cells import unpacked
from gaittrack.compare.intervals.verdict import AWAY, LARGER, NO_CHANGE, NOT_DEFINED, TOWARD
from gaittrack.reasons import Reason
from tests.cohort.made_up_cohort import RATE, SPEED, SWING, cohort
from tests.cohort.restricted_likelihood import searched_difference

BOYS = """
26 25 29 31  21.5 22.5 23 26.5  23 22.5 24 27.5  25.5 27.5 26.5 27  20 23.5 22.5 26
24.5 25.5 27 28.5  22 22 24.5 26.5  24 21.5 24.5 25.5  23 20.5 31 26  27.5 28 31 31.5
23 23 23.5 25  21.5 23.5 24 28  17 24.5 26 29.5  22.5 25.5 25.5 26  23 24.5 26 30
22 21.5 23.5 25
"""
GIRLS = """
21 20 21.5 23  21 21.5 24 25.5  20.5 24 24.5 26  23.5 24.5 25 26.5  21.5 23 22.5 23.5
20 21 21 22.5  21.5 22.5 23 25  23 23 23.5 24  20 21 22 21.5  16.5 19 19 19.5
24.5 25 28 28
"""
FEWER = Reason("fewer_people", least=3)
AGES = (8.0, 10.0, 12.0, 14.0)


def test_the_mixed_model_gives_the_published_answer():
    """Potthoff & Roy 1964 (27 children), distance ~ age + sex, random intercept, REML.

    The values are those that R's nlme prints for ``lme(distance ~ age + Sex, random = ~ 1)`` on its
    data set Orthodont: age 0.660185 (0.0616059), sex -2.321023 (0.7614168). They were checked in
    public printouts of such sessions; the paper's own table and the book of nlme's authors
    (Pinheiro & Bates 2000) were not looked at. That data and answers fit to six digits shows that
    the data stand here as there.
    """
    distance = np.array((BOYS + GIRLS).split(), dtype=float)
    assert distance.shape == (108,)
    age = np.tile(AGES, 27)
    is_girl = np.repeat([0.0] * 16 + [1.0] * 11, 4)
    child = np.repeat(np.arange(27), 4)
    fit = random_intercept(distance, np.column_stack([np.ones(108), age, is_girl]), child)
    assert fit.effects[1:] == pytest.approx([0.660185, -2.321023], abs=2e-6)
    assert fit.standard_errors[1] == pytest.approx(0.0616059, abs=1e-7)
    assert fit.standard_errors[2] == pytest.approx(0.7614168, abs=2e-6)


@pytest.mark.parametrize("n_visits", [1, 3])
def test_with_as_many_visits_each_it_is_the_t_test_of_the_means_of_people(n_visits):
    """Difference and interval are scipy's, of one mean difference per person."""
    rng = np.random.default_rng(3)
    own = 2 + 4 * rng.normal(size=(14, 1)) + rng.normal(size=(14, n_visits))
    found = mixed_effect(own.ravel(), np.repeat(np.arange(14), n_visits))
    interval = stats.ttest_1samp(own.mean(axis=1), 0).confidence_interval()
    assert found.difference == pytest.approx(own.mean())
    assert (found.low, found.high) == pytest.approx((interval.low, interval.high), rel=1e-5)
    assert found.note is None


def unbalanced(seed, *, between=3.0):
    """Make 12 people with two to eight values each, at speeds that rise in the condition."""
    rng = np.random.default_rng(seed)
    people = np.repeat(np.arange(12), rng.integers(2, 9, size=12))
    condition = rng.integers(0, 2, size=len(people)).astype(float)
    speed = 1 + 0.2 * condition + 0.15 * rng.normal(size=len(people))
    own = between * rng.normal(size=12)
    values = 10 + 4 * condition + 6 * speed + own[people] + rng.normal(size=len(people))
    return values, condition, people, speed


@pytest.mark.parametrize("between", [3.0, 0.5, 0.0])
@pytest.mark.parametrize("seed", range(3))
def test_the_mixed_model_is_that_of_a_search_over_all_shares_of_variance(seed, between):
    """The likelihood looked at over its whole range, with and without speed, unbalanced data."""
    values, condition, people, speed = unbalanced(seed, between=between)
    for covariate in (None, speed):
        columns = [np.ones(len(values)), condition] + ([] if covariate is None else [covariate])
        effect, error, share = searched_difference(values, np.column_stack(columns), people)
        found = random_intercept(values, np.column_stack(columns), people)
        assert found.effects[1] == pytest.approx(effect, rel=1e-4)
        assert found.standard_errors[1] == pytest.approx(error, rel=1e-4)
        assert (found.ratio == 0) == (share == 0)


def test_a_likelihood_of_infinity_is_no_maximum():
    """People who hardly differ, in units of a thousandth: one search ends at a variance of zero.

    There it sees a likelihood of infinity, says that it converged, and gives another effect.
    """
    values, condition, people, speed = unbalanced(1, between=0.0)
    design = np.column_stack([np.ones(len(values)), condition, speed])
    effect, error, share = searched_difference(values, design, people)
    found = random_intercept(values * 1e-3, design, people)
    assert share == found.ratio == 0
    assert found.effects[1] == pytest.approx(effect * 1e-3, rel=1e-6)
    assert found.standard_errors[1] == pytest.approx(error * 1e-3, rel=1e-6)


@pytest.mark.parametrize("between", [3.0, 1.0])
@pytest.mark.parametrize("seed", range(3))
def test_the_mixed_model_is_that_of_statsmodels(seed, between):
    """Where its search converges: the effect; its error is of another kind (R has ours, above)."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    values, condition, people, speed = unbalanced(seed, between=between)
    design = np.column_stack([np.ones(len(values)), condition, speed])
    other = MixedLM(values, design, groups=people).fit(reml=True)
    assert other.converged
    found = random_intercept(values, design, people)
    assert found.effects[1] == pytest.approx(other.fe_params[1], rel=1e-5)
    assert found.standard_errors[1] == pytest.approx(other.bse_fe[1], rel=0.01)


def test_a_thousand_people_with_every_kind_of_count_have_the_answer_of_statsmodels():
    """One to nine values each, some in one condition only; the library takes a second for it."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    rng = np.random.default_rng(9)
    people = np.repeat(np.arange(1000), rng.integers(1, 10, size=1000))
    condition = rng.integers(0, 2, size=len(people)).astype(float)
    values = 5 + 0.7 * condition + 2 * rng.normal(size=1000)[people] + rng.normal(size=len(people))
    design = np.column_stack([np.ones(len(values)), condition])
    other = MixedLM(values, design, groups=people).fit()
    found = random_intercept(values, design, people)
    assert found.effects == pytest.approx(other.fe_params, rel=1e-5)
    assert found.standard_errors == pytest.approx(other.bse_fe, rel=1e-3)


def test_people_who_do_not_differ_leave_the_mean_of_all_differences_and_it_says_so():
    """Every person's mean is the same: mean and error by numpy, the t still of people."""
    rng = np.random.default_rng(1)
    own = rng.normal(size=(8, 4))
    own += 2 - own.mean(axis=1, keepdims=True)
    found = mixed_effect(own.ravel(), np.repeat(np.arange(8), 4))
    error = own.std(ddof=1) / np.sqrt(32)
    assert (found.note, found.reason) == (NO_SCATTER_BETWEEN, None)
    assert found.difference == pytest.approx(2)
    assert found.standard_error == pytest.approx(error)
    assert found.high - 2 == pytest.approx(stats.t.isf(0.025, 7) * error)


def test_at_one_visit_each_the_effect_at_equal_speed_is_that_of_ordinary_regression():
    """Intercept and its interval by scipy's regression of the differences on those of speed."""
    rng = np.random.default_rng(6)
    faster = 0.1 + 0.1 * rng.normal(size=9)
    own = 3 + 12 * faster + rng.normal(size=9)
    found = mixed_effect(own, np.arange(9), terms={"difference_in_speed": faster})
    other = stats.linregress(faster, own)
    half = stats.t.isf(0.025, 7) * other.intercept_stderr
    assert found.difference == pytest.approx(other.intercept)
    assert (found.high - found.low) / 2 == pytest.approx(half)


PEOPLE = np.repeat(np.arange(5), 2)
NOISE = np.random.default_rng(0).normal(size=10)


@pytest.mark.parametrize(
    ("differences", "people", "faster", "reason"),
    [
        (NOISE, PEOPLE, np.full(10, 0.2), "term_as_condition"),
        (NOISE * 0 + 3, PEOPLE, None, "values_do_not_differ"),
        (PEOPLE * 1.0, PEOPLE, None, "no_scatter_within_people"),
        (NOISE[:6], PEOPLE[[0, 1, 2, 4, 6, 8]], NOISE[4:], "too_few_values"),
        (NOISE[:0], PEOPLE[:0], None, "fewer_people"),
        (NOISE[:4], PEOPLE[:4], None, "fewer_people"),
    ],
    ids=["as condition", "equal", "no scatter", "few", "nobody", "two people"],
)
def test_a_model_that_cannot_be_is_not_defined_and_says_why(differences, people, faster, reason):
    """No number, and no warning of a library in its place."""
    terms = None if faster is None else {"difference_in_speed": faster}
    found = mixed_effect(differences, people, terms=terms)
    assert found.reason.code == reason
    assert np.isnan([found.difference, found.standard_error, found.low, found.high]).all()


def test_as_many_values_as_people_and_columns_are_enough():
    """One of five people came twice, or two where speed is held: the fewest that have a model."""
    for n_twice, terms in ((1, {}), (2, {"difference_in_speed": NOISE[3:]})):
        found = mixed_effect(NOISE[: 5 + n_twice], np.arange(5 + n_twice) % 5, terms=terms)
        assert found.reason is None and found.low < found.difference < found.high


def speed_rows(measure, values):
    """Make rows of one measure: (value, reference value) of each person."""
    base = {"unit": "x", "side_role": "affected", "condition_code": "a", "reference_code": "b"}
    base |= {"visit_no": 1, "typical": "", "verdict": "not_shown", "measure_id": measure}
    return [
        base | {"export_id": f"p{n}", "value": v, "reference_value": r, "difference": v - r}
        for n, (v, r) in enumerate(values)
    ]


def test_the_speed_adjusted_difference_is_the_one_at_equal_speed():
    """Angles that follow speed alone: unadjusted a difference, adjusted none; by another search."""
    rng = np.random.default_rng(2)
    speeds = np.column_stack([1.2 + 0.2 * rng.normal(size=15), 1.0 + 0.2 * rng.normal(size=15)])
    own = rng.normal(size=(15, 1))
    angles = 10 * speeds + own + 0.1 * rng.normal(size=(15, 2))
    angles[3, 0] = np.nan
    rows = speed_rows(SPEED, speeds) + speed_rows(SWING, np.delete(angles, 3, axis=0))
    ids = [f"p{n}" for n in range(15) if n != 3]
    for row, name in zip(rows[15:], ids, strict=True):
        row["export_id"] = name
    table = statistics_table(pd.DataFrame(rows), n_people=15)
    row, kept = row_of(table, SWING), np.delete(np.arange(15), 3)
    y, x = angles[kept].T.ravel(), speeds[kept].T.ravel()
    design = np.column_stack([x[:14] - x[14:], np.ones(14)])
    effect = np.linalg.lstsq(design, y[:14] - y[14:])[0][1]
    assert row["mixed_difference"] == pytest.approx(np.diff(angles[kept], axis=1).mean() * -1)
    assert row["speed_adjusted_difference"] == pytest.approx(effect, abs=1e-4)
    assert row["speed_adjusted_low"] < 0 < row["speed_adjusted_high"]
    assert row["mixed_low"] > 0
    assert (row["speed_adjusted_n_people"], row["speed_adjusted_n_differences"]) == (14, 14)
    speed = row_of(table, SPEED)
    assert unpacked(speed["speed_adjusted_reason"]) == (Reason("speed_is_the_measure"),)
    assert np.isnan(speed["speed_adjusted_difference"])


def test_without_speed_there_is_no_adjusted_model():
    """And the plain one stands."""
    rng = np.random.default_rng(4)
    table = statistics_table(pd.DataFrame(speed_rows(SWING, rng.normal(size=(6, 2)))), n_people=6)
    row = row_of(table, SWING)
    assert unpacked(row["speed_adjusted_reason"]) == (FEWER,)
    assert row["speed_adjusted_n_people"] == 0
    assert np.isfinite(row["mixed_difference"])


def test_the_mean_difference_has_the_interval_of_another_library():
    """Interval over people against scipy's one-sample t test."""
    differences = np.random.default_rng(5).normal(3, 2, size=9)
    mean, low, high = mean_difference(differences)
    other = stats.ttest_1samp(differences, 0).confidence_interval()
    assert mean == pytest.approx(differences.mean())
    assert (low, high) == pytest.approx(tuple(other))


def test_people_who_all_change_by_the_same_give_no_interval():
    """All at 0, as a share of strides can be: an interval from 0 to 0 would feign certainty."""
    mean, low, high = mean_difference(np.zeros(6))
    assert mean == 0
    assert np.isnan([low, high]).all()


def test_few_people_give_no_interval_and_no_model():
    """One person has a difference and nothing more; two have an interval; for a model see above."""
    _, low, high = mean_difference(np.array([1.0, 3.0]))
    assert (low + high) / 2 == pytest.approx(2.0) and high - low == pytest.approx(
        2 * stats.t.isf(0.025, 1)
    )
    mean, low, _ = mean_difference(np.array([2.0]))
    assert mean == 2.0
    assert np.isnan(low)


@pytest.fixture(scope="module")
def changes():
    """Six rise by 12 degrees, two by nothing, two fall by 12."""
    clean, _ = deidentify(cohort(10, effects=[12.0] * 6 + [0.0] * 2 + [-12.0] * 2))
    return change_table(clean)


def row_of(table, measure):
    return table[table["measure_id"] == measure].iloc[0]


def test_the_counts_are_those_of_the_verdicts(changes):
    """Everybody is counted once, whatever is said of them."""
    table = statistics_table(changes, n_people=11)
    swing = row_of(table, SWING)
    counted = [name for name in table.columns if name.startswith("n_") and name != "n_people"]
    assert swing[counted].sum() == 11
    assert swing["n_missing"] == 1
    larger = swing[["n_toward", "n_away", "n_larger_without_direction"]].sum()
    assert larger == 8
    assert swing["n_no_change_larger"] + swing["n_not_shown"] == 2


def test_not_defined_is_counted_and_never_averaged(changes):
    """Nobody lands on the heel: no rate, ten people not defined, no difference."""
    rate = row_of(statistics_table(changes, n_people=10), RATE)
    assert (rate["n_people"], rate["n_not_defined"] + rate["n_not_comparable"]) == (0, 10)
    assert np.isnan(rate["mean_difference"])
    assert unpacked(rate["mixed_reason"]) == (FEWER,)


def test_the_mean_over_people_is_that_of_their_rows(changes):
    """Mean and paired t interval by pandas and scipy from the change table itself."""
    swing = row_of(statistics_table(changes, n_people=10), SWING)
    own = changes.loc[changes["measure_id"] == SWING, "difference"].astype(float)
    interval = stats.ttest_1samp(own, 0).confidence_interval()
    assert swing["mean_difference"] == pytest.approx(own.mean())
    assert (swing["low"], swing["high"]) == pytest.approx((interval.low, interval.high))


def test_the_first_visit_counts_and_the_model_takes_all():
    """Of each person the earliest visit with a pair, whatever its number and place in the table."""
    judged = {
        ("p0", 1): (1.0, NO_CHANGE, ""),
        ("p0", 2): (10.0, LARGER, TOWARD),
        ("p1", 2): (3.0, LARGER, AWAY),
        ("p1", 3): (30.0, LARGER, TOWARD),
    }
    rows = []
    for (person, visit), (difference, verdict, typical) in reversed(judged.items()):
        (row,) = speed_rows(SWING, [(difference, 0.0)])
        said = {"export_id": person, "visit_no": visit, "verdict": verdict, "typical": typical}
        rows.append(row | said)
    found = statistics_table(pd.DataFrame(rows), n_people=2).iloc[0]
    assert (found["n_people"], found["mixed_n_differences"], found["mixed_n_people"]) == (2, 4, 2)
    assert found["mean_difference"] == pytest.approx((1.0 + 3.0) / 2)
    assert tuple(found[["n_no_change_larger", "n_away", "n_toward"]]) == (1, 1, 0)


def test_shares_are_of_those_who_could_be_judged():
    """One toward, one away, two within; one not defined and one missing do not count."""
    said = [(LARGER, TOWARD), (LARGER, AWAY), (NO_CHANGE, ""), (NO_CHANGE, ""), (NOT_DEFINED, "")]
    rows = speed_rows(SWING, [(1.0, 0.0)] * len(said))
    for row, (verdict, typical) in zip(rows, said, strict=True):
        row |= {"verdict": verdict, "typical": typical}
    found = statistics_table(pd.DataFrame(rows), n_people=6).iloc[0]
    shares = found[["share_toward_percent", "share_away_percent", "share_no_change_larger_percent"]]
    assert tuple(shares) == (25, 25, 50)
    assert (found["n_not_defined"], found["n_missing"]) == (1, 1)


def test_both_affected_sides_of_a_person_are_one_person():
    """Two rows of one person with two differences count once, with their mean."""
    base = {
        "measure_id": SPEED,
        "unit": "m/s",
        "side_role": "affected",
        "condition_code": "a",
        "reference_code": "b",
        "visit_no": 1,
        "typical": "",
        "reference_value": 1.0,
    }
    rows = [
        base | {"export_id": "p1", "difference": 0.5, "value": 1.5, "verdict": "not_shown"},
        base | {"export_id": "p1", "difference": 0.1, "value": 1.1, "verdict": "not_shown"},
        base | {"export_id": "p2", "difference": 0.1, "value": 1.1, "verdict": "not_shown"},
    ]
    found = statistics_table(pd.DataFrame(rows), n_people=2).iloc[0]
    assert found["n_people"] == 2
    assert found["mean_difference"] == pytest.approx(0.2)
    assert found["n_not_shown"] == 2


def test_the_order_of_rows_does_not_depend_on_who_comes_first():
    """Random ids shuffle people; one whose right side is affected first, then last."""
    left, right = speed_rows(SWING, [(1.0, 0.0)] * 3), speed_rows(SWING, [(1.0, 0.0)] * 3)
    right = [row | {"side_role": "other"} for row in right]
    found = [
        statistics_table(pd.DataFrame(rows + speed_rows(SPEED, [(1.0, 0.9)])), n_people=3)
        for rows in (left + right, right + left)
    ]
    assert found[0]["side_role"].tolist() == ["affected", "other", "affected"]
    pd.testing.assert_frame_equal(*found)
