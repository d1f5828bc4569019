"""The made-up patients of a made-up rehabilitation department.

In comes nothing, out go four persons with what they wear and how they walk at three visits, one of
them at a fourth in three settings of the brace. No
person stands behind any of them; the sizes of the brace's effects are of the order found in
published comparisons (swing dorsiflexion up by 6–9°, toe clearance up by some millimetres, hip
flexion unchanged in stroke and lower in peripheral weakness).
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from importlib.resources import files
from typing import Any, Final, Literal

from gaittrack.simulate.person import WalkScatter
from gaittrack.simulate.recipe import Body, FootRecipe, Scatter, WalkRecipe

Wear = str
WITHOUT, WITH = "without-brace", "with-brace"
WEARS: tuple[Wear, ...] = (WITHOUT, WITH)
VISIT_DAYS = (0, 42, 126, 140)
"""Days from the first visit to each."""
N_COURSE: Final = 3
"""Visits of everybody; a further one is for trying settings."""
Fields = Mapping[str, str | int | float | bool]


@dataclass(frozen=True, slots=True)
class Patient:
    """One made-up patient.

    Attributes
    ----------
    about : mapping
        What a department would note of the person; no name.
    examination : mapping
        What was found at every visit, as fields of a visit; by ``left`` and ``right`` of the legs.
    shoe : mapping
        What is worn, as fields of a condition.
    braces : mapping
        Facts by code; under ``settings`` those of each setting by its code.
    worn : tuple of (brace, setting)
        What is worn at each visit.
    tried : mapping
        Settings of the brace that are walked one after the other at the last visit, by what each
        condition is called, in the order they are walked.
    aims : mapping
        Facts by code; the level is told at the last visit.
    days_worn : tuple of int
        Days the brace has been worn at each visit.
    first_worn : tuple of Wear
        Which condition was recorded first at each visit.
    recipe : callable (visit, wear) -> WalkRecipe
        ``visit`` counts from 0.
    n_walks : tuple of int
        Walks per condition at each visit.
    kind : {"c3d", "time series", "cycles"}
        How the walks are kept.
    """

    code: str
    about: Fields
    examination: Mapping[str, Any]
    shoe: Fields
    braces: Mapping[str, Mapping[str, Any]]
    worn: tuple[tuple[str, str], ...]
    aims: Mapping[str, Mapping[str, Any]]
    days_worn: tuple[int, ...]
    first_worn: tuple[Wear, ...]
    recipe: Callable[[int, Wear], WalkRecipe]
    n_walks: tuple[int, ...]
    kind: Literal["c3d", "time series", "cycles"]
    between_walks: WalkScatter = WalkScatter()
    tried: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    @property
    def n_visits(self) -> int:
        """Number of visits."""
        return len(self.worn)

    def wears(self, visit: int) -> tuple[Wear, ...]:
        """Return what is walked at a visit."""
        return (WITHOUT, *self.tried) if visit >= N_COURSE else WEARS


def _at(facts: Mapping[str, Any], visit: int) -> dict[str, Any]:
    """Return quantities as they are at a visit."""
    found: dict[str, Any] = {}
    for name, told in facts.items():
        found[name] = told
        if isinstance(told, list) and not isinstance(told[0], str):
            is_course = len(told) == N_COURSE
            found[name] = told[min(visit, 2)] if is_course else told[0] + told[1] * visit
    return found


def _recipe(patient: Mapping[str, Any], visit: int, wear: Wear) -> WalkRecipe:
    changed = patient["with_brace"] if wear != WITHOUT else {}
    tried = patient.get("tried", {}).get(wear, {})
    walk = _at(patient["walk"] | changed.get("walk", {}) | tried.get("walk", {}), visit)
    faster_m_s, more_deg = walk.pop("faster_with_brace_m_s"), walk.pop("right_swing_pitch_deg", 0.0)
    walk["speed_m_s"] += faster_m_s if changed else 0.0
    for name, kind in (("body", Body), ("scatter", Scatter)):
        if name in walk:
            walk[name] = kind(**_at(walk[name], visit))
    foot = FootRecipe(**_at(patient["foot"] | changed.get("foot", {}), visit))
    foot = replace(foot, **tried.get("foot", {}))
    side = patient["about"]["affected_side"]
    feet = {"left": foot, "right": foot} if side == "both" else {side: foot}
    if more_deg:
        feet["right"] = replace(foot, swing_pitch_deg=foot.swing_pitch_deg + more_deg)
    if "other_foot" in patient:
        feet["left" if side == "right" else "right"] = FootRecipe(**patient["other_foot"])
    return WalkRecipe(**{name: _fixed(told) for name, told in (walk | feet).items()})


_OF_WALK: Final = ("walk", "foot", "other_foot", "with_brace")


def _patients() -> tuple[Patient, ...]:
    """Read the patients; a tuple stands in the file as a list."""
    text = files("gaittrack.simulate").joinpath("patients.toml").read_text(encoding="utf-8")
    return tuple(
        Patient(
            code=code,
            recipe=partial(_recipe, facts),
            **{name: _fixed(told) for name, told in facts.items() if name not in _OF_WALK},
        )
        for code, facts in tomllib.loads(text).items()
    )


def _fixed(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


PATIENTS: Final = _patients()
