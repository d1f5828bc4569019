"""Does the statistics part keep its promises? A simulation study of what it shows.

    python -m gaittrack.compare.calibration --runs 4000 --out calibration.csv

In comes a number of runs, out comes a table: per setting how often the interval or band held the
truth, how often a change was claimed when there was none, and how often a real one was found. Walks
are made as mean + scatter between walks + scatter between strides; curves as smooth random
curves. Everything is judged by the very functions a comparison uses.
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from gaittrack import __version__
from gaittrack.compare.curve_bands import critical_t, roughness
from gaittrack.compare.interval import block_values, half_width, reason_for_none
from gaittrack.trial import FloatArray

SEED: Final = 20260105
STRIDE_SD: Final = 1.0
"""All scatter is in units of the scatter between strides."""
WALK_COUNTS: Final = tuple(itertools.product(range(2, 9), repeat=2))
SCATTER_RATIOS: Final = (0.0, 0.25, 0.5, 1.0)
"""Scatter between walks over scatter between strides."""
SCATTER_FACTORS: Final[dict[str, tuple[float, float]]] = {
    "equal scatter": (1.0, 1.0),
    "first twice as noisy": (2.0, 1.0),
    "second twice as noisy": (1.0, 2.0),
}
STRIDES: Final[dict[str, tuple[int, int]]] = {"6 strides": (6, 6), "3-12 strides": (3, 12)}
COLUMNS: Final = ("study", "setting", "runs", "share_percent")


@dataclass(frozen=True, slots=True)
class WalkSetting:
    """How the walks of one condition scatter.

    Attributes
    ----------
    between, within : float
        Standard deviations between walks and between strides.
    strides : (int, int)
        Fewest and most strides of a walk.
    """

    n_walks: int
    between: float
    within: float = STRIDE_SD
    strides: tuple[int, int] = (6, 6)


def draw_walk_values(
    setting: WalkSetting, runs: int, rng: np.random.Generator, *, is_skewed: bool = False
) -> FloatArray:
    """Return walk values of made-up conditions whose true mean is 0, shape (runs, n_walks)."""
    fewest, most = setting.strides
    shape = (runs, setting.n_walks, most)
    noise = (rng.gamma(2.0, size=shape) - 2) / np.sqrt(2) if is_skewed else rng.normal(size=shape)
    counts = rng.integers(fewest, most + 1, size=shape[:2])
    is_there = np.arange(most) < counts[..., None]
    means: FloatArray = (noise * is_there).sum(axis=-1) / counts
    offsets: FloatArray = rng.normal(size=shape[:2]) * setting.between
    values: FloatArray = setting.within * means + offsets
    return values


def pair_coverage(
    first: WalkSetting,
    second: WalkSetting,
    runs: int,
    rng: np.random.Generator,
    *,
    is_skewed: bool = False,
) -> float:
    """Return how often the interval of a pair holds the true difference 0, per cent."""
    values = draw_walk_values(first, runs, rng, is_skewed=is_skewed)
    reference = draw_walk_values(second, runs, rng, is_skewed=is_skewed)
    return _percent(_misses(values, reference) <= half_width(values, reference))


def _misses(values: FloatArray, reference: FloatArray) -> FloatArray:
    return np.asarray(np.abs(values.mean(axis=1) - reference.mean(axis=1)), dtype=np.float64)


def _percent(is_true: object) -> float:
    return float(100 * np.mean(np.asarray(is_true)))


def family_coverage(
    n_others: int, reference: WalkSetting, other: WalkSetting, runs: int, rng: np.random.Generator
) -> float:
    """Return how often all intervals against one reference hold at once, per cent."""
    shared = draw_walk_values(reference, runs, rng)
    is_held = np.ones(runs, dtype=bool)
    for _ in range(n_others):
        values = draw_walk_values(other, runs, rng)
        half = half_width(values, shared, n_comparisons=n_others)
        is_held &= _misses(values, shared) <= half
    return _percent(is_held)


def draw_strides(
    n_strides: int, correlation: float, runs: int, rng: np.random.Generator
) -> FloatArray:
    """Return strides with first-order correlation, shape (runs, n_strides), unit variance."""
    noise = rng.normal(size=(runs, n_strides)) * np.sqrt(1 - correlation**2)
    strides: FloatArray = np.empty(noise.shape)
    strides[:, 0] = rng.normal(size=runs)
    for place in range(1, n_strides):
        strides[:, place] = correlation * strides[:, place - 1] + noise[:, place]
    return strides


def within_walk_coverage(
    counts: tuple[int, int], correlation: float, runs: int, rng: np.random.Generator
) -> float:
    """Return how often the block interval of two long walks holds the true difference, per cent."""
    both = [draw_strides(n_strides, correlation, runs, rng) for n_strides in counts]
    blocks = [block_values(strides) for strides in both]
    return _percent(_misses(both[0], both[1]) <= half_width(blocks[0], blocks[1]))


def draw_curves(
    n_walks: int, width_percent: float, runs: int, rng: np.random.Generator
) -> FloatArray:
    """Return smooth random curves of mean 0, shape (runs, n_walks, 101).

    ``width_percent`` is the full width at half maximum of the smoothing kernel; scatter varies
    along the cycle from 0.2 to 1.8.
    """
    spread = width_percent / np.sqrt(8 * np.log(2))
    reach = int(4 * spread) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / spread) ** 2)
    kernel /= np.sqrt((kernel**2).sum())
    length = 101 + 2 * reach
    spectrum = np.fft.rfft(rng.normal(size=(runs, n_walks, length))) * np.fft.rfft(kernel, length)
    smooth = np.fft.irfft(spectrum, length)[..., 2 * reach :]
    scatter = 1 + 0.8 * np.sin(np.linspace(0, 2 * np.pi, 101))
    return np.asarray(smooth * scatter, dtype=np.float64)


def band_coverage(n_walks: int, width_percent: float, runs: int, rng: np.random.Generator) -> float:
    """Return how often the band holds the true curve all along the cycle, per cent."""
    curves = draw_curves(n_walks, width_percent, runs, rng)
    means = curves.mean(axis=1)
    largest = np.abs(means / (curves.std(axis=1, ddof=1) / np.sqrt(n_walks))).max(axis=1)
    elements = np.array([roughness(each) for each in curves - means[:, None, :]])
    grid = np.linspace(elements.min(), elements.max() + 1e-9, 40)
    critical = np.array([critical_t(n_walks - 1, each) for each in grid])
    return _percent(largest <= np.interp(elements, grid, critical))


def claimed_share(
    true_change: float,
    floor: float,
    setting: WalkSetting,
    runs: int,
    rng: np.random.Generator,
) -> float:
    """Return how often a change is called larger than measurement error, per cent.

    As in ``verdict.judge``: the interval excludes 0 and the difference reaches the floor.
    """
    values = draw_walk_values(setting, runs, rng) + true_change
    reference = draw_walk_values(setting, runs, rng)
    size = _misses(values, reference)
    return _percent((size > half_width(values, reference)) & (size >= floor))


def split_claimed_share(
    n_walks: int, setting: WalkSetting, runs: int, rng: np.random.Generator
) -> float:
    """Return how often a random split of one person's walks claims a change, without any floor."""
    walks = draw_walk_values(setting, runs, rng)
    order = rng.permuted(np.tile(np.arange(setting.n_walks), (runs, 1)), axis=1)
    mixed = np.take_along_axis(walks, order, axis=1)
    first, second = mixed[:, :n_walks], mixed[:, n_walks:]
    return _percent(_misses(first, second) > half_width(first, second))


