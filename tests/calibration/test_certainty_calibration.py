"""The study of certainty, run small: it judges by the code of today, no kept result stands in."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from gaittrack.compare.intervals.counts import all_deals
from tests.calibration import comparisons, counts
from tests.calibration.comparisons import (
    coverage,
    draw_pair,
    draw_visits,
    main,
    place,
    run_study,
)
from tests.calibration.counts import claimed, draw_steps
from tests.calibration.walks_and_curves import COLUMNS

RUNS = 600


@pytest.fixture(scope="module")
def small():
    """Run the study small, every seventh setting of coverage, families, splits and counts."""
    return run_study(RUNS, seed=7, thin=7)


def _found(table, study):
    found = table[table["study"].str.startswith(study)]
    assert len(found)
    return found


def _shares(table, study):
    return _found(table, study)["share_percent"]


def _is_within(found, least, most):
    """Tell whether every share may come from a true one between the two (99.9 % over all)."""
    runs, tail = found["runs"].to_numpy(), 0.001 / len(found)
    low = 100 * stats.binom.ppf(tail, runs, least / 100) / runs
    high = 100 * stats.binom.isf(tail, runs, most / 100) / runs
    return ((low <= found["share_percent"]) & (found["share_percent"] <= high)).all()


@pytest.mark.parametrize(
    ("study", "least", "most"),
    [
        ("whole interval covers, three walks or more", 93, 97),
        ("whole interval covers, two walks", 93, 99),
        ("covers, walks of unequal length", 93, 97),
        ("covers with an outlier", 93, 100),
        ("covers with own figures", 93, 99),
    ],
)
def test_the_whole_interval_covers_what_it_promises(small, study, least, most):
    """Equal and unequal counts and scatter, markers left on and put on again."""
    assert _is_within(_found(small, study), least, most)


def test_walks_alone_would_fail_where_markers_were_put_on_again(small):
    """The same bounds catch an interval that forgets the markers; with none moved it holds."""
    walks = _found(small, "walks alone cover")
    is_moved = ~walks["setting"].str.endswith("tau 0")
    assert _is_within(walks[~is_moved], 93, 99)
    assert not _is_within(walks[is_moved], 93, 99) and walks[is_moved]["share_percent"].min() < 60


def test_a_family_claims_a_change_that_is_not_there_in_at_most_5_percent(small):
    """Equal weights and two aims, sixteen questions; row by row it would be 25 % and more."""
    assert _is_within(_found(small, "nothing changed, a family claims"), 0, 5)
    assert _shares(small, "nothing changed, row by row").min() > 20


def test_random_splits_of_one_persons_walks_claim_a_change_in_at_most_5_percent(small):
    """Without any error asked for, and with a drift over the day."""
    assert _is_within(_found(small, "random split claims"), 0, 5)


def test_power_rises_with_the_change_and_an_aim_is_found_nearly_as_if_alone(small):
    """At 1, 1.5 and 2 x the error: 5 + 5 walks find twice the error nearly always as an aim."""
    for words in ("alone", "among 16", "as the aim"):
        power = [_shares(small, f"power at {f} x error {words}").mean() for f in ("1", "1.5", "2")]
        assert power[0] < power[1] < power[2]
    found = _found(small, "power at 2 x error as the aim")
    five = found[found["setting"].str.contains("5 \\+ 5")]
    assert five["share_percent"].mean() > 85
    aim, alone = (_shares(small, f"power at 2 x error {words}") for words in ("as the", "alone"))
    assert alone.mean() - aim.mean() < 5


def test_a_true_change_as_large_as_the_error_is_seldom_called_no_larger(small):
    """In at most 15 %."""
    assert _is_within(_found(small, "changed by the error, called no larger"), 0, 15)


def test_a_drift_is_named_in_1_percent_without_one_and_often_with_one(small):
    """Eight walks each see half a standard deviation a walk."""
    assert _is_within(_found(small, "trend named: no"), 0.9, 1.1)
    assert _shares(small, "trend named: 0.5").max() > 60


def test_counts_claim_a_change_that_is_not_there_in_at_most_5_percent(small):
    """2-8 walks, equal and unequal, steps of one walk alike or not."""
    assert _is_within(_found(small, "counts unchanged, claimed"), 0, 5)


def test_shares_and_their_difference_lie_in_their_intervals_in_93_percent_or_more(small):
    """Also near 0 and 100 %, and where all steps of a walk are alike."""
    for study in ("share interval covers", "difference of shares covers"):
        assert _is_within(_found(small, study), 93, 100)


def test_counts_of_three_and_three_walks_never_tell_and_of_five_and_five_do():
    """From 10 to 90 %."""
    rng, found = np.random.default_rng(2), {}
    for n in (3, 5):
        own, other = (draw_steps(n, share, 0.0, RUNS, rng)[0] for share in (0.9, 0.1))
        found[n] = claimed(own, other, all_deals(n, 2 * n))
    assert found[3] == 0 and found[5] > 95


def test_dealing_steps_instead_of_walks_would_claim_too_much():
    """Fisher's test of steps, alike within a walk, fails the bound that walks hold."""
    rng = np.random.default_rng(0)
    a, b = (draw_steps(4, 0.5, 0.9, 300, rng) for _ in range(2))
    tables = [
        [[kind, seen - kind], [other, other_seen - other]]
        for (kind, seen), (other, other_seen) in (
            ((round(x.mean() * n), n), (round(y.mean() * m), m))
            for x, n, y, m in zip(a[0], a[1].astype(int), b[0], b[1].astype(int), strict=True)
        )
    ]
    ps = [stats.fisher_exact(table).pvalue for table in tables]
    claimed = pd.DataFrame({"runs": [300], "share_percent": [100 * np.mean(np.array(ps) <= 0.05)]})
    assert not _is_within(claimed, 0, 5)


