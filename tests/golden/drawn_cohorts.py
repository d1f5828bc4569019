"""Cohorts in which everything is drawn: people, visits, what was worn, walks, what was left out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import pandas as pd

from gaittrack.cohort.people.source import (
    EXCLUSION_COLUMNS,
    PEOPLE_COLUMNS,
    VISIT_COLUMNS,
    CohortSource,
    CohortWalk,
    LeftOut,
    PlaceKey,
)
from gaittrack.compare.fair.condition import Condition
from gaittrack.reasons import Reason
from gaittrack.record.braces import Brace
from gaittrack.record.registry import CONDITION, FACTS, Fact
from gaittrack.vocabulary import SIDES
from tests.compare.made_up_walks import CLEARANCE, RATE, SWING
from tests.golden.drawn_comparisons import Laboratory, drawn_again, drawn_fact, drawn_walks

MEASURES = {
    **{"walking_speed_m_s": 1.0, "stride_length_m": 1.2, "step_length_m": 0.6},
    **{SWING: 3.0, RATE: 150.0, CLEARANCE: 12.0, "step_width_mm": 110.0},
}
WORN = ("without", "with", "other", "barefoot")
CAUSES, LEGS = ("stroke", "cerebral palsy", "able-bodied"), ("left", "right", "both", None)
N_WALKED = 12
"""People of whom there are walks; of the others there are facts alone."""


def drawn_source(rng: np.random.Generator, laboratory: Laboratory, n_people: int) -> CohortSource:
    """Draw people who come once to three times, and what was worn; some of them walk."""
    people, visits, conditions, walks = [], [], {}, []
    told = np.random.default_rng(4)  # of facts alone: one more fact draws no other walks
    for number in range(n_people):
        person = f"P{number:02}"
        people.append(_drawn(told, FACTS["person"], PEOPLE_COLUMNS) | _person(rng, person))
        level = {name: at * (1 + 0.1 * rng.normal()) for name, at in MEASURES.items()}
        for visit in range(1, 1 + int(rng.choice([1, 1, 2, 3]))):
            facts = _drawn(told, FACTS["visit"], VISIT_COLUMNS)
            visits.append(facts | _visit(rng, person, visit))
            for name in WORN[: int(rng.choice([2, 2, 3, 4]))]:
                key = (person, f"v{visit}", name)
                conditions[key] = _worn(rng, told, name)
                if number < N_WALKED and rng.random() < 0.9:
                    walks += _walked(rng, key, level)
    keys = list(conditions)
    return CohortSource(
        people=pd.DataFrame(people),
        visits=pd.DataFrame(visits),
        conditions=conditions,
        walks=tuple(walks),
        rejected={key: tuple(_left_out(rng)) for key in keys if rng.random() < 0.5},
        exclusions=_exclusions(rng, keys),
        own_errors=laboratory.own,
        typical=laboratory.ranges,
        damaged={key: int(rng.integers(1, 4)) for key in keys if rng.random() < 0.1},
        again=drawn_again,
        aims={row["person"]: dict(_aims(told)) for row in people},
        braces={row["person"]: dict(_braces(told)) for row in people},
    )


def _drawn(
    rng: np.random.Generator, facts: Mapping[str, Fact], names: tuple[str, ...]
) -> dict[str, Any]:
    return {name: _value(rng, facts[name]) if name in facts else None for name in names}


def _value(rng: np.random.Generator, fact: Fact) -> Any:
    """Draw a value of any kind of fact; of a test several, or why there is none."""
    if fact.kind == "repeats" and rng.random() < 0.7:
        own = 10 + rng.integers(1, 300, int(rng.integers(1, 5))) / 10
        return "unable" if rng.random() < 0.1 else "; ".join(f"{each:g}" for each in own)
    if fact.kind == "ratings" and rng.random() < 0.7:
        return f"A1: {rng.integers(-2, 3)}; A2: {rng.integers(-2, 3)}"
    if fact.kind == "number" and fact.bands and rng.random() < 0.7:
        return float(rng.choice(fact.bands[1:4]) + rng.integers(-1, 2))
    return drawn_fact(rng, fact)


def _person(rng: np.random.Generator, person: str) -> dict[str, Any]:
    side = LEGS[rng.choice(4, p=[0.4, 0.3, 0.2, 0.1])]
    return {"person": person, "cause": str(rng.choice(CAUSES)), "affected_side": side}


def _visit(rng: np.random.Generator, person: str, number: int) -> dict[str, Any]:
    day = f"2024-{3 * number:02}-{rng.integers(1, 29):02}" if rng.random() < 0.8 else None
    age = float(rng.integers(30, 80)) if rng.random() < 0.8 else None
    told = {"person": person, "visit": f"v{number}", "date": day, "age_years": age}
    return told | {"days_since_first_visit": None if day else 40.0 * (number - 1)}


def _worn(rng: np.random.Generator, told: np.random.Generator, name: str) -> Condition:
    facts = {key: _value(told, fact) for key, fact in CONDITION.items()}
    facts["orthosis"] = "none" if name in ("without", "barefoot") else "ankle-foot orthosis"
    facts["footwear"] = "barefoot" if name == "barefoot" else facts["footwear"]
    facts["order"] = int(rng.integers(1, 3))
    if name == "with" and rng.random() < 0.5:
        facts |= {"brace": "B1", "setting": str(rng.choice(["a", "b"]))}
    return Condition(name, **facts)


def _walked(
    rng: np.random.Generator, key: PlaceKey, level: Mapping[str, float]
) -> Iterator[CohortWalk]:
    person, visit, name = key
    for record in drawn_walks(rng, name, level, has_curves=bool(rng.random() < 0.3)):
        own = record.known_as(walk_id=f"{person} {visit} {record.walk_id}")
        yield CohortWalk(person, visit, own, "0.1")


def _left_out(rng: np.random.Generator) -> Iterator[LeftOut]:
    for number in range(int(rng.integers(1, 4))):
        reasons = (Reason("no_toe_off_inside"), Reason("no_samples", of="ankle"))
        side = (*SIDES, None)[rng.integers(3)]
        yield LeftOut(side, reasons[: int(rng.integers(1, 3))], "0f", number if side else 0)


def _exclusions(rng: np.random.Generator, keys: list[PlaceKey]) -> pd.DataFrame:
    rows = [
        (*key, str(rng.choice(SIDES)), "exclude_stride", bool(rng.random() < 0.3))
        for key in keys
        if rng.random() < 0.2
    ]
    return pd.DataFrame(rows, columns=list(EXCLUSION_COLUMNS))


def _aims(rng: np.random.Generator) -> Iterator[tuple[str, dict[str, Any]]]:
    for number in range(int(rng.integers(0, 3))):
        yield f"A{number + 1}", {n: _value(rng, fact) for n, fact in FACTS["aim"].items()}


def _braces(rng: np.random.Generator) -> Iterator[tuple[str, Brace]]:
    for number in range(int(rng.integers(0, 3))):
        brace, *settings = (
            {name: _value(rng, fact) for name, fact in FACTS[part].items()}
            for part in ("brace", *("setting",) * int(rng.integers(1, 3)))
        )
        yield f"B{number + 1}", Brace(brace, dict(zip("ab", settings, strict=False)))
