"""Many made-up patients, for tables and figures of a cohort.

In comes a number, out come as many patients with one visit and a few short walks in each condition.
They walk like the scenario's patients with nerve palsy or stroke, each a little differently, and
the brace does not help each alike. No person stands behind any of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np

from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.scenario import PATIENTS, WEARS, Patient, Wear
from gaittrack.vocabulary import SIDES, Side, opposite

SEED: Final = 20_000
N_WALKS: Final = 3
N_STRIDES: Final = 3
_PALSY, _STROKE = PATIENTS[0], PATIENTS[1]
_KINDS: Final = tuple(
    (model, sex, side)
    for model in (_PALSY, _STROKE)
    for sex in ("female", "male")
    for side in SIDES
)
"""Causes, sexes and sides in turn: with 40 patients, five of each kind look alike on paper."""
_HEIGHT_CM: Final = {"female": (164.0, 6.0), "male": (177.0, 7.0)}
"""Mean and standard deviation; made up, of the size of adults."""


@dataclass(frozen=True, slots=True)
class _Difference:
    """How one patient differs from the model; angles in degrees, lengths in metres.

    ``contact``, ``swing`` and ``clearance`` shift both conditions, the ``brace_`` ones only the
    braced; ``speed`` and ``size`` are factors.
    """

    contact: float
    swing: float
    clearance: float
    brace_contact: float
    brace_swing: float
    brace_clearance: float
    speed: float
    size: float


def more_patients(n_patients: int) -> list[Patient]:
    """Make patients that differ; the first do not depend on how many there are."""
    return [_patient(len(PATIENTS) + 1 + place, place) for place in range(n_patients)]


def _patient(number: int, place: int) -> Patient:
    model, sex, side = _KINDS[place % len(_KINDS)]
    rng = np.random.default_rng([SEED, number])
    mean_cm, scatter_cm = _HEIGHT_CM[sex]
    height_cm = round(mean_cm + scatter_cm * float(rng.uniform(-1.7, 1.7)))
    size = height_cm / float(model.about["height_cm"])
    about = {**model.about, "sex": sex, "affected_side": side, "height_cm": height_cm}
    about["mass_kg"] = round(float(rng.uniform(21.0, 29.0)) * (height_cm / 100) ** 2)
    about["months_since_onset"] = int(rng.integers(6, 60))
    first = WEARS[int(rng.integers(len(WEARS)))]
    return Patient(
        code=f"P{number:02d}",
        about=about,
        examination={},
        shoe=model.shoe,
        braces={code: {**one, "orthosis_side": side} for code, one in model.braces.items()},
        worn=model.worn,
        aims=model.aims,
        days_worn=(int(rng.integers(14, 90)),) * 3,
        first_worn=(first,) * 3,
        recipe=partial(_recipe, model, side, _difference(rng, size)),
        n_walks=(N_WALKS,) * 3,
        kind="c3d",
        between_walks=model.between_walks,
    )


def _difference(rng: np.random.Generator, size: float) -> _Difference:
    """Draw one patient; the widths keep every walk possible, own choice."""
    within = rng.uniform(-1.0, 1.0, 7)
    return _Difference(
        contact=2.5 * within[0],
        swing=4.0 * within[1],
        clearance=0.005 * within[2],
        brace_contact=2.5 * within[3],
        brace_swing=5.0 * within[4],
        brace_clearance=0.004 * within[5],
        speed=1.0 + 0.12 * within[6],
        size=size,
    )


def _recipe(model: Patient, side: Side, own: _Difference, visit: int, wear: Wear) -> WalkRecipe:
    """Return the model's walk with the patient's differences, on the patient's side."""
    walk = model.recipe(visit, wear)
    model_side: Side = "left" if model.about["affected_side"] == "left" else "right"
    affected = _foot(walk.foot(model_side), own, braced=wear == "with-brace")
    other = walk.right if model_side == "left" else walk.left
    body = replace(
        walk.body, thigh_m=walk.body.thigh_m * own.size, shank_m=walk.body.shank_m * own.size
    )
    feet = {side: affected, opposite(side): other}
    return replace(
        walk,
        speed_m_s=walk.speed_m_s * own.speed,
        n_strides=N_STRIDES,
        left=feet["left"],
        right=feet["right"],
        body=body,
        left_out=("left metatarsal 5", "right metatarsal 5"),
    )


def _foot(foot: FootRecipe, own: _Difference, *, braced: bool) -> FootRecipe:
    return replace(
        foot,
        contact_pitch_deg=foot.contact_pitch_deg + own.contact + braced * own.brace_contact,
        swing_pitch_deg=foot.swing_pitch_deg + own.swing + braced * own.brace_swing,
        clearance_m=foot.clearance_m + own.clearance + braced * own.brace_clearance,
    )
