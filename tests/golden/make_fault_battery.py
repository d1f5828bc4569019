"""Remake ``fault_battery.csv``: what ordinary faults do to a walk, and where walks are compared.

Run ``python -m tests.golden.make_fault_battery`` from the checkout; nothing else writes the table.
A line per fault: how many headline values of how many good recordings are the same, are said to be
wrong, or are silent; and what rows and signs become where the fault is in one of two groups of a
person's walks that do not differ. The last line counts the doubts raised on recordings that are
right.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import chain
from pathlib import Path
from typing import NamedTuple, get_args

from gaittrack.measured_walk import MeasuredWalk
from gaittrack.simulate.walk import simulate_walk
from tests.faults import battery, comparing
from tests.faults.battery import run
from tests.faults.comparing import Halves, Person, people
from tests.faults.faults import Fault, faults
from tests.faults.good_recordings import Good, good_recordings, measured, random_recipes
from tests.faults.wrong_companions import others_walks, standings, with_standing
from tests.faults.wrong_curves import curve_faults, good_curves
from tests.faults.wrong_sheets import good_sheets, sheet_faults

TABLE = Path(__file__).with_name("fault_battery.csv")
OF_VALUES = get_args(battery.Outcome)
OF_COMPARISONS = get_args(comparing.Outcome)
N_GOOD, SEED = 300, 5
SHEET = "sheet"


class Line(NamedTuple):
    """What became of one fault."""

    fault: Fault
    values: Counter[str]
    comparisons: Counter[str]


Lines = dict[tuple[str, str], Line]


def whole_battery(*, is_compared: Callable[[Fault], bool]) -> Lines:
    """Plant every fault in every recording and, where wanted, in one half of a person's walks."""
    lines: Lines = {}
    for goods, planted in (
        (good_recordings(), list(faults())),
        (with_standing(), list(standings())),
        (good_sheets(), list(sheet_faults())),
        (good_curves(), list(curve_faults())),
    ):
        for good in goods:
            _plant(lines, good, planted)
    for fault, outcomes in _compared(is_compared):
        _line(lines, fault).comparisons.update(outcomes)
    return lines


def _line(lines: Lines, fault: Fault) -> Line:
    return lines.setdefault((fault.kind, fault.name), Line(fault, Counter(), Counter()))


def _plant(lines: Lines, good: Good, planted: Sequence[Fault]) -> None:
    for case in run(good, planted):
        _line(lines, case.fault).values[case.outcome] += 1


def _compared(is_compared: Callable[[Fault], bool]) -> Iterator[tuple[Fault, Counter[str]]]:
    for person in people():
        halves = Halves(person)
        for fault in _faults_of(person):
            if is_compared(fault) and (outcomes := halves.run(fault)) is not None:
                yield fault, Counter(outcomes)
        if person.standing is not None:
            with_it = Halves(person, uses_standing=True)
            for fault in standings():
                yield fault, Counter(with_it.run(fault) or {})


def _faults_of(person: Person) -> Iterator[Fault]:
    if person.is_of_curves:
        return curve_faults()
    return sheet_faults() if person.is_of_sheets else chain(faults(), others_walks())


def is_compared(fault: Fault) -> bool:
    """Whether a fault is planted in comparisons too: of jumps and axes some stand for all."""
    if fault.kind == "one frame moved":
        return " 0.3 m " in fault.name
    return fault.kind != "axes turned" or "(1, 2, 0)" in fault.name


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
    lines = whole_battery(is_compared=is_compared)
    with TABLE.open("w", newline="", encoding="utf-8") as stream:
        table = csv.writer(stream, lineterminator="\n")
        compared = (f"compared: {outcome}" for outcome in OF_COMPARISONS)
        table.writerow(("fault", "case", *OF_VALUES, *compared, "why one walk cannot show it"))
        for (kind, name), (fault, values, comparisons) in lines.items():
            counts = [values[each] for each in OF_VALUES]
            counts += [comparisons[each] for each in OF_COMPARISONS]
            table.writerow((kind, name, *counts, fault.unknowable))
        doubts = doubts_on_good_walks()
        table.writerow((f"doubts on {N_GOOD} good walks", dict(doubts), sum(doubts.values())))
    print(TABLE.read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
