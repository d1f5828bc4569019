"""Which wrong numbers of wild recordings stand unseen: fault by headline measure.

    python -m tests.faults.wild_survey [--kind drifts] [--real]

Prints, per fault, the largest move of each headline value that nothing is said of beside it, in
units of its measurement error, how many there are, and what became of the rest.
"""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict
from collections.abc import Iterator

from gaittrack.simulate.recipe import Body, FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from tests.faults.battery import HEADLINES, Case, error_of, run
from tests.faults.good_recordings import BARE, LIMP, REFERENCE, SAMPLES, Good, read
from tests.faults.wild_walks import wild_faults

REAL = (
    REFERENCE / "walk_two_plates_100hz.c3d",
    REFERENCE / "walk_overground_two_plates_100hz.c3d",
    REFERENCE / "walk_from_standing_150hz.trc",
    REFERENCE / "handbook_walk_2d_coordinates_70hz.txt",
)
SAMPLED = (
    SAMPLES / "P01" / "visit-1" / "without-brace" / "walk-1.c3d",
    SAMPLES / "P02" / "visit-1" / "with-brace" / "walk-2.c3d",
)
CHILD = Body(0.25, 0.25, foot_scale=0.65, pelvis_width_m=0.11)
RECIPES = {
    "unimpaired": WalkRecipe(n_strides=4),
    "drop foot": WalkRecipe(speed_m_s=1.0, left=BARE),
    "toe walk": WalkRecipe(speed_m_s=0.8, n_strides=3, left=LIMP, right=LIMP),
    "short step": WalkRecipe(speed_m_s=0.7, left=FootRecipe(length_factor=0.8, time_factor=1.1)),
    "quick": WalkRecipe(speed_m_s=1.6, n_strides=3),
    "treadmill": WalkRecipe(speed_m_s=1.1, belt_speed_m_s=1.1, n_strides=6),
    "there and back": WalkRecipe(turn_after_m=4.0),
    "starts and stops": WalkRecipe(starts_inside=True, stops_inside=True),
    "child": WalkRecipe(speed_m_s=0.9, body=CHILD),
    "with plates": WalkRecipe(with_plates=True, left=BARE, speed_m_s=1.1),
}


def walks(*, is_real: bool) -> Iterator[Good]:
    """Give the walks that faults are planted in."""
    for path in (*REAL, *SAMPLED):
        yield Good(path.name if path in REAL else "sample " + path.parts[-4], read(path))
    for seed, (name, recipe) in enumerate(() if is_real else RECIPES.items(), 21):
        yield Good(name, simulate_walk(recipe, seed=seed).trial)


def silent_share(case: Case) -> float:
    """Return how far a value moved unseen, in measurement errors; 0 where it did not."""
    if case.outcome != "SILENT":
        return 0.0
    return abs(case.after - case.before) / error_of(case.measure, case.before, case.after)


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kind", default="")
    parser.add_argument("--real", action="store_true")
    parser.add_argument("--verbose", action="store_true")
    return parser.parse_args()


def main() -> None:
    """Print the table."""
    asked = _asked()
    names = [measure.name for measure in HEADLINES]
    worst: dict[tuple[str, str], dict[str, float]] = defaultdict(lambda: defaultdict(float))
    counts: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    for good in walks(is_real=asked.real):
        planted = [fault for fault in wild_faults() if asked.kind in fault.kind]
        for case in run(good, planted):
            if case.measure not in names:
                continue
            key = case.fault.kind, case.fault.name
            counts[key][case.outcome] += 1
            if share := silent_share(case):
                worst[key][case.measure] = max(worst[key][case.measure], share)
                if asked.verbose:
                    moved = f"{case.before:.1f} to {case.after:.1f}, {share:.1f} errors"
                    print(*key, good.name, case.measure, case.side, moved, flush=True)
    for key, found in counts.items():
        moves = " ".join(f"{worst[key][name]:5.1f}" for name in names)
        print(f"{key[0]:18} {key[1]:36} {moves}  {dict(found)}")


if __name__ == "__main__":
    main()
