"""What made-up and recorded walks give today, to the last digit: a rule that moves shows itself.

``python -m tests.golden.kept_numbers`` remakes the table after a rule was changed on purpose. In
come walks and comparisons in which everything is drawn at once, out comes a line for each name in
their results: how many numbers it has, how many are not defined, their mean, a mean in which each
place has another weight, and a checksum of its words in their order.
"""

from __future__ import annotations

import csv
import zlib
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from gaittrack.cohort.tables.reason_cells import unpacked
from gaittrack.compare.intervals.smallest_change import shown_changes
from gaittrack.compare.row_words import first_rows
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.measures import walk_records_of
from gaittrack.reasons import Reason
from gaittrack.trial import Trial
from tests.faults.good_recordings import REFERENCE, SAMPLES, measured, read
from tests.golden import cohort_answers, drawn_comparisons
from tests.golden.event_recordings import RECORDINGS
from tests.golden.event_walks import drawn

TABLE = Path(__file__).with_suffix(".csv")
HEAD = ("of", "name", "n", "n_not_defined", "mean", "weighted_mean", "words")
FILES = (
    *(REFERENCE / each.name for each in RECORDINGS if not each.name.endswith(".txt")),
    REFERENCE / "handbook_walk_2d_coordinates_70hz.txt",
    SAMPLES / "P01" / "visit-1" / "with-brace" / "walk-1.c3d",
    SAMPLES / "P03" / "visit-1" / "with-brace" / "walk-1.csv",
    SAMPLES / "P04" / "visit-1" / "with-brace" / "walk-1.xlsx",
)
REASONS = '[{"code":'
"""How a cell of reasons begins: their figures are numbers."""
N_DRAWN, N_HOLES, N_COMPARED = 24, 5, 14


def told(found: Any, name: str) -> Iterator[tuple[str, float | str]]:
    """Yield every number and word of a result with the name of where it stands."""
    if isinstance(found, Reason):
        yield name, found.code
        yield from told(found.parameters, name)
    elif is_dataclass(found):
        for each in fields(found):
            yield from told(getattr(found, each.name), f"{name}.{each.name}")
    elif isinstance(found, pd.DataFrame):
        for column in found:
            yield from told(found[column], f"{name}.{column}")
    elif isinstance(found, pd.Series):
        seen = found.dropna()
        is_text = len(seen) and all(isinstance(each, str) for each in seen)
        blank = found.astype(object).where(found.notna(), np.nan)  # pandas 2 says None there
        yield from told((blank if is_text else found).tolist(), name)
    elif isinstance(found, str) and found.startswith(REASONS):
        yield from told(unpacked(found), name)
    elif isinstance(found, Mapping):
        yield from told(list(found.items()), name)
    elif isinstance(found, (tuple, list, np.ndarray)):
        for each in found:
            yield from told(each, name)
    elif isinstance(found, (frozenset, set)):
        yield from told(sorted(found, key=str), name)
    else:
        is_number = isinstance(found, (bool, int, float, np.number, np.bool_))
        yield name, float(found) if is_number else str(found)


def of_walks() -> Iterator[tuple[str, float | str]]:
    """Yield all that is told of the walks: events, cycles, each measure, problems."""
    for trial in _trials():
        found = measured(trial)
        if not isinstance(found, MeasuredWalk):
            yield "refused", type(found).__name__
            continue
        for part in ("events", "cycles", "problems"):
            yield from told(getattr(found, part), part)
        for record in walk_records_of(found.rows):
            for column, each in record.items():
                yield from told(each, f"walk value.{column}")
        for row in found.rows:
            for part in ("value", "reason", "labels"):
                yield from told(getattr(row, part), f"{row.measure}.{part}")
            for part in ("made_of", "origins"):
                yield from told(getattr(row, part), f"row.{part}")


def _trials() -> Iterator[Trial]:
    yield from map(read, FILES)
    for seed in range(N_DRAWN):
        for seen in drawn(seed):
            yield _with_holes(seen.trial, np.random.default_rng(seed))


def _with_holes(trial: Trial, rng: np.random.Generator) -> Trial:
    """Hide some markers for a while, one of them for good."""
    markers = {label: xyz.copy() for label, xyz in trial.markers.items()}
    labels = list(markers)
    for _ in range(N_HOLES):
        start, length = rng.integers(trial.n_frames), rng.integers(1, 25)
        markers[labels[rng.integers(len(labels))]][start : start + length] = np.nan
    if rng.random() < 0.4:
        del markers[labels[rng.integers(len(labels))]]
    return replace(trial, markers=markers)


def of_comparisons() -> Iterator[tuple[str, float | str]]:
    """Yield all that is told of the comparisons, and of the laboratory's own figures."""
    laboratory = _laboratory()
    for part in ("errors", "ranges", "curves"):
        yield from told(getattr(laboratory, part), f"own {part}")
    for handling in laboratory.handlings:
        found = shown_changes(laboratory.scatters, handling, own=laboratory.own)
        yield from told(found, "smallest change")
    for seed in range(N_COMPARED):
        found = drawn_comparisons.drawn_comparison(np.random.default_rng([7, seed]), laboratory)
        for part in ("rows", "watch", "heel_first", "fairness", "curves"):
            yield from told(getattr(found, part), part)
        yield from told([(row.measure, row.side) for row in first_rows(found)], "first rows")


def of_cohorts() -> Iterator[tuple[str, float | str]]:
    """Yield all that is told of a cohort: tables, models, what leaves, answers."""
    for name, found in cohort_answers.of_cohorts(_laboratory()):
        yield from told(found, name)


@cache
def _laboratory() -> drawn_comparisons.Laboratory:
    return drawn_comparisons.drawn_laboratory(np.random.default_rng(7))


def lines(of: str, found: Iterator[tuple[str, float | str]]) -> list[tuple[str, ...]]:
    """Return a line of the table for each name."""
    numbers: dict[str, list[float]] = defaultdict(list)
    words: dict[str, list[str]] = defaultdict(list)
    for name, each in found:
        (words if isinstance(each, str) else numbers)[name].append(each)
    return [
        (
            of,
            name,
            *_summed(np.array(numbers[name])),
            f"{zlib.crc32(' '.join(words[name]).encode()):x}",
        )
        for name in sorted({*numbers, *words})
    ]


def _summed(values: np.ndarray) -> tuple[str, ...]:
    weights = 1 + np.arange(len(values)) * 0.6180339887 % 1
    known = np.isfinite(values)
    means = (
        (np.average(values[known]), np.average(values[known], weights=weights[known]))
        if known.any()
        else (np.nan, np.nan)
    )
    return str(len(values)), str(int((~known).sum())), *(f"{mean:.12g}" for mean in means)


def table() -> list[tuple[str, ...]]:
    """Return every line of the table as it is today."""
    drawn = {"walks": of_walks, "comparisons": of_comparisons, "cohorts": of_cohorts}
    return [line for of, told_of in drawn.items() for line in lines(of, told_of())]


if __name__ == "__main__":
    with TABLE.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream, lineterminator="\n").writerows([HEAD, *table()])
