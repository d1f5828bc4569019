"""Remake ``fault_battery.csv``: what ordinary faults do to headline values, and what is said.

Run ``python -m tests.golden.make_fault_battery`` from the checkout; nothing else writes the table.
The last rows count the doubts raised on recordings that are right.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from gaittrack.measured_walk import MeasuredWalk
from gaittrack.simulate.walk import simulate_walk
from tests.faults.battery import Case, run
from tests.faults.faults import faults
from tests.faults.good_recordings import good_recordings, measured, random_recipes

TABLE = Path(__file__).with_name("fault_battery.csv")
OUTCOMES = ("same", "not trusted", "not defined", "other points", "refused", "told", "SILENT")
N_GOOD, SEED = 300, 5


def cases() -> Iterator[Case]:
    """Give every value of every recording with every fault."""
    for good in good_recordings():
        yield from run(good, faults())


def doubts_on_good_walks(n: int = N_GOOD) -> Counter[str]:
    """Count the walks, of so many that are right, that each doubt is raised on."""
    found: Counter[str] = Counter()
    for seed, recipe in enumerate(random_recipes(n, SEED)):
        result = measured(simulate_walk(recipe, seed=seed).trial)
        if not isinstance(result, MeasuredWalk):
            found["refused"] += 1
            continue
        found.update({p.reason.code for p in result.problems if p.level != "info"})
    return found


def main() -> None:
    """Write the table and print it."""
    counts: dict[tuple[str, str], Counter[str]] = {}
    for case in cases():
        counts.setdefault((case.fault.kind, case.fault.name), Counter())[case.outcome] += 1
    with TABLE.open("w", newline="", encoding="utf-8") as stream:
        table = csv.writer(stream, lineterminator="\n")
        table.writerow(("fault", "case", *OUTCOMES))
        for (kind, name), found in counts.items():
            table.writerow((kind, name, *(found[outcome] for outcome in OUTCOMES)))
        doubts = doubts_on_good_walks()
        table.writerow((f"doubts on {N_GOOD} good walks", dict(doubts), sum(doubts.values())))
    print(TABLE.read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
