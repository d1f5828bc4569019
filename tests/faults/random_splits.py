"""Split one person's walks of one condition at random: whatever is claimed of it is a mistake.

Nothing differs between the two groups. Run ``python -m tests.faults.random_splits [N]`` from the
checkout for so many splits of each condition; the share with a claim is printed.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gaittrack.compare.comparison import Comparison, compare_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.pipeline import MeasureOptions, measure_file
from gaittrack.walk_records import walk_records
from tests.faults.comparing import Claim, claims, simulated
from tests.faults.good_recordings import SAMPLES, measured, random_recipes

N_SPLITS, N_MADE_UP, SEED = 20, 30, 8
LEAST_WALKS = 4
FIRST, SECOND = "one group", "the other"
WORN = {name: Condition(name, markers_replaced=False) for name in (FIRST, SECOND)}


@dataclass(frozen=True, eq=False)
class Walked:
    """Walks of one person in one condition."""

    name: str
    records: tuple[WalkRecord, ...]

    def splits(self, n: int, seed: int) -> Iterator[Comparison]:
        """Give comparisons of two random groups."""
        rng = np.random.default_rng(seed)
        for _ in range(n):
            order = rng.permutation(len(self.records))
            n_first = int(rng.integers(2, len(order) - 1))
            groups = {place: FIRST if at < n_first else SECOND for at, place in enumerate(order)}
            yield compare_walks(
                [
                    record.known_as(condition=groups[place], walk_id=f"{place}")
                    for place, record in enumerate(self.records)
                ],
                reference=FIRST,
                conditions=WORN,
                affected="left",
                joints=(),
            )


def sample_walks() -> Iterator[Walked]:
    """Give the shipped conditions with four walks or more."""
    for folder in sorted(path for path in SAMPLES.glob("P*/visit-*/*") if path.is_dir()):
        files = sorted(folder.glob("walk-*"))
        if len(files) >= LEAST_WALKS:
            yield Walked(str(folder.relative_to(SAMPLES)), walks_in(folder, files))


def walks_in(folder: Path, files: Sequence[Path]) -> tuple[WalkRecord, ...]:
    """Return the walks of some files of a condition, with its standing trial."""
    still = folder.parent / "standing" / f"{folder.name}.c3d"
    options = MeasureOptions(standing=still if still.exists() else None)
    results = [measure_file(path, options) for path in files]
    return tuple(
        record
        for result in results
        if isinstance(result, MeasuredWalk)
        for record in walk_records(result, folder.name)
    )


def made_up_walks(n: int, n_walks: int = 6) -> Iterator[Walked]:
    """Give people drawn over all that patients show, each with some walks."""
    for number, recipe in enumerate(random_recipes(n, SEED)):
        records = []
        for place, trial in enumerate(simulated(recipe, seed=1000 * number, n=n_walks)):
            result = measured(trial)
            if isinstance(result, MeasuredWalk):
                found = walk_records(result, FIRST)
                records += [each.known_as(sha256=f"{number}-{place}") for each in found]
        yield Walked(f"made up {number}", tuple(records))


def count_claims(walked: Walked, n: int, seed: int = SEED) -> tuple[int, Counter[Claim]]:
    """Return how many splits claim anything, and what is claimed."""
    found = [claims(comparison) for comparison in walked.splits(n, seed)]
    return sum(map(bool, found)), Counter(claim for each in found for claim in each)


def main() -> None:
    """Print how many splits claim anything, condition by condition and in all."""
    n_splits = int(sys.argv[1]) if len(sys.argv) > 1 else N_SPLITS
    n_claiming = n_all = 0
    for walked in (*sample_walks(), *made_up_walks(N_MADE_UP)):
        n_with, found = count_claims(walked, n_splits)
        n_claiming, n_all = n_claiming + n_with, n_all + n_splits
        print(f"{walked.name}: {n_with} of {n_splits}", dict(found), flush=True)
    print(f"{n_claiming} of {n_all} splits claim a change: {100 * n_claiming / n_all:.1f} %")


if __name__ == "__main__":
    main()
