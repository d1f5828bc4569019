"""Plant faults in the rooms that make numbers, and see which ones no test notices.

Run ``python -m tests.planted_faults.plant --sample 50`` from the checkout. Each fault is planted in
a copy of the tree and the room's tests are run there until the first fails. A fault that no test
notices is a survivor: write the test that promises what it breaks, or say in ``standing.md`` why it
stands.
"""

import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

import click

from tests.planted_faults.faults import Fault, faults_in

ROOT = Path(__file__).parents[2]
STANDING = Path(__file__).with_name("standing.md")
COPIED = ("gaittrack", "dashboards", "tests", "sample_trials", "pyproject.toml")
TESTS = {
    "measures": ("measures", "contracts/test_measures.py", "test_metamorphic.py"),
    "events": ("events", "test_cycles.py", "test_wrong_sides.py", "test_outside_world.py"),
    "compare": ("compare", "test_compare_files.py", "commands/test_compare.py", "figures"),
    "cohort": ("cohort",),
}
"""Room → the tests that promise what it does, beside those of the module itself."""
TIMES = 5
"""A fault may make the tests this much slower before it counts as a hang."""


@dataclass(frozen=True)
class Planted:
    """One fault in one module of a room, and what became of it."""

    room: str
    path: str
    fault: Fault
    became: str = ""

    @property
    def key(self) -> str:
        """What names it in the list of those that stand, whatever line it is on."""
        return f"`{self.path}`: `{self.fault.context}`: `{self.fault.old}` → `{self.fault.new}`"


def sampled(rooms: tuple[str, ...], n: int, seed: int, only: str) -> list[Planted]:
    """Return faults of each room, drawn by a seed, in the order of the text."""
    drawn = []
    for room in rooms:
        places = [
            Planted(room, path.relative_to(ROOT).as_posix(), fault)
            for path in sorted((ROOT / "gaittrack" / room).rglob("*.py"))
            if only in path.name
            for fault in faults_in(path.read_text(encoding="utf-8"))
        ]
        chosen = random.Random(f"{seed} {room}").sample(range(len(places)), min(n, len(places)))
        drawn += [places[number] for number in sorted(chosen)]
    return drawn


def tests_of(tree: Path, room: str, path: str) -> list[str]:
    """Return what is run for a module: its own tests first, then the room's."""
    places = [tree / "tests" / name for name in TESTS[room]]
    own = places[0] / f"test_{Path(path).stem}.py"
    return [str(place) for place in ([own] if own.is_file() else []) + places]


def run_tests(tree: Path, tests: list[str], limit_s: float) -> str:
    """Run tests in a copy of the tree until one fails; return what became of them."""
    options = ("-x", "-q", "-n0", "-p", "no:cacheprovider", "--no-header", "--tb=no")
    process = subprocess.Popen(
        [sys.executable, "-m", "pytest", *options, *tests],
        cwd=tree,
        env={**os.environ, "PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        return "survived" if process.wait(limit_s) == 0 else "noticed"
    except subprocess.TimeoutExpired:
        return "hung"
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


@contextmanager
def copies(n: int) -> Iterator[SimpleQueue[Path]]:
    """Give copies of the tree, one for each process."""
    free: SimpleQueue[Path] = SimpleQueue()
    with tempfile.TemporaryDirectory() as folder:
        for number in range(n):
            tree = Path(folder) / f"tree-{number}"
            for name in COPIED:
                source = ROOT / name
                copy = shutil.copytree if source.is_dir() else shutil.copy
                tree.mkdir(exist_ok=True)
                copy(source, tree / name)
            free.put(tree)
        yield free


def limits(free: "SimpleQueue[Path]", rooms: tuple[str, ...]) -> dict[str, float]:
    """Run each room's tests without a fault; return how long they may take with one."""
    found = {}
    tree = free.get()
    for room in rooms:
        start_s = time.monotonic()
        if run_tests(tree, tests_of(tree, room, ""), 3600) != "survived":
            raise click.ClickException(f"The tests of {room} fail without a fault.")
        found[room] = TIMES * (time.monotonic() - start_s) + 10
        click.echo(f"{room}: {time.monotonic() - start_s:.0f} s without a fault")
    free.put(tree)
    return found


def try_one(free: "SimpleQueue[Path]", one: Planted, limit_s: float) -> Planted:
    """Plant a fault in a copy, run the tests, and take it out again."""
    tree = free.get()
    file = tree / one.path
    text = file.read_text(encoding="utf-8")
    try:
        file.write_text(one.fault.planted(text), encoding="utf-8")
        became = run_tests(tree, tests_of(tree, one.room, one.path), limit_s)
    finally:
        file.write_text(text, encoding="utf-8")
        free.put(tree)
    return Planted(one.room, one.path, one.fault, became)


def standing() -> set[str]:
    """Return the keys of the survivors that stand for a reason."""
    lines = STANDING.read_text(encoding="utf-8").splitlines()
    return {match[1] for line in lines if (match := re.match(r"- (`.*` → `.*?`)", line))}


def report(tried: list[Planted]) -> None:
    """Print each room's counts, then the survivors."""
    stands = standing()
    by_room = defaultdict(list)
    for one in tried:
        by_room[one.room].append(one)
    for room, own in by_room.items():
        left = [one for one in own if one.became == "survived"]
        explained = sum(one.key in stands for one in left)
        share = 100 * (1 - len(left) / len(own))
        click.echo(
            f"{room}: {len(own)} planted, {share:.0f} % noticed"
            f" ({sum(one.became == 'hung' for one in own)} by hanging),"
            f" {len(left)} survived, {explained} of them stand"
        )
    for one in tried:
        if one.became == "survived" and one.key not in stands:
            click.echo(f"line {one.fault.line}: {one.key}")


@click.command()
@click.option("--sample", default=50, help="Faults in each room.")
@click.option("--seed", default=1, help="Of the draw.")
@click.option("--room", "rooms", multiple=True, type=click.Choice(list(TESTS)), help="Only here.")
@click.option("--only", default="", help="Only modules whose name holds this.")
@click.option("--jobs", default=os.cpu_count() or 1, help="Processes.")
def main(sample: int, seed: int, rooms: tuple[str, ...], only: str, jobs: int) -> None:
    """Plant faults and print those that no test notices."""
    rooms = rooms or tuple(TESTS)
    chosen = sampled(rooms, sample, seed, only)
    with copies(jobs) as free, ThreadPoolExecutor(jobs) as threads:
        may_take = limits(free, rooms)
        futures = [threads.submit(try_one, free, one, may_take[one.room]) for one in chosen]
        tried = []
        for future in futures:
            tried.append(future.result())
            click.echo(".s"[tried[-1].became == "survived"], nl=False)
    click.echo()
    report(tried)


if __name__ == "__main__":
    main()
