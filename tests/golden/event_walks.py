"""Made-up walks for the survey of event errors: what real walking does to a detector.

Uneven and asymmetric steps, feet that hang or land flat or on the forefoot, heels that sink, starts
from standing and in the middle of a stance, missing heels, every usual frame rate.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from gaittrack.simulate.recipe import FootRecipe, Scatter, WalkRecipe, healthy_foot
from gaittrack.simulate.walk import simulate_walk
from tests.golden.seen_walks import Seen, View, begun_at, sinking

SEED = 41
N_DRAWN = 250
_MISSING: tuple[tuple[str, ...], ...] = (
    *((), (), ()),
    ("left heel", "right heel"),
    ("left metatarsal 5", "right metatarsal 5"),
)
UNEVEN = Scatter(time=0.12, length=0.12, contact_pitch_deg=4.0, swing_pitch_deg=3.0)
FLAT = FootRecipe(
    contact_pitch_deg=0.0,
    toe_off_pitch_deg=-35.0,
    swing_pitch_deg=-18.0,
    touch_down_speed_m_s=0.1,
    lowering_time_s=0.05,
)
FOREFOOT = FootRecipe(
    contact_pitch_deg=-10.0, swing_pitch_deg=-22.0, toe_off_pitch_deg=-45.0, clearance_m=0.018
)
LIMP = FootRecipe(
    contact_pitch_deg=-9.0,
    swing_pitch_deg=-24.0,
    toe_off_pitch_deg=-35.0,
    clearance_m=0.014,
    minimum_share=0.0,
    early_lift_m=0.01,
    touch_down_speed_m_s=0.1,
)
STROKE = replace(LIMP, circumduction_m=0.04, hip_hike_deg=5.0, time_factor=1.25, stance_shift=-0.06)
BEST_RATES_HZ = (60.0, 100.0, 200.0)


@dataclass(frozen=True)
class Kind:
    """One kind of walk; a row of the survey for every rate and, where it tells, speed."""

    condition: str
    recipes: tuple[WalkRecipe, ...]
    rates_hz: tuple[float, ...] = BEST_RATES_HZ
    views: tuple[View, ...] = (lambda seen: seen,)
    n_seeds: int = 2


def _walks(*speeds_m_s: float, n_strides: int = 5, **recipe: Any) -> tuple[WalkRecipe, ...]:
    return tuple(
        replace(WalkRecipe(speed_m_s=speed, n_strides=n_strides), **recipe) for speed in speeds_m_s
    )


def _hanging(hold_s: float, *speeds_m_s: float) -> tuple[WalkRecipe, ...]:
    foot = replace(LIMP, reach_hold_s=hold_s)
    return _walks(*speeds_m_s, left=foot)


_SINK = (partial(sinking, depth_m=0.010),)
_LATER = tuple(partial(begun_at, start_s=0.17 * each) for each in range(1, 6))
KINDS = (
    Kind("even", _walks(0.8, 1.1, 1.4), (50.0, 60.0, 100.0, 150.0, 200.0)),
    Kind("even, slow", _walks(0.2, 0.3, 0.5)),
    Kind("uneven", _walks(0.8, 1.1, 1.4, scatter=UNEVEN), n_seeds=4),
    Kind("uneven, slow", _walks(0.3, 0.5, scatter=UNEVEN), n_seeds=3),
    Kind("one leg slower", _walks(0.7, 1.0, left=FootRecipe(time_factor=1.4, stance_shift=-0.05))),
    Kind("one leg shorter", _walks(0.6, 0.9, left=FootRecipe(length_factor=0.5))),
    Kind("flat", _walks(0.5, 0.65, 0.8, 1.1, left=FLAT)),
    Kind("flat, slow", _walks(0.2, 0.3, left=FLAT)),
    Kind("forefoot", _walks(0.5, 0.8, 1.1, 1.4, left=FOREFOOT)),
    Kind("forefoot, slow", _walks(0.2, 0.3, left=FOREFOOT)),
    Kind("hangs 0.1 s", _hanging(0.1, 0.5, 0.8, 1.0, 1.2)),
    Kind("hangs 0.2 s", _hanging(0.2, 0.5, 0.8, 0.9)),
    Kind("stroke-like, slow", _walks(0.2, 0.25, 0.3, left=STROKE), n_seeds=3),
    Kind("stroke-like, slow, uneven", _walks(0.2, 0.3, left=STROKE, scatter=UNEVEN), n_seeds=3),
    Kind("stroke-like, hangs 0.2 s, slow", _walks(0.25, left=replace(STROKE, reach_hold_s=0.2))),
    Kind("heel sinks 10 mm", _walks(0.8, 1.1, 1.4), views=_SINK),
    Kind("heel sinks 10 mm, slow", _walks(0.3, 0.5), views=_SINK),
    Kind("from standing to standing", _walks(0.5, 0.8, 1.2, starts_inside=True, stops_inside=True)),
    Kind("begun in mid-stance", _walks(0.8, 1.2, n_strides=3), views=_LATER, n_seeds=1),
    Kind("no heels", _walks(0.5, 0.8, 1.1, 1.4, left_out=("left heel", "right heel"))),
    Kind("no heels, flat", _walks(0.5, 0.8, left=FLAT, left_out=("left heel", "right heel"))),
    Kind(
        "toe the only front", _walks(0.5, 1.1, left_out=("left metatarsal 5", "right metatarsal 5"))
    ),
    Kind("1 mm scatter", _walks(0.5, 0.8, 1.2, marker_noise_m=0.001)),
    Kind("1 mm scatter, uneven", _walks(0.8, 1.2, marker_noise_m=0.001, scatter=UNEVEN)),
    Kind("treadmill", _walks(1.0, belt_speed_m_s=1.0)),
)


def made_up() -> Iterator[Seen]:
    """Return every made-up walk of the survey."""
    for kind in KINDS:
        for rate_hz in kind.rates_hz:
            for recipe in kind.recipes:
                for seed in range(kind.n_seeds):
                    yield from _seen(kind, replace(recipe, rate_hz=rate_hz), SEED + seed)
    for seed in range(N_DRAWN):
        yield from drawn(seed)


def _seen(kind: Kind, recipe: WalkRecipe, seed: int) -> Iterator[Seen]:
    walk = simulate_walk(recipe, seed=seed)
    whole = Seen("made up", kind.condition, walk.trial, walk.truth.events, complete=True)
    for view in kind.views:
        yield view(whole)


def drawn(seed: int) -> Iterator[Seen]:
    """Return one walk in which everything is drawn at once; none where it cannot be walked."""
    rng = np.random.default_rng([SEED, seed])
    is_slow = bool(rng.random() < 0.3)
    speed = float(rng.uniform(0.2, 0.35) if is_slow else rng.uniform(0.4, 1.5))
    uneven = float(rng.choice([0.015, 0.06, 0.15]))
    left, right = (_drawn_foot(rng, speed) for _ in range(2))
    recipe = WalkRecipe(
        speed_m_s=speed,
        n_strides=4,
        left=left,
        right=right,
        scatter=Scatter(time=uneven, length=uneven, contact_pitch_deg=20 * uneven + 1),
        rate_hz=float(rng.choice([60.0, 100.0, 200.0])),
        marker_noise_m=float(rng.choice([0.0003, 0.0006, 0.001])),
        left_out=_MISSING[int(rng.integers(len(_MISSING)))],
    )
    begin_s, depth_m = float(rng.uniform(0.0, 0.8)), float(rng.choice([0.0, 0.0, 0.004]))
    kind = Kind("all drawn, slow" if is_slow else "all drawn", ())
    try:
        seen = next(_seen(kind, recipe, seed))
    except ValueError:
        return
    yield begun_at(sinking(seen, depth_m) if depth_m else seen, begin_s)


def _drawn_foot(rng: np.random.Generator, speed_m_s: float) -> FootRecipe:
    kinds = (healthy_foot(speed_m_s), healthy_foot(speed_m_s), FLAT, FOREFOOT, LIMP, STROKE)
    foot = kinds[int(rng.integers(len(kinds)))]
    hangs = foot in (LIMP, STROKE) and rng.random() < 0.5
    return replace(
        foot,
        reach_hold_s=float(rng.uniform(0.05, 0.2 if speed_m_s < 0.9 else 0.1)) if hangs else 0.0,
        length_factor=float(rng.uniform(0.75, 1.2)),
        time_factor=float(rng.uniform(0.8, 1.3)),
        stance_shift=float(rng.uniform(-0.04, 0.04)),
        touch_down_speed_m_s=float(rng.uniform(0.06, 0.25)),
        heel_skim_m=float(rng.uniform(0.006, 0.016)),
        lowering_time_s=foot.lowering_time_s * float(rng.uniform(0.7, 1.3)),
        loading_dip_m=float(rng.uniform(0.0, 0.01)),
    )
