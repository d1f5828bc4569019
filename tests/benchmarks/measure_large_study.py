"""Print what a large study costs: store, cohort and export of people with twenty walks each.

The study is one person's stored results many times over (``large_study.py``). Each step runs in a
process of its own, whose processor time and largest memory are printed::

    .venv/bin/python -m tests.benchmarks.measure_large_study --people 1000

``--keep FOLDER`` makes the study there, or takes the one that is there.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path
from time import perf_counter, process_time
from typing import NamedTuple

from gaittrack.cohort.asking.view import read_cohort, selected_changes
from gaittrack.cohort.kept.compared import compared_parts
from gaittrack.cohort.study_export import export_study
from gaittrack.compare.measurement_error.marker_errors import SPEED_MEASURE
from gaittrack.study.results.keeping import known_trials, recompute
from gaittrack.study.store import DATABASE, open_study
from tests.benchmarks.large_study import N_VISITS, N_WALKS, copy_person, write_template

WALKS = 2 * N_WALKS * N_VISITS
"""Of a person: two conditions, some visits."""
FEW = 2
"""People and walks that are compared and measured for the cost of one."""


def main() -> None:
    """Make the study and print a line for each step."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=100)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--step", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.step:
        step(given.step, given.keep)
        return
    with tempfile.TemporaryDirectory() as scratch:
        place = given.keep or Path(scratch)
        study = place / "study"
        if not study.is_dir():
            started = perf_counter(), process_time()
            write_template(place)
            told("measure, import, compare one person", *since(started), 0, 1)
            copy_person(study, given.people)
        size = (study / DATABASE).stat().st_size
        print(f"store: {size / 1e6:,.0f} MB, {size / 1e3 / given.people / WALKS:.1f} kB a walk")
        for name in STEPS:
            told(name, *run_step(name, place))


class Cost(NamedTuple):
    """What a step took of this machine, and for how many people it was done."""

    wall_s: float
    own_s: float
    memory_mb: float
    n_people: float


def run_step(name: str, place: Path) -> Cost:
    """Do a step on the study in a folder, in a process of its own."""
    run = [sys.executable, "-m", "tests.benchmarks.measure_large_study"]
    run += ["--step", name, "--keep", str(place)]
    return Cost(*json.loads(subprocess.run(run, check=True, stdout=subprocess.PIPE).stdout))


def since(started: tuple[float, float]) -> tuple[float, float]:
    """Return wall and processor time since then, in seconds."""
    return perf_counter() - started[0], process_time() - started[1]


def told(name: str, wall_s: float, own_s: float, memory_mb: float, n_people: int) -> None:
    """Print what a step cost, in all and by walk."""
    each = 1000 * own_s / n_people / WALKS
    memory = f", {memory_mb:.0f} MB" if memory_mb else ""
    print(f"{name}: {wall_s:.1f} s, of it processor {own_s:.1f} s{memory}; {each:.2f} ms a walk")


def step(name: str, place: Path) -> None:
    """Do one step; print its times, its largest memory and for how many people it was."""
    started = perf_counter(), process_time()
    with closing(open_study(place / "study")) as study:
        n_people = STEPS[name](study, place)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    print(json.dumps([*since(started), memory, n_people]))


def _recompute(study, _):
    with study.read() as connection:
        trials = known_trials(connection)[: FEW * WALKS]
    return len(list(recompute(study, trials, who="bench"))) / WALKS


def _compare(study, _):
    with study.read() as connection:
        codes = list(dict.fromkeys(trial.person for trial in known_trials(connection)))[:FEW]
    return len([compared_parts(study, code) for code in codes])


def _cohort(study, _):
    view = read_cohort(study)
    return selected_changes(view, measures=[SPEED_MEASURE])["person"].nunique()


def _export(study, place):
    with tempfile.TemporaryDirectory(dir=place) as scratch:
        out, ids = Path(scratch) / "out", Path(scratch) / "ids.csv"
        found = export_study(study, out, who="bench", id_map=ids)
        size = sum(path.stat().st_size for path in out.rglob("*") if path.is_file())
        print(dict(found.n_rows), f"{size / 1e6:.0f} MB", file=sys.stderr)
    return len(found.protection.people)


STEPS = {
    "recompute a few": _recompute,
    "compare a few": _compare,
    "show the cohort": _cohort,
    "export": _export,
}

if __name__ == "__main__":
    main()
