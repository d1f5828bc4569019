"""Do intervals within one walk and bands of curves keep their promises? A simulation study.

    python -m tests.calibration.walks_and_curves --runs 4000 --out calibration.csv

In comes a number of runs, out comes a table: per setting how often the interval or band held the
truth. Walks are made as mean + scatter between walks + scatter between strides; curves as smooth
random curves. Everything is judged by the very functions a comparison uses. The interval of a
difference, families of questions and claims: ``comparisons.py``.
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
from gaittrack.compare.intervals.certainty import walks_half_width
from gaittrack.compare.intervals.curve_bands import critical_t, roughness
from gaittrack.compare.intervals.interval import block_values
from gaittrack.trial import FloatArray

SEED: Final = 20260105
STRIDE_SD: Final = 1.0
"""All scatter is in units of the scatter between strides."""
STRIDE_COUNTS: Final = ((50, 50), (80, 80), (200, 200), (60, 200))
BAND_WALKS: Final = (4, 5, 6, 8, 12)
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


def _misses(values: FloatArray, reference: FloatArray) -> FloatArray:
    return np.asarray(np.abs(values.mean(axis=1) - reference.mean(axis=1)), dtype=np.float64)


def _percent(is_true: object) -> float:
    return float(100 * np.mean(np.asarray(is_true)))


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
    return _percent(_misses(both[0], both[1]) <= walks_half_width(blocks[0], blocks[1]))


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


def run_study(runs: int, *, seed: int = SEED) -> pd.DataFrame:
    """Run the whole study.

    Parameters
    ----------
    runs : int
        Simulated persons per setting.

    Returns
    -------
    DataFrame
        Columns ``study, setting, runs, share_percent``.
    """
    rows = list(_coverage_rows(runs, np.random.default_rng(seed)))
    return pd.DataFrame(rows, columns=list(COLUMNS))


_Row = tuple[str, str, int, float]


def _coverage_rows(runs: int, rng: np.random.Generator) -> Iterator[_Row]:
    for pair, correlation in itertools.product(STRIDE_COUNTS, (0.0, 0.25, 0.5)):
        name = f"{pair[0]} v {pair[1]} strides, correlation {correlation:g}"
        share = within_walk_coverage(pair, correlation, runs, rng)
        yield "within-walk coverage", name, runs, share
    for n_walks, width in itertools.product(BAND_WALKS, (10.0, 20.0, 40.0)):
        name = f"{n_walks} walks, smoothness {width:g} % of the cycle"
        yield "band coverage", name, runs, band_coverage(n_walks, width, runs, rng)


def write_study(table: pd.DataFrame, path: Path, *, seed: int) -> None:
    """Write the table with a header that says how it was made."""
    runs = int(table["runs"].max())
    header = (
        f"# Made by: python -m tests.calibration.walks_and_curves --runs {runs} --seed {seed} "
        f"--out {path.name}\n# gaittrack {__version__}, numpy {np.__version__}; share_percent is "
        "the share of simulated persons.\n# Coverage is promised at 93-97 %.\n"
    )
    path.write_text(
        header + table.to_csv(index=False, float_format="%.2f", lineterminator="\n"),
        encoding="utf-8",
    )


def main(arguments: list[str] | None = None) -> None:
    """Run the study from the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.calibration.walks_and_curves")
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