def test_made_up_persons_are_what_they_claim_to_be():
    """Scatter of walks, of placements and of repeat visits; likeness of steps."""
    rng = np.random.default_rng(1)
    first, second = draw_pair((4, 5), (2.0, 1.0), 20000, rng)
    assert (first.std(), second.std()) == pytest.approx((2, 1), rel=0.02)
    moved, _ = place((np.zeros((20000, 3)), np.zeros((20000, 3))), 1.5, rng)
    assert (moved == moved[:, :1]).all() and moved.std() == pytest.approx(1.5, rel=0.02)
    sem, error = draw_visits(20, 2.0, 2000, rng)
    assert np.mean(sem**2) == pytest.approx(4 + 1 / 5, rel=0.03)
    assert np.mean(error**2) == pytest.approx(1 / 5, rel=0.03)
    shares, seen = draw_steps(3, 0.2, 0.9, 20000, rng)
    assert shares.mean() == pytest.approx(0.2, abs=0.01) and seen.mean() == pytest.approx(
        16.5, 0.01
    )
    assert coverage(draw_pair((5, 5), (1, 1), 4000, rng), 0.0, rng)[0] == pytest.approx(95, abs=1.5)


def test_the_command_writes_its_table_and_prints_power(tmp_path, capsys, monkeypatch):
    """A few runs of few settings."""
    monkeypatch.setattr(comparisons, "COUNTS", ((3, 3),))
    monkeypatch.setattr(comparisons, "UNEQUAL", ((2, 3),))
    monkeypatch.setattr(counts, "COUNTS", ((3, 3),))
    path = tmp_path / "out.csv"
    main(["--runs", "20", "--seed", "3", "--out", str(path)])
    assert tuple(pd.read_csv(path).columns) == COLUMNS
    printed = capsys.readouterr().out
    assert "power at 1.5 x error as the aim" in printed and "whole interval covers" in printed