def pair_settings() -> Iterator[tuple[str, WalkSetting, WalkSetting, bool]]:
    """Yield every setting of the interval study: name, both conditions, whether skewed."""
    for (n, m), ratio, (words, factors), (counted, strides) in itertools.product(
        WALK_COUNTS, SCATTER_RATIOS, SCATTER_FACTORS.items(), STRIDES.items()
    ):
        if reason_for_none(n, m):
            continue
        conditions = [
            WalkSetting(count, ratio * factor, factor, strides)
            for count, factor in zip((n, m), factors, strict=True)
        ]
        name = f"{n} v {m} walks, ratio {ratio:g}, {words}, {counted}"
        yield name, conditions[0], conditions[1], False
    for n, ratio in itertools.product((3, 5, 8), (0.0, 1.0)):
        setting = WalkSetting(n, ratio, strides=(3, 12))
        yield f"{n} v {n} walks, ratio {ratio:g}, skewed strides", setting, setting, True


def run_study(runs: int, *, seed: int = SEED, thin: int = 1) -> pd.DataFrame:
    """Run the whole study.

    Parameters
    ----------
    runs : int
        Simulated persons per setting.
    thin : int
        Take only every ``thin``-th setting of the large interval study.

    Returns
    -------
    DataFrame
        Columns ``study, setting, runs, share_percent``.
    """
    rng = np.random.default_rng(seed)
    rows = [*_interval_rows(runs, rng, thin), *_other_coverage_rows(runs, rng)]
    rows += _claim_rows(runs, rng)
    return pd.DataFrame(rows, columns=list(COLUMNS))


