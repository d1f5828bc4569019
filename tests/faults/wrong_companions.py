"""What is right by itself and wrong where it lies: standing trials and walks of another."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import count

import numpy as np

from gaittrack.simulate.recipe import Body, WalkRecipe
from gaittrack.simulate.walk import simulate_walk, stand
from gaittrack.trial import FloatArray, Trial
from tests.faults.faults import Fault
from tests.faults.good_recordings import RECIPES, SAMPLES, Good, read

SAME_SIZE = "a body of the same size leaves no trace in lengths"
SMALL = Body(0.37, 0.35, foot_scale=0.9, pelvis_width_m=0.15)
P01 = SAMPLES / "P01" / "visit-1"


def with_standing() -> Iterator[Good]:
    """Give recordings that are right, each with its own standing trial."""
    recipe = RECIPES["simulated, drop foot"]
    walk = simulate_walk(recipe, seed=12).trial
    yield Good("simulated, with standing", walk, stand(recipe, seed=12))
    for visit, condition in (("P01/visit-1", "without-brace"), ("P02/visit-1", "with-brace")):
        folder = SAMPLES / visit
        yield Good(
            f"{visit} {condition}, with standing",
            read(folder / condition / "walk-1.c3d"),
            read(folder / "standing" / f"{condition}.c3d"),
        )


def standings() -> Iterator[Fault]:
    """Give standing trials that are not those of the walk."""
    for name, metres in (
        ("heel", 0.08),
        ("heel", 0.02),
        ("heel", 0.012),
        ("toe", 0.03),
        ("metatarsal", 0.03),
    ):
        change = _lifted(name, metres)
        yield _standing(f"of another moment: {name} lifted by {1000 * metres:g} mm", change)
    yield _standing("of another body: shank 70 mm shorter", _lifted("knee", -0.07))
    yield _standing("of another person", lambda _: stand(WalkRecipe(body=SMALL), seed=3))
    yield _standing("of another unit", lambda right: _mapped(right, lambda xyz: xyz / 10))
    yield _standing("of a person who turns", lambda right: _mapped(right, _turning))
    yield _standing("of a walk", lambda _: read(P01 / "without-brace" / "walk-2.c3d"))
    yield _standing("with sides exchanged", _exchanged)


def _standing(name: str, change: Callable[[Trial], Trial]) -> Fault:
    return Fault("standing trial", name, lambda good: good.trial, standing=change)


def _mapped(trial: Trial, change: Callable[[FloatArray], FloatArray]) -> Trial:
    return replace(trial, markers={label: change(xyz) for label, xyz in trial.markers.items()})


def _lifted(name: str, metres: float) -> Callable[[Trial], Trial]:
    """Raise the markers of one name on both sides; the recordings have Z up."""

    def change(right: Trial) -> Trial:
        by = np.array([0.0, 0.0, metres])
        markers = {
            label: xyz + by if name in label else xyz for label, xyz in right.markers.items()
        }
        return replace(right, markers=markers)

    return change


def _turning(xyz: FloatArray) -> FloatArray:
    """Turn about the upright through half a turn."""
    angle = np.linspace(0.0, np.pi, len(xyz))
    x, y, z = xyz.T
    return np.stack(
        [x * np.cos(angle) - y * np.sin(angle), x * np.sin(angle) + y * np.cos(angle), z], axis=1
    )


def _exchanged(right: Trial) -> Trial:
    other = {"left": "right", "right": "left"}
    names = {
        label: " ".join(other.get(word, word) for word in label.split()) for label in right.markers
    }
    return replace(right, markers={names[label]: xyz for label, xyz in right.markers.items()})


def others_walks() -> Iterator[Fault]:
    """Give walks of another person in the place of this person's: each is right by itself."""
    sizes = {
        "smaller by a seventh": SMALL,
        "taller by a seventh": Body(0.50, 0.49, foot_scale=1.1, pelvis_width_m=0.20),
        "of the same size": Body(),
    }
    for name, body in sizes.items():
        why = SAME_SIZE if body == Body() else ""
        for every in (True, False):
            which = "all walks" if every else "one walk"
            yield Fault(
                *("another person", f"{name}, {which}", _walk_of(body)),
                unknowable=why,
                every=every,
            )


def _walk_of(body: Body) -> Callable[[Good], Trial]:
    seeds = count(70)
    return lambda _: simulate_walk(WalkRecipe(body=body, n_strides=4), seed=next(seeds)).trial
