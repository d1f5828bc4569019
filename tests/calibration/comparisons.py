"""Does the certainty of a comparison keep its promises? Made-up persons, judged as real ones are.

    python -m tests.calibration.comparisons --runs 20000 --out certainty.csv

In comes a number of runs, out comes a table: how often the whole interval held the truth, with
markers left on and put on again, with an outlying walk and with a laboratory's own figures; how
often a family of questions claimed a change that was not there; how often a true one was found.
Everything is judged by the functions that a comparison uses.
"""

from __future__ import annotations

import argparse
import itertools
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from gaittrack.compare.intervals.certainty import ALPHA, half_width, p_value, walks_half_width
from gaittrack.compare.intervals.holm import adjust, share_out
from gaittrack.compare.measurement_error.marker_errors import (
    MARKER_GROUPS,
    Handling,
    How,
    find_error,
)
from gaittrack.compare.measurement_error.placement import UNTOUCHED, Placement, placement_of_visits
from gaittrack.trial import FloatArray
from tests.calibration.counts import count_rows, trend_rows
from tests.calibration.walks_and_curves import COLUMNS, SEED, WalkSetting, draw_walk_values

Row = tuple[str, str, int, float]
COUNTS: Final = tuple((n, m) for n in range(2, 9) for m in range(2, 9))
UNEQUAL: Final = ((2, 2), (2, 3), (2, 8), (3, 3), (3, 5), (3, 8), (4, 8), (5, 5), (8, 8))
"""Counts for the slower studies: those where kinds of intervals change or fail first."""
SCATTER: Final = {
    "equal scatter": (1.0, 1.0),
    "first twice": (2.0, 1.0),
    "second twice": (1.0, 2.0),
}
TAUS: Final = (0.0, 0.5, 1.0, 2.0, 4.0)
"""In standard deviations of a walk value."""
QUESTIONS: Final = 16
"""Eight questions on two legs."""
POWER_FACTORS: Final = (1.0, 1.5, 2.0)
WALK_SD: Final = {
    "peak_swing_dorsiflexion_deg": 1.3,
    "foot_pitch_at_contact_deg": 1.3,
    "peak_hip_flexion_pelvis_thigh_deg": 1.3,
    "minimum_toe_clearance_mm": 1.8,
}
"""Of a walk value: strides scatter by 3 deg or 4 mm, six make a walk, walks differ by 0.3 of it."""