_Row = tuple[str, str, int, float]


def _interval_rows(runs: int, rng: np.random.Generator, thin: int) -> Iterator[_Row]:
    for name, first, second, is_skewed in itertools.islice(pair_settings(), 0, None, thin):
        share = pair_coverage(first, second, runs, rng, is_skewed=is_skewed)
        yield "interval coverage", name, runs, share


def _other_coverage_rows(runs: int, rng: np.random.Generator) -> Iterator[_Row]:
    counts = ((2, 2), (3, 3), (5, 5), (8, 8), (3, 6), (6, 3), (8, 4), (8, 3))
    for k, (n, m), factors in itertools.product((2, 3, 5), counts, SCATTER_FACTORS.items()):
        words, (own, other) = factors
        settings = WalkSetting(n, 0.5 * own, own), WalkSetting(m, 0.5 * other, other)
        name = f"{k} conditions of {m} walks v reference of {n}, {words}"
        yield "family coverage", name, runs, family_coverage(k, *settings, runs, rng)
    for pair, correlation in itertools.product(
        ((50, 50), (80, 80), (200, 200), (60, 200)), (0.0, 0.25, 0.5)
    ):
        name = f"{pair[0]} v {pair[1]} strides, correlation {correlation:g}"
        share = within_walk_coverage(pair, correlation, runs, rng)
        yield "within-walk coverage", name, runs, share
    for n_walks, width in itertools.product((4, 5, 6, 8, 12), (10.0, 20.0, 40.0)):
        name = f"{n_walks} walks, smoothness {width:g} % of the cycle"
        yield "band coverage", name, runs, band_coverage(n_walks, width, runs, rng)


def _claim_rows(runs: int, rng: np.random.Generator) -> Iterator[_Row]:
    for n, ratio in itertools.product((2, 3, 4, 6, 8), SCATTER_RATIOS):
        name = f"{n} + {n} walks, ratio {ratio:g}"
        setting = WalkSetting(2 * n, ratio)
        yield "split claims a change", name, runs, split_claimed_share(n, setting, runs, rng)
        for label, (floor, within) in HEADLINE.items():
            person = WalkSetting(n, ratio * within, within)
            share = claimed_share(0.0, floor, person, runs, rng)
            yield "nothing changed, claimed", f"{label}, {name}", runs, share
            for factor in (1.0, 1.5, 2.0):
                share = claimed_share(factor * floor, floor, person, runs, rng)
                yield f"power at {factor:g} x floor", f"{label}, {name}", runs, share


HEADLINE: Final[dict[str, tuple[float, float]]] = {
    "loading-response rate": (35.0, 40.0),
    "peak swing dorsiflexion": (5.0, 3.0),
    "minimum toe clearance": (5.0, 4.0),
    "peak hip flexion": (5.0, 3.0),
}
"""Floor (markers moved) and scatter between strides, in the unit of the measure. Scatter: 3 deg and
40 deg/s are the worked figures beside the floors; 4 mm is the upper part of 2-5 mm from memory."""


def write_study(table: pd.DataFrame, path: Path, *, seed: int) -> None:
    """Write the table with a header that says how it was made."""
    runs = int(table["runs"].max())
    header = (
        f"# Made by: python -m gaittrack.compare.calibration --runs {runs} --seed {seed} "
        f"--out {path.name}\n# gaittrack {__version__}, numpy {np.__version__}; share_percent is "
        "the share of simulated persons.\n# Coverage is promised at 93-97 %, families at 93 % or "
        "more, claims without a change at 5 % or less.\n"
    )
    path.write_text(
        header + table.to_csv(index=False, float_format="%.2f", lineterminator="\n"),
        encoding="utf-8",
    )


def main(arguments: list[str] | None = None) -> None:
    """Run the study from the command line."""
    parser = argparse.ArgumentParser(prog="python -m gaittrack.compare.calibration")
    parser.add_argument("--runs", type=int, default=2000, help="simulated persons per setting")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--out", type=Path, default=Path("calibration.csv"))
    chosen = parser.parse_args(arguments)
    if chosen.runs < 1:
        parser.error("--runs must be 1 or more")
    table = run_study(chosen.runs, seed=chosen.seed)
    write_study(table, chosen.out, seed=chosen.seed)
    summary = table.groupby("study", sort=False)["share_percent"].agg(["min", "max", "count"])
    print(summary.to_string(float_format="%.2f"))


if __name__ == "__main__":
    main()
