"""The calibration study, run small; the large run's table is kept in tests/golden."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from gaittrack.compare.calibration import (
    COLUMNS,
    WalkSetting,
    draw_curves,
    draw_strides,
    draw_walk_values,
    main,
    run_study,
)

RUNS = 600
LARGE = Path(__file__).parents[1] / "golden" / "calibration_of_intervals.csv"


@pytest.fixture(scope="module")
def small():
    """Run the study small with another seed than the large run."""
    return run_study(RUNS, seed=7, thin=5)


@pytest.fixture(scope="module")
def large():
    """Return the table of the large run."""
    return pd.read_csv(LARGE, comment="#")


def _shares(table, study):
    found = table[table["study"] == study]["share_percent"]
    assert len(found)
    return found


def _at_least(percent, n_settings):
    """Lowest share that RUNS runs may show of a true one, over all settings (99.9 %)."""
    return 100 * stats.binom.ppf(0.001 / n_settings, RUNS, percent / 100) / RUNS


def _at_most(percent, n_settings):
    return 100 * stats.binom.isf(0.001 / n_settings, RUNS, percent / 100) / RUNS


COVERAGE = ("interval coverage", "within-walk coverage", "band coverage")
STUDIES = (
    *COVERAGE,
    *("family coverage", "nothing changed, claimed", "split claims a change"),
    *(f"power at {factor} x floor" for factor in ("1", "1.5", "2")),
)


@pytest.mark.parametrize("study", STUDIES)
def test_kept_table_is_what_the_code_does_today(small, large, study):
    """Settings made again agree with it, each by a binomial test and all on average."""
    again = small[small["study"] == study]
    pair = again.merge(large, on=["study", "setting"], suffixes=("", "_kept"), validate="1:1")
    assert len(pair) == len(again) >= 10
    kept = pair["share_percent_kept"].to_numpy() / 100
    held = (pair["share_percent"] * RUNS / 100).round().astype(int).to_numpy()
    chances = [stats.binomtest(n, RUNS, share).pvalue for n, share in zip(held, kept, strict=True)]
    assert min(chances) >= 0.001 / len(pair)
    spread = np.sqrt(np.sum(RUNS * kept * (1 - kept)))
    assert abs(np.sum(held - RUNS * kept)) <= 4 * spread


@pytest.mark.parametrize("study", COVERAGE)
def test_small_run_covers_within_binomial_bounds_of_93_to_97_percent(small, study):
    """Equal and unequal counts and scatter, 2-8 walks; bands from 4 walks."""
    found = _shares(small, study)
    assert found.min() >= _at_least(93, len(found))
    assert found.max() <= _at_most(97, len(found))


@pytest.mark.parametrize("study", COVERAGE)
def test_large_run_covers_93_to_97_percent(large, study):
    """10,000 simulated persons per setting, no allowance."""
    found = large[large["study"] == study]
    assert (found["runs"] >= 2000).all()
    assert found["share_percent"].min() >= 93
    assert found["share_percent"].max() <= 97


@pytest.mark.parametrize("which", ["small", "large"])
def test_families_of_intervals_hold_at_least_93_percent(which, request):
    """Conservative above."""
    found = _shares(request.getfixturevalue(which), "family coverage")
    assert found.min() >= (_at_least(93, len(found)) if which == "small" else 93)


def test_nothing_changed_is_called_changed_in_at_most_5_percent(small, large):
    """Each headline measure, each person kind in the large run; all together in the small."""
    study = "nothing changed, claimed"
    assert _shares(large, study).max() <= 5
    assert _shares(small, study).mean() <= 5


def test_random_splits_claim_a_change_in_at_most_5_percent(small, large):
    """Before any floor is asked."""
    study = "split claims a change"
    assert _shares(large, study).max() <= 5
    assert _shares(small, study).max() <= _at_most(5, len(_shares(small, study)))


def test_power_rises_with_the_change(large):
    """At 1, 1.5 and 2 x the floor, averaged over persons."""
    power = [_shares(large, f"power at {factor} x floor").mean() for factor in ("1", "1.5", "2")]
    assert power[0] < power[1] < power[2] and power[0] <= 55


def test_pooled_interval_would_fail_the_same_bounds():
    """A kind that is known not to hold (81 % at 2 noisy against 8 steady) is caught."""
    rng = np.random.default_rng(0)
    a = draw_walk_values(WalkSetting(2, 1.0, 2.0), RUNS, rng)
    b = draw_walk_values(WalkSetting(8, 0.5, 1.0), RUNS, rng)
    variance = (a.var(axis=1, ddof=1) + 7 * b.var(axis=1, ddof=1)) / 8
    half = stats.t.ppf(0.975, 8) * np.sqrt(variance * (1 / 2 + 1 / 8))
    share = 100 * np.mean(np.abs(a.mean(axis=1) - b.mean(axis=1)) <= half)
    assert share < _at_least(93, 1000)


def test_simulated_walks_have_the_scatter_they_claim():
    """Variance of a walk value: between + within / strides."""
    rng = np.random.default_rng(1)
    values = draw_walk_values(WalkSetting(5, 0.5, 2.0, (4, 4)), 20000, rng)
    assert values.var() == pytest.approx(0.25 + 4 / 4, rel=0.03)
    strides = draw_strides(200, 0.5, 2000, rng)
    assert np.mean(strides[:, 1:] * strides[:, :-1]) == pytest.approx(0.5, abs=0.02)
    assert draw_curves(2, 10.0, 3, rng).shape == (3, 2, 101)


def test_command_writes_a_table_that_says_how_it_was_made(tmp_path, capsys, monkeypatch):
    """Command, seed and version stand in its head."""
    monkeypatch.setattr("gaittrack.compare.calibration.WALK_COUNTS", ((3, 3),))
    path = tmp_path / "out.csv"
    main(["--runs", "20", "--seed", "3", "--out", str(path)])
    head = path.read_text().splitlines()[:3]
    assert "--runs 20 --seed 3" in head[0] and "gaittrack 0." in head[1]
    assert tuple(pd.read_csv(path, comment="#").columns) == COLUMNS
    assert "interval coverage" in capsys.readouterr().out
