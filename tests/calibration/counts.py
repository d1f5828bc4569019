"""Do counts of steps and trends over the walks keep their promises? Made-up walks, as real ones.

In comes a number of runs, out come rows for ``certainty_calibration``: how often walks dealt anew
claim a change of counted steps that is not there, how often the intervals of the shares hold the
truth, and how often a drift is named.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final

import numpy as np

from gaittrack.compare.intervals.counts import ALPHA, all_deals, deal_gaps, share_bounds
from gaittrack.compare.intervals.trend import find_trend
from gaittrack.trial import FloatArray

Row = tuple[str, str, int, float]
COUNTS: Final = ((2, 2), (2, 5), (3, 3), (2, 8), (3, 5), (4, 4), (5, 5), (4, 8), (8, 8))
STEPS: Final = (3, 8)
"""Fewest and most steps of one foot in a walk."""
LIKENESS: Final = (0.0, 0.3, 0.9)
"""Correlation of the steps of one walk."""
SHARES: Final = (0.02, 0.2, 0.5, 0.95)


def draw_steps(
    n_walks: int, share: float, likeness: float, runs: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Return the share of steps of a kind in each walk, shape (runs, n_walks), and steps seen."""
    chance = np.full((runs, n_walks), share)
    if likeness:
        spread = 1 / likeness - 1
        chance = rng.beta(share * spread, (1 - share) * spread, size=chance.shape)
    seen = rng.integers(STEPS[0], STEPS[1] + 1, size=chance.shape)
    return rng.binomial(seen, chance) / seen, seen.sum(axis=1).astype(float)


def claimed(own: FloatArray, reference: FloatArray, deals: FloatArray) -> float:
    """Return how often dealing the walks anew shows a change, per cent."""
    observed = np.abs(own.mean(axis=1) - reference.mean(axis=1))
    dealt = deal_gaps(np.concatenate([own, reference], axis=1), deals)
    ps = (dealt >= observed[:, None] - 1e-9).mean(axis=1)
    return float(100 * np.mean(ps <= ALPHA))


def count_rows(runs: int, rng: np.random.Generator, thin: int) -> Iterator[Row]:
    """Yield false claims, found changes and coverage of counted steps."""
    settings = itertools.product(COUNTS, LIKENESS)
    for (n, m), likeness in itertools.islice(settings, 0, None, thin):
        deals = all_deals(n, n + m)
        most = min(runs, 4_000_000 // len(deals))
        for share in SHARES:
            own, seen = draw_steps(n, share, likeness, runs, rng)
            reference, reference_seen = draw_steps(m, share, likeness, runs, rng)
            name = f"{n} v {m} walks, share {share:g}, likeness {likeness:g}"
            false = claimed(own[:most], reference[:most], deals)
            yield "counts unchanged, claimed", name, most, false
            own_bounds = share_bounds(own, seen)
            held = _held(share, own_bounds)
            yield "share interval covers", name, runs, held
            other_bounds = share_bounds(reference, reference_seen)
            held = _difference_held(own, own_bounds, reference, other_bounds)
            yield "difference of shares covers", name, runs, held
        changed = [draw_steps(k, s, likeness, most, rng)[0] for k, s in ((n, 0.9), (m, 0.1))]
        name = f"{n} v {m} walks, likeness {likeness:g}"
        yield "counts from 10 to 90 %, found", name, most, claimed(changed[0], changed[1], deals)


def _held(truth: float, bounds: tuple[FloatArray, FloatArray]) -> float:
    return float(100 * np.mean((bounds[0] <= truth) & (truth <= bounds[1])))


def _difference_held(
    own: FloatArray,
    own_bounds: tuple[FloatArray, FloatArray],
    reference: FloatArray,
    reference_bounds: tuple[FloatArray, FloatArray],
) -> float:
    first, second = own.mean(axis=1), reference.mean(axis=1)
    (low, high), (other_low, other_high) = own_bounds, reference_bounds
    fall, rise = (
        np.hypot(first - low, other_high - second),
        np.hypot(high - first, second - other_low),
    )
    off = first - second
    return float(100 * np.mean((off - fall <= 1e-9) & (off + rise >= -1e-9)))


def trend_rows(runs: int, rng: np.random.Generator) -> Iterator[Row]:
    """Yield how often a drift is named: without any, through both conditions, and in one only."""
    for n, (words, slope, other) in itertools.product(
        (3, 5, 8), (("no", 0, 0), ("0.5 SD a walk in both", 0.5, 0.5), ("1 SD in one", 1, 0))
    ):
        walks = rng.normal(size=(2, runs, n)) + np.array([slope, other])[:, None, None] * np.arange(
            n
        )
        is_named = [find_trend(*pair).is_named for pair in walks.transpose(1, 0, 2)]
        yield f"trend named: {words}", f"{n} + {n} walks", runs, float(100 * np.mean(is_named))
