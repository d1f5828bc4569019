"""The study of intervals within one walk and of bands, run small, by the code of today."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from tests.calibration import walks_and_curves
from tests.calibration.walks_and_curves import (
    COLUMNS,
    WalkSetting,
    draw_curves,
    draw_strides,
    draw_walk_values,
    main,
    run_study,
)

RUNS = 600


@pytest.fixture(scope="module")
def small():
    """Run the study small."""
    return run_study(RUNS, seed=7)


def _shares(table, study):
    found = table[table["study"] == study]["share_percent"]
    assert len(found)
    return found


def _at_least(percent, n_settings):
    """Lowest share that RUNS runs may show of a true one, over all settings (99.9 %)."""
    return 100 * stats.binom.ppf(0.001 / n_settings, RUNS, percent / 100) / RUNS


def _at_most(percent, n_settings):
    return 100 * stats.binom.isf(0.001 / n_settings, RUNS, percent / 100) / RUNS


COVERAGE = ("within-walk coverage", "band coverage")


@pytest.mark.parametrize("study", COVERAGE)
def test_small_run_covers_within_binomial_bounds_of_93_to_97_percent(small, study):
    """Blocks of 50-200 strides, alike or not; bands from 4 walks."""
    found = _shares(small, study)
    assert found.min() >= _at_least(93, len(found))
    assert found.max() <= _at_most(97, len(found))


def test_blocks_taken_for_independent_strides_would_fail_the_same_bounds():
    """Strides that follow one another are alike: their plain standard error covers far less."""
    rng = np.random.default_rng(0)
    a, b = (draw_strides(80, 0.5, RUNS, rng) for _ in range(2))
    half = 1.96 * np.sqrt((a.var(axis=1, ddof=1) + b.var(axis=1, ddof=1)) / 80)
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
    monkeypatch.setattr(walks_and_curves, "BAND_WALKS", (4,))
    path = tmp_path / "out.csv"
    main(["--runs", "20", "--seed", "3", "--out", str(path)])
    head = path.read_text().splitlines()[:3]
    assert "--runs 20 --seed 3" in head[0] and "gaittrack 0." in head[1]
    assert tuple(pd.read_csv(path, comment="#").columns) == COLUMNS
    assert "within-walk coverage" in capsys.readouterr().out
