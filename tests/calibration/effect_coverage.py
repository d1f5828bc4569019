"""How often the intervals of a cohort cover the truth: made-up cohorts by the thousand.

``python -m tests.calibration.effect_coverage 4000 gaittrack/cohort/inference/coverage.csv`` makes
the table by which the package decides what it shows (five minutes). Many cohorts of one size are
fitted at once; ``test_effect_coverage.py`` holds that each fit is the package's.
"""

import itertools
import sys
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import stats

PEOPLE = (3, 4, 5, 6, 8, 12, 20, 40)
LEAST_PEOPLE = {"by_group": 4, "by_two": 5, "by_four": 8, "ranks": 6}
"""With fewer there is no such group, no freedom left, or no interval of 95 %."""
VISITS = ("1", "1 or 2", "3", "6", "1 to 6")
SCATTERS = (0, 1, 3)
SHAPES = ("normal", "skewed")
COLUMNS = ("method", "people", "visits", "scatter", "shape")
KEYS = list(COLUMNS[:3])
BLOCK = 200
"""Cohorts that are fitted at once; unequal numbers of visits are drawn anew for each block."""
GRID = np.linspace(np.log(1e-6), np.log(1e8), 57)


def drawn(rng, shape, size):
    """Draw numbers of mean 0 and scatter 1; skewed ones by a gamma distribution, skewness 1."""
    return rng.normal(size=size) if shape == "normal" else (rng.gamma(4, size=size) - 4) / 2


def _of_group(rng, shape, place, n):
    """Put three in ten people, two at least, into one group."""
    n_people = place[-1] + 1
    return np.tile((place < max(2, round(0.3 * n_people))).astype(float), (n, 1))


def _of_person(rng, shape, place, n):
    return drawn(rng, shape, (n, place[-1] + 1))[:, place]


def _of_visit(rng, shape, place, n):
    return drawn(rng, shape, (n, len(place)))


TERMS = {"mean": (), "model": ()}
TERMS |= {"by_visit": (_of_visit,), "by_person": (_of_person,), "by_group": (_of_group,)}
TERMS |= {"by_two": (_of_group, _of_visit)}
TERMS |= {"by_four": (_of_group, _of_visit, _of_visit, _of_person), "ranks": ()}
"""What makes the terms of a method; the effect of one unit of each is 1, as the effect itself."""


def cohorts(rng, n, method, n_people, visits, scatter, shape):
    """Draw cohorts: values and terms, shape (n, n_values) each, and whose each value is."""
    least, most = int(visits[0]), int(visits[-1])
    counts = rng.integers(least, most + 1, size=n_people)
    place = np.repeat(np.arange(n_people), counts)
    own = scatter * drawn(rng, shape, (n, n_people))
    values = 1 + own[:, place] + drawn(rng, shape, (n, len(place)))
    terms = []
    for make in TERMS[method]:
        term = make(rng, shape, place, n)
        is_of_visit = make is _of_visit
        terms.append(term + 0.5 if is_of_visit else term - term.mean(axis=1, keepdims=True))
    return sum(terms, values), terms, place


def rank_intervals(values):
    """Return the ends of the intervals by ranks, shape (n, 1), of each cohort."""
    n_people = values.shape[1]
    pairs = np.triu_indices(n_people)
    averages = np.sort((values[:, pairs[0]] + values[:, pairs[1]]) / 2, axis=1)
    ways = np.ones(1)
    for rank in range(1, n_people + 1):
        ways = np.append(ways, np.zeros(rank)) + np.append(np.zeros(rank), ways)
    outside = int((np.cumsum(ways) <= 0.025 * 2.0**n_people).sum())
    return averages[:, [outside - 1]], averages[:, [-outside]]


def pseudomedian(shape):
    """Return the median of the mean of two people's effects, about which ranks are symmetric."""
    return 1.0 if shape == "normal" else 1 + (stats.gamma(16).median() / 2 - 8) / 2


