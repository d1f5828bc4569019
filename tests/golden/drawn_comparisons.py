"""Comparisons in which everything is drawn at once, and a laboratory's own figures for them."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from gaittrack.compare.comparison import Comparison, compare_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.intervals.smallest_change import FromWalkToWalk
from gaittrack.compare.measurement_error.marker_errors import (
    HOWS,
    Handling,
    OwnErrors,
    find_handling,
)
from gaittrack.compare.measurement_error.repeat_visits import (
    RepeatError,
    laboratory_errors,
    own_errors,
)
from gaittrack.compare.typical_values.own_typical import AbleBodied, own_typical
from gaittrack.compare.typical_values.typical import POPULATIONS, OwnRange
from gaittrack.compare.typical_values.typical_curves import TypicalCurve
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.compare.walked.walks import MEASURE_BY_NAME, WalkRecord
from gaittrack.reasons import Reason
from gaittrack.record.registry import CONDITION, Fact
from gaittrack.vocabulary import SIDES
from tests.compare.made_up_walks import walk

SCALED = ("walking_speed_m_s", "cadence_steps_min", "stride_length_m")
CONTACTS = ("heel", "heel", "heel", "flat", "forefoot", "uncertain", "unknown")
LABELS = ("zero_before_swing", "zero_after_swing", "window_without_foot_flat", "contact_unknown")
SEGMENTS = {f"{side}_{name}": m for side in SIDES for name, m in (("shank", 0.4), ("thigh", 0.42))}
N_PERSONS = 12


@dataclass(frozen=True)
class Laboratory:
    """What a laboratory has computed from its own people."""

    errors: list[RepeatError]
    own: OwnErrors
    ranges: dict[str, OwnRange]
    curves: tuple[TypicalCurve, ...]
    scatters: dict[str, FromWalkToWalk]
    handlings: list[Handling]


def drawn_laboratory(rng: np.random.Generator) -> Laboratory:
    """Draw people seen twice, able-bodied people, and how walks scatter."""
    names = [str(each) for each in rng.choice(list(MEASURE_BY_NAME), 12, replace=False)]
    errors = [
        each
        for how in HOWS[1:]
        for each in laboratory_errors(_repeats(rng, names), how=how, made_on="2026-01-02")
    ]
    typical = own_typical([_able_bodied(rng, n) for n in range(N_PERSONS)], made_on="2026-01-02")
    scatters = {
        name: FromWalkToWalk(float(rng.uniform(0.5, 2)), int(rng.integers(5, 20)), 1.0)
        for name in MEASURE_BY_NAME
        if rng.random() < 0.7
    }
    handlings = [
        find_handling(groups, is_other_day=is_other_day, is_same_tester=is_same)
        for groups in (None, (), ("foot",), ("pelvis", "shank"))
        for is_other_day in (False, True)
        for is_same in (None, False)
    ]
    own = own_errors(errors)
    return Laboratory(errors, own, typical.ranges, typical.curves, scatters, handlings)


def _repeats(rng: np.random.Generator, names: Sequence[str]) -> pd.DataFrame:
    """Draw the values of people at two visits; one of them came once."""
    return pd.DataFrame(
        [
            (person, visit, name, side, 5 * person + rng.normal(), abs(rng.normal()))
            for name in names
            for person in range(N_PERSONS)
            for visit in range(2 if person else 1)
            for side in SIDES
        ],
        columns=["person", "visit", "measure", "side", "value", "walk_error"],
    )


def _able_bodied(rng: np.random.Generator, number: int) -> AbleBodied:
    """Draw an able-bodied person; some have one leg only, or no curve."""
    legs = SIDES if rng.random() < 0.8 else SIDES[:1]
    values = {(name, side): 10 + rng.normal() for name in MEASURE_BY_NAME for side in legs}
    curves = {("knee", side): rng.normal(20, 3, 101) for side in legs if number < N_PERSONS - 1}
    ages = (float(20 + number), float(30 + number))
    return AbleBodied(f"P{number:02}", "in shoes", 1 + number / 50, ages, values, curves)


def drawn_comparison(rng: np.random.Generator, laboratory: Laboratory) -> Comparison:
    """Draw a comparison of two or three conditions."""
    names = ("shoe", "brace", "leaf")[: int(rng.integers(2, 4))]
    has_curves = bool(rng.random() < 0.3)
    level = {name: 10 * rng.normal() for name in MEASURE_BY_NAME}
    level |= {"walking_speed_m_s": 1.0, "cadence_steps_min": 100.0, "stride_length_m": 1.2}
    return compare_walks(
        [each for name in names for each in drawn_walks(rng, name, level, has_curves=has_curves)],
        reference="shoe",
        conditions={name: _worn(rng, name) for name in names if rng.random() < 0.8},
        affected=(None, "left", "right", "both")[rng.integers(4)],
        aims=[QUESTION_CODES[n] for n in rng.choice(8, rng.integers(3), replace=False)],
        own_errors=laboratory.own if rng.random() < 0.3 else None,
        typical=(laboratory.ranges, *POPULATIONS)[rng.integers(len(POPULATIONS) + 1)],
        typical_curves=laboratory.curves,
        again=drawn_again if rng.random() < 0.7 else None,
    )


def drawn_again(walks: Sequence[WalkRecord], _shared: object) -> list[WalkRecord]:
    """Measure walks again on the points that all have: the same, but that some cannot be."""
    return [each.known_as(origins={}) for each in walks if not each.walk_id.endswith("-3")]


def _worn(rng: np.random.Generator, name: str) -> Condition:
    """Draw what was worn, of all that can be recorded: a new fact moves none of the others."""
    seed = int(rng.integers(2**31))
    own = {key: np.random.default_rng([seed, zlib.crc32(key.encode())]) for key in CONDITION}
    return Condition(name, **{key: drawn_fact(own[key], CONDITION[key]) for key in CONDITION})


def drawn_fact(rng: np.random.Generator, fact: Fact) -> Any:
    """Draw a value of a fact that is a word, a number, or yes or no; often none."""
    if rng.random() > 0.4:
        return None
    if fact.list:
        return fact.words[rng.integers(min(len(fact.words), 3))]
    if fact.kind == "yes/no":
        return bool(rng.random() < 0.5)
    if fact.kind in ("number", "whole"):
        return float(rng.integers(fact.low, min(fact.high, fact.low + 30) + 1))
    return None


def drawn_walks(
    rng: np.random.Generator, condition: str, level: Mapping[str, float], *, has_curves: bool
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
        "segments_m": {name: m + rng.normal(0, 0.012) for name, m in SEGMENTS.items()},
        "landmarks": frozenset({"left_heel", "right_heel"}),
        "origins": _origins(rng),
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


def _origins(rng: np.random.Generator) -> dict[tuple[str, str], frozenset[Any]]:
    """Draw what some measures are made of."""
    made = frozenset({("toe_point", (str(rng.choice(["toe", "metatarsal_5"])),))})
    return {(name, "left"): made for name in ("minimum_toe_clearance_mm", "step_length_m")}


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