def draw_pair(
    counts: tuple[int, int], scatter: tuple[float, float], runs: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Return walk values of two conditions that do not differ, in walk standard deviations."""
    first, second = (rng.normal(size=(runs, n)) * sd for n, sd in zip(counts, scatter, strict=True))
    return first, second


def place(
    pair: tuple[FloatArray, FloatArray], tau: float, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Return both conditions with their markers put on anew: each shifts all its walks at once."""
    first, second = (each + tau * rng.normal(size=(len(each), 1)) for each in pair)
    return first, second


def gaps(pair: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Return how far apart the means of both conditions lie."""
    return np.asarray(np.abs(pair[0].mean(axis=1) - pair[1].mean(axis=1)), dtype=np.float64)


def percent(is_true: object) -> float:
    """Return the share of what is true."""
    return float(100 * np.mean(np.asarray(is_true)))


def coverage(
    pair: tuple[FloatArray, FloatArray], tau: float, rng: np.random.Generator
) -> tuple[float, float]:
    """Return how often the whole interval, and that of the walks alone, hold the truth 0."""
    placed = place(pair, tau, rng)
    off = gaps(placed)
    whole = half_width(*placed, Placement(tau, tau))
    return percent(off <= whole), percent(off <= walks_half_width(*placed))


def coverage_rows(runs: int, rng: np.random.Generator, thin: int) -> Iterator[Row]:
    """Yield coverage of both intervals: counts 2-8, scatter 1 : 2, markers left on to 4 SD."""
    settings = itertools.product(COUNTS, SCATTER.items(), TAUS)
    for counts, (words, scatter), tau in itertools.islice(settings, 0, None, thin):
        name = f"{counts[0]} v {counts[1]} walks, {words}, tau {tau:g}"
        whole, walks = coverage(draw_pair(counts, scatter, runs, rng), tau, rng)
        least = "two walks" if min(counts) == 2 else "three walks or more"
        yield f"whole interval covers, {least}", name, runs, whole
        yield "walks alone cover", name, runs, walks


def made_of_strides_rows(runs: int, rng: np.random.Generator) -> Iterator[Row]:
    """Yield coverage where walks have 3-12 strides each, also skewed ones."""
    for n, is_skewed, tau in itertools.product((3, 5, 8), (False, True), (0.0, 0.6)):
        walks = WalkSetting(n, 0.25, strides=(3, 12))
        first, second = (draw_walk_values(walks, runs, rng, is_skewed=is_skewed) for _ in range(2))
        name = f"{n} v {n} walks of 3-12 {'skewed ' * is_skewed}strides, tau {tau:g}"
        yield "covers, walks of unequal length", name, runs, coverage((first, second), tau, rng)[0]


def outlier_rows(runs: int, rng: np.random.Generator) -> Iterator[Row]:
    """Yield coverage with one walk 4 or 8 standard deviations off."""
    for counts, off, tau in itertools.product(UNEQUAL, (4.0, 8.0), (0.0, 1.0, 4.0)):
        first, second = draw_pair(counts, (1.0, 1.0), runs, rng)
        first[:, 0] += off
        name = f"{counts[0]} v {counts[1]} walks, one off by {off:g}, tau {tau:g}"
        yield "covers with an outlier", name, runs, coverage((first, second), tau, rng)[0]


def own_figure_rows(runs: int, rng: np.random.Generator) -> Iterator[Row]:
    """Yield coverage with tau from a laboratory's own visits: 5-40 persons twice, 5 walks each."""
    for persons, tau in itertools.product((5, 10, 20, 40), (0.0, 0.5, 1.0, 2.0, 4.0)):
        placed = place(draw_pair((5, 5), (1.0, 1.0), runs, rng), tau, rng)
        walks = walks_half_width(*placed)
        sems, errors = draw_visits(persons, tau, runs, rng)
        markers = np.array(
            [
                placement_of_visits(sem, persons - 1, error).half_width(ALPHA)
                for sem, error in zip(sems, errors, strict=True)
            ]
        )
        name = f"{persons} persons, tau {tau:g}"
        yield (
            "covers with own figures",
            name,
            runs,
            percent(gaps(placed) <= np.hypot(walks, markers)),
        )


def draw_visits(
    persons: int, tau: float, runs: int, rng: np.random.Generator, n_walks: int = 5
) -> tuple[FloatArray, FloatArray]:
    """Return SEM and scatter by walks of laboratories that saw each person twice."""
    walks = rng.normal(size=(runs, persons, 2, n_walks))
    visits = walks.mean(axis=-1) + tau * rng.normal(size=(runs, persons, 2))
    change = visits[..., 0] - visits[..., 1]
    sem = change.std(axis=1, ddof=1) / math.sqrt(2)
    error = np.sqrt(walks.var(axis=-1, ddof=1).mean(axis=(1, 2)) / n_walks)
    return np.asarray(sem, dtype=np.float64), np.asarray(error, dtype=np.float64)


def family_rows(runs: int, rng: np.random.Generator, thin: int) -> Iterator[Row]:
    """Yield how often a family of unchanged questions claims a change, by Holm and row by row."""
    settings = itertools.product(UNEQUAL, SCATTER.items(), (0.0, 1.0))
    for counts, (words, scatter), tau in itertools.islice(settings, 0, None, thin):
        name = f"{QUESTIONS} questions, {counts[0]} v {counts[1]} walks, {words}, tau {tau:g}"
        families = {"equal weights": 0, "two aims": 2}
        claims = {each: np.zeros(runs, dtype=bool) for each in (*families, "row by row")}
        for question in range(QUESTIONS):
            placed = place(draw_pair(counts, scatter, runs, rng), tau, rng)
            off, placement = gaps(placed), Placement(tau, tau)
            claims["row by row"] |= off > half_width(*placed, placement)
            for each, n_aims in families.items():
                share = share_out(range(QUESTIONS), range(n_aims))[question]
                claims[each] |= off > half_width(*placed, placement, ALPHA * share)
        for each in families:
            yield "nothing changed, a family claims", f"{name}, {each}", runs, percent(claims[each])
        yield "nothing changed, row by row claims", name, runs, percent(claims["row by row"])


def power_rows(runs: int, rng: np.random.Generator) -> Iterator[Row]:
    """Yield how often a true change is called: alone, among sixteen questions, as the one aim."""
    hows: tuple[How, ...] = ("untouched", "same day, same tester", "other day, same tester")
    levels = {
        "alone": ALPHA,
        f"among {QUESTIONS}": ALPHA / QUESTIONS,
        "as the aim": ALPHA * share_out(range(QUESTIONS), (0,))[0],
    }
    for (measure, sd), how, n in itertools.product(WALK_SD.items(), hows, (3, 5, 8)):
        groups = frozenset(() if how == "untouched" else MARKER_GROUPS)
        error = find_error(measure, Handling(how, groups), (0.0, 0.0))
        name = f"{measure}, {how}, {n} + {n} walks"
        pair = draw_pair((n, n), (sd, sd), runs, rng)
        first, second = place(pair, error.placement.own, rng)
        for factor in POWER_FACTORS:
            placed = first + factor * error.error, second
            is_large = error.is_inside | (gaps(placed) >= error.error)
            for words, alpha in levels.items():
                is_found = is_large & (gaps(placed) > half_width(*placed, error.placement, alpha))
                yield f"power at {factor:g} x error {words}", name, runs, percent(is_found)
        placed, walks = (first + error.error, second), walks_half_width(first, second)
        is_denied = (gaps(placed) <= walks) & (gaps(placed) + walks <= error.error)
        yield "changed by the error, called no larger", name, runs, percent(is_denied)


def split_rows(runs: int, rng: np.random.Generator, thin: int) -> Iterator[Row]:
    """Yield how often one person's walks, dealt out at random, show a change in any question.

    No error is asked for: the walks alone must hold the promise, a drift over the day included.
    """
    settings = itertools.product((3, 4, 5, 8), (0.0, 0.5))
    for n, drift in itertools.islice(settings, 0, None, thin):
        walks = rng.normal(size=(QUESTIONS, runs, 2 * n)) + drift * np.arange(2 * n)
        order = rng.permuted(np.tile(np.arange(2 * n), (runs, 1)), axis=1)
        mixed = np.take_along_axis(walks, order[None], axis=2)
        ps = p_value(mixed[..., :n], mixed[..., n:], UNTOUCHED)
        claims = [min(adjust(dict(enumerate(person))).values()) <= ALPHA for person in ps.T]
        yield "random split claims", f"{n} + {n} walks, drift {drift:g}", runs, percent(claims)


def run_study(runs: int, *, seed: int = SEED, thin: int = 1) -> pd.DataFrame:
    """Run the whole study.

    Parameters
    ----------
    runs : int
        Made-up persons per setting.
    thin : int
        Take only every ``thin``-th setting of coverage, families, splits and counts.

    Returns
    -------
    DataFrame
        Columns ``study, setting, runs, share_percent``.
    """
    rng = np.random.default_rng(seed)
    rows = [*made_of_strides_rows(runs, rng)]
    for study in (outlier_rows, own_figure_rows, power_rows, trend_rows):
        rows += study(runs, rng)
    for study in (coverage_rows, family_rows, split_rows, count_rows):
        rows += study(runs, rng, thin)
    return pd.DataFrame(rows, columns=list(COLUMNS))


def main(arguments: list[str] | None = None) -> None:
    """Run the study from the command line and print it in short, power in full."""
    parser = argparse.ArgumentParser(prog="python -m tests.calibration.comparisons")
    parser.add_argument("--runs", type=int, default=2000, help="made-up persons per setting")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--out", type=Path, default=Path("certainty.csv"))
    chosen = parser.parse_args(arguments)
    if chosen.runs < 1:
        parser.error("--runs must be 1 or more")
    table = run_study(chosen.runs, seed=chosen.seed)
    table.to_csv(chosen.out, index=False, float_format="%.2f", lineterminator="\n")
    is_power = table["study"].str.startswith("power")
    print(
        table[is_power].pivot(index="setting", columns="study", values="share_percent").to_string()
    )
    shares = table[~is_power].groupby("study", sort=False)["share_percent"]
    print(shares.agg(["min", "max", "count"]).to_string(float_format="%.2f"))


if __name__ == "__main__":
    main()
