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
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from gaittrack.compare.comparison import Comparison, compare_walks
from gaittrack.compare.condition import Condition
from gaittrack.compare.marker_errors import HOWS, OwnError
from gaittrack.compare.placement import Placement
from gaittrack.compare.questions import QUESTION_CODES
from gaittrack.compare.typical import POPULATIONS
from gaittrack.compare.walks import MEASURE_BY_NAME, WalkRecord
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.reasons import Reason
from gaittrack.record.registry import CONDITION, Fact
from gaittrack.trial import Trial
from gaittrack.vocabulary import SIDES
from tests.compare.made_up_walks import walk
from tests.faults.good_recordings import REFERENCE, SAMPLES, measured, read
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
N_DRAWN, N_HOLES, N_COMPARED = 24, 5, 20


def told(found: Any, name: str) -> Iterator[tuple[str, float | str]]:
    """Yield every number and word of a result with the name of where it stands."""
    if isinstance(found, Reason):
        yield name, found.code
        yield from told(found.parameters, name)
    elif is_dataclass(found):
        for each in fields(found):
            yield from told(getattr(found, each.name), f"{name}.{each.name}")
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
        for row in found.rows:
            for part in ("value", "reason", "labels"):
                yield from told(getattr(row, part), f"{row.measure}.{part}")


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
    """Yield all that is told of the comparisons."""
    for seed in range(N_COMPARED):
        found = _compared(np.random.default_rng([7, seed]))
        for part in ("rows", "watch", "heel_first", "fairness", "curves"):
            yield from told(getattr(found, part), part)


def _compared(rng: np.random.Generator) -> Comparison:
    names = ("shoe", "brace", "leaf")[: int(rng.integers(2, 4))]
    has_curves = bool(rng.random() < 0.3)
    level = {name: 10 * rng.normal() for name in MEASURE_BY_NAME}
    level |= {"walking_speed_m_s": 1.0, "cadence_steps_min": 100.0, "stride_length_m": 1.2}
    own = {
        (name, how): OwnError(Placement(rng.uniform(0, 3), 2.0, 12.0, 0.4), 5.0, Reason("own"))
        for name in rng.choice(list(level), 8)
        for how in HOWS
    }
    return compare_walks(
        [each for name in names for each in _walks(rng, name, level, has_curves)],
        reference="shoe",
        conditions={name: _worn(rng, name) for name in names if rng.random() < 0.8},
        affected=(None, "left", "right", "both")[rng.integers(4)],
        aims=[QUESTION_CODES[n] for n in rng.choice(8, rng.integers(3), replace=False)],
        own_errors=own if rng.random() < 0.3 else None,
        typical=POPULATIONS[rng.integers(len(POPULATIONS))],
    )


def _worn(rng: np.random.Generator, name: str) -> Condition:
    """Draw what was worn, of all that can be recorded."""
    facts = {key: _drawn_fact(rng, fact) for key, fact in CONDITION.items() if rng.random() < 0.4}
    return Condition(name, **facts)


def _drawn_fact(rng: np.random.Generator, fact: Fact) -> Any:
    if fact.list:
        return fact.words[rng.integers(min(len(fact.words), 3))]
    if fact.kind == "yes/no":
        return bool(rng.random() < 0.5)
    if fact.kind in ("number", "whole"):
        return float(rng.integers(fact.low, min(fact.high, fact.low + 30) + 1))
    return None


def _walks(
    rng: np.random.Generator, condition: str, level: Mapping[str, float], has_curves: bool
) -> Iterator[WalkRecord]:
    """Draw the walks of a condition: what changed, how they scatter, how they were recorded."""
    change = rng.choice([0, 0, 2, 6, 15], len(level)) * rng.choice([-1, 1], len(level))
    values = {
        name: value * (1 + 0.02 * by) if value >= 1.0 and name in SCALED else value + by
        for (name, value), by in zip(level.items(), change, strict=True)
    }
    contact = [str(each) for each in rng.choice(CONTACTS, 6)]
    facts = {
        "rate_hz": float(rng.choice([60.0, 100.0, 200.0])),
        "event_source": str(rng.choice(["force", "markers"])),
        "neutral_source": str(rng.choice(["standing trial", "foot-flat"])),
        "is_treadmill": bool(rng.random() < 0.2),
        "session": str(rng.choice(["", "1", "2"])),
        "noise_m": {f"{side}_heel": float(rng.uniform(0, 0.002)) for side in SIDES},
        "speed": float(rng.choice([0.9, 1.0, 1.04, 1.12, 1.3])),
        "n_strides": int(rng.integers(2, 9)),
    }
    scatter = float(rng.choice([0.02, 0.3, 1.0, 3.0]))
    said = _said(rng, list(level))
    for number in range(int(rng.choice([3, 4, 4, 5] if has_curves else [1, 2, 2, 3, 3, 4, 5, 8]))):
        shift = {name: value + scatter * rng.normal() for name, value in values.items()}
        legs = [
            walk(condition, number, shift, side=side, contact=contact, **said, **facts)
            for side in SIDES
        ]
        curves = {(side, "knee"): _curves(rng, facts["n_strides"]) for side in SIDES}
        yield legs[0].known_as(
            walk_id=f"{condition}-{number}",
            curves=curves if has_curves else {},
            **{
                part: {**getattr(legs[0], part), **getattr(legs[1], part)}
                for part in ("tables", "contacts", "cycles")
            },
        )


SCALED = ("walking_speed_m_s", "cadence_steps_min", "stride_length_m")
CONTACTS = ("heel", "heel", "heel", "flat", "forefoot", "uncertain", "unknown")
LABELS = ("zero_before_swing", "zero_after_swing", "window_without_foot_flat", "contact_unknown")


def _said(rng: np.random.Generator, names: list[str]) -> dict[str, Any]:
    """Draw what is not defined, of all strides or of some, and labels."""
    told_of = dict(zip(names, rng.random(len(names)), strict=True)).items()

    def sometimes(stride: int) -> Reason | None:
        return Reason("no_minimum") if stride % 2 else None

    reasons: dict[str, Reason | Callable[[int], Reason | None]] = {}
    reasons |= {n: Reason("no_samples", of="ankle") for n, p in told_of if p < 0.04}
    reasons |= {n: sometimes for n, p in told_of if 0.04 < p < 0.1}
    labels = {n: (Reason(str(rng.choice(LABELS))),) for n, p in told_of if p > 0.8}
    return {"reasons": reasons, "labels": labels}


def _curves(rng: np.random.Generator, n_strides: int) -> np.ndarray:
    """Draw curves of a knee: strides of one walk are alike."""
    phase = np.linspace(0, 2 * np.pi, 101)
    shape = 20 * np.sin(phase) + rng.normal(0, 3) + rng.normal(0, 3) * np.cos(phase)
    return shape + rng.normal(0, 1, (n_strides, 1)) * np.sin(2 * phase)


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
    return [*lines("walks", of_walks()), *lines("comparisons", of_comparisons())]


if __name__ == "__main__":
    with TABLE.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream, lineterminator="\n").writerows([HEAD, *table()])