def fits(values, terms, place):
    """Return the ends of intervals of effect and terms, shape (n, n_columns), of each cohort."""
    both = np.stack([np.ones_like(values), *terms, values], axis=2)
    counts = np.bincount(place).astype(float)
    means = np.stack([both[:, place == one].mean(axis=1) for one in range(len(counts))], axis=1)
    inside = both - means[:, place]
    held = inside.swapaxes(1, 2) @ inside
    n, n_people, k = means.shape
    between = (means[:, :, :, None] * means[:, :, None, :]).reshape(n, n_people, k * k)
    n_free = values.shape[1] - (k - 1)

    def at(ratios):
        weights = counts / (1 + ratios[:, :, None] * counts)
        crossed = held[:, None] + (weights @ between).reshape(n, -1, k, k)
        normal, sides = crossed[:, :, :-1, :-1], crossed[:, :, :-1, -1:]
        effects = np.linalg.solve(normal, sides)
        variance = (crossed[:, :, -1, -1] - (sides * effects).sum(axis=(2, 3))) / n_free
        twice = n_free * np.log(np.maximum(variance, 1e-12))
        twice += np.log1p(ratios[:, :, None] * counts).sum(axis=2) + np.linalg.slogdet(normal)[1]
        return -twice, effects[:, :, :, 0], normal, variance

    best = np.zeros(n)
    if n_people < len(place):
        grid = np.tile(GRID, (n, 1))
        for _ in range(5):
            found = at(np.exp(grid))[0]
            top = found.argmax(axis=1)
            rows = np.arange(n)
            low, high = (grid[rows, np.clip(top + by, 0, grid.shape[1] - 1)] for by in (-1, 1))
            best, most = np.exp(grid[rows, top]), found[rows, top]
            grid = np.linspace(low, high, 17, axis=1)
        best = np.where(at(np.zeros((n, 1)))[0][:, 0] < most - 1e-9, best, 0.0)
    _, effects, normal, variance = at(best[:, None])
    inverse = np.linalg.inv(normal[:, 0])
    errors = np.sqrt(variance * np.diagonal(inverse, axis1=1, axis2=2))
    half = stats.t.ppf(0.975, n_people - (k - 1)) * errors
    return effects[:, 0] - half, effects[:, 0] + half


def coverage(n_runs, *, settings, seed=0):
    """Return the share of runs, in per cent, whose intervals hold, per setting.

    Of effect and term the one that is held less often; each setting draws numbers of its own.
    """
    rows = []
    for setting in settings:
        rng = np.random.default_rng([seed, *repr(setting).encode()])
        held = []
        for _ in range(-(-n_runs // BLOCK)):
            drawn_now = cohorts(rng, BLOCK, *setting)
            is_by_ranks = setting[0] == "ranks"
            low, high = rank_intervals(drawn_now[0]) if is_by_ranks else fits(*drawn_now)
            truth = pseudomedian(setting[-1]) if is_by_ranks else 1
            held.append((low <= truth) & (high >= truth))
        told = np.concatenate(held)
        named = dict(zip(COLUMNS, setting, strict=True))
        share = 100 * told.mean(axis=0).min()
        rows.append({**named, "covers_percent": share, "n_runs": len(told)})
    return pd.DataFrame(rows)


def every_setting():
    """Return all settings of the table; at one visit the scatter between people is all there is."""
    for method, n_people, shape in itertools.product(TERMS, PEOPLE, SHAPES):
        if n_people < LEAST_PEOPLE.get(method, 0):
            continue
        yield method, n_people, "1", 1, shape
        for visits, scatter in itertools.product(VISITS[1:], SCATTERS):
            if method not in ("mean", "ranks"):
                yield method, n_people, visits, scatter, shape


def lowest(table):
    """Return of each method and size of cohort the setting whose interval covers least."""
    least = table.loc[table.groupby(KEYS, sort=False)["covers_percent"].idxmin()]
    return least.reset_index(drop=True)


if __name__ == "__main__":
    found = lowest(coverage(int(sys.argv[1]), settings=every_setting()))
    text = found.to_csv(index=False, float_format="%.1f")
    print(text) if len(sys.argv) == 2 else Path(sys.argv[2]).write_text(text)
