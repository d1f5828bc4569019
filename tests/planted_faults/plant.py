"""Plant faults in the rooms that make numbers, and see which ones no test notices.

Run ``python -m tests.planted_faults.plant --sample 50`` from the checkout (where there is fork).
Each fault is planted in a copy of the tree; the tests that reach its function run there until one
fails, of a constant all tests of the room. A fault that none of them notices is a survivor: write
the test that promises what it breaks, or say in ``standing.md`` why it stands.
"""

import ast
import contextlib
import gc
import importlib
import multiprocessing
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import click
import pytest

from tests.planted_faults.faults import Fault, faults_in
from tests.planted_faults.reach import Reach, first_line, make_telling

ROOT = Path(__file__).parents[2]
STANDING = Path(__file__).with_name("standing.md")
COPIED = ("gaittrack", "dashboards", "tests", "sample_trials", "pyproject.toml")
OURS = ("gaittrack", "dashboards", "tests")
KEPT = "golden/test_kept_numbers.py::test_{}_keep_their_numbers"
TESTS = {
    "measures": (
        *("measures", "contracts/test_measures.py", "test_metamorphic.py"),
        KEPT.format("walks"),
    ),
    "events": (
        *("events", "test_cycles.py", "test_wrong_sides.py", "test_outside_world.py"),
        KEPT.format("walks"),
    ),
    "compare": (
        *("compare", "test_compare_files.py", "commands/test_compare.py", "figures"),
        *("cohort/test_able_bodied.py", "cohort/test_repeated_visits.py"),
        "cohort/test_beside_the_mean.py",
        KEPT.format("comparisons"),
    ),
    "cohort": (
        *("cohort", "study/test_kept_changes.py", "figures/test_cohort_changes.py"),
        *("calibration/test_effect_coverage.py", KEPT.format("cohorts")),
    ),
}
"""Room → the tests that promise what it does."""
TIMES, LEAST_S = 10, 60
"""A fault may make a test take so much longer, and so long, before it counts as a hang."""
HUNG = 99
"""What a process ends with when a test takes too long."""


class Limit:
    """End the process when a test takes too much of a processor's time."""

    def __init__(self, seconds: dict[str, float]) -> None:
        self.seconds = seconds

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_protocol(self, item) -> None:
        """Wind up the clock of a test."""
        signal.signal(signal.SIGPROF, lambda *_: os._exit(HUNG))
        most_s = max(LEAST_S, TIMES * self.seconds.get(item.nodeid, 0))
        signal.setitimer(signal.ITIMER_PROF, most_s)


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
    """Return faults of each room, in the order in which a seed draws them: any first ones tell."""
    drawn = []
    for room in rooms:
        places = [
            Planted(room, path.relative_to(ROOT).as_posix(), fault)
            for path in sorted((ROOT / "gaittrack" / room).rglob("*.py"))
            if only in path.name
            for fault in faults_in(path.read_text(encoding="utf-8"))
        ]
        chosen = random.Random(f"{seed} {room}").sample(range(len(places)), min(n, len(places)))
        drawn += [places[number] for number in chosen]
    return drawn


def function_at(text: str, line: int) -> int | None:
    """Return the line at which the innermost function around a line begins, or None."""
    around = [
        first_line(node)
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.FunctionDef) and node.lineno <= line <= (node.end_lineno or 0)
    ]
    return max(around, default=None)


def run_here(tree: Path, tests: list[str], *plugins: object) -> int:
    """Run tests of a copy of the tree in this process until one fails."""
    os.chdir(tree)
    os.environ.update(PYTHONPATH=str(tree), PYTHONDONTWRITEBYTECODE="1")
    sys.path[:] = [str(tree), *(p for p in sys.path if p not in ("", str(ROOT)))]
    sys.dont_write_bytecode = True
    for name in [name for name in sys.modules if name.partition(".")[0] in OURS]:
        del sys.modules[name]
    importlib.invalidate_caches()
    options = ["-x", "-q", "-n0", "-p", "no:cacheprovider", "--tb=no"]
    return int(pytest.main([*options, *tests], plugins=list(plugins)))


def forked(work: Callable[[], int]) -> int:
    """Start work that prints nothing in a fork of this process; return its id."""
    sys.stdout.flush()
    child = os.fork()
    if child:
        return child
    code = 3
    try:
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nowhere, stream)
        code = work()
    finally:
        os._exit(code)


@contextlib.contextmanager
def copies(n: int) -> Iterator[list[Path]]:
    """Give copies of the tree, one for each process."""
    with tempfile.TemporaryDirectory() as folder:
        trees = [Path(folder).resolve() / f"tree-{number}" for number in range(n)]
        for tree in trees:
            tree.mkdir()
            for name in COPIED:
                source = ROOT / name
                (shutil.copytree if source.is_dir() else shutil.copy)(source, tree / name)
        yield trees


def watched(tree: Path, room: str) -> Reach:
    """Run the tests of a room without a fault; return what each of them reaches."""

    def work(pipe) -> None:
        reach = Reach()
        with open(os.devnull, "w") as nowhere, contextlib.redirect_stdout(nowhere):
            code = run_here(tree, room_tests(room), reach)
        libraries = [name for name in sys.modules if name.partition(".")[0] not in OURS]
        pipe.send((code, reach.of_test, reach.seconds, libraries))

    make_telling(tree)
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.get_context("fork").Process(target=work, args=(theirs,))
    process.start()
    theirs.close()
    reach = Reach()
    code, reach.of_test, reach.seconds, libraries = ours.recv()
    process.join()
    shutil.copytree(ROOT / "gaittrack", tree / "gaittrack", dirs_exist_ok=True)
    if code:
        raise click.ClickException(f"The tests of {room} fail without a fault.")
    for name in libraries:  # forks then begin with the libraries loaded
        with contextlib.suppress(Exception):
            importlib.import_module(name)
    click.echo(f"{room}: {len(reach.of_test)} tests, {sum(reach.seconds.values()):.0f} s")
    return reach


def room_tests(room: str) -> list[str]:
    """Return the tests of a room, as paths within the tree."""
    return [f"tests/{name}" for name in TESTS[room]]


def try_tests(tree: Path, one: Planted, reach: Reach) -> int:
    """Run what reaches a fault, and all others where any module may; return pytest's code."""
    os.setsid()
    line = function_at((ROOT / one.path).read_text(encoding="utf-8"), one.fault.line)
    near = reach.tests_that_call(one.path, line)
    others = [] if line else [test for test in reach.of_test if test not in near]
    limit = Limit(reach.seconds)
    child = forked(lambda: run_here(tree, near, limit)) if near else 0
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) if child else 0
    return code or (run_here(tree, others, limit) if others else 0)


def began(tree: Path, one: Planted, reach: Reach) -> int:
    """Plant a fault in a copy and start its tests; return the process."""
    text = (ROOT / one.path).read_text(encoding="utf-8")
    (tree / one.path).write_text(one.fault.planted(text), encoding="utf-8")
    return forked(lambda: try_tests(tree, one, reach))


def try_all(
    chosen: list[Planted], trees: list[Path], reaches: dict[str, Reach]
) -> Iterator[Planted]:
    """Try each fault, as many at a time as there are copies; yield what became of them."""
    waiting, free = list(reversed(chosen)), list(trees)
    running: dict[int, tuple[Planted, Path, float]] = {}
    while waiting or running:
        while waiting and free:
            one, tree = waiting.pop(), free.pop()
            spent_s = sum(reaches[one.room].seconds.values())
            end_s = time.monotonic() + max(LEAST_S, TIMES * spent_s)
            running[began(tree, one, reaches[one.room])] = (one, tree, end_s)
        for child, (one, tree, end_s) in list(running.items()):
            ended, status = os.waitpid(child, os.WNOHANG)
            if not ended and time.monotonic() < end_s:
                continue
            code = os.waitstatus_to_exitcode(status) if ended else HUNG
            became = {0: "survived", HUNG: "hung"}.get(code, "noticed")
            end_session(child, is_over=bool(ended))
            shutil.copy(ROOT / one.path, tree / one.path)
            del running[child]
            free.append(tree)
            yield replace(one, became=became)
        time.sleep(0.02)


def end_session(child: int, *, is_over: bool) -> None:
    """Leave no process of a try behind."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    if not is_over:
        os.waitpid(child, 0)


def standing() -> set[str]:
    """Return the keys of the survivors that stand for a reason."""
    lines = STANDING.read_text(encoding="utf-8").splitlines()
    return {match[1] for line in lines if (match := re.match(r"- (`.*` → `.*?`)", line))}


def report(tried: list[Planted], stands: set[str]) -> None:
    """Print how many faults of each room were noticed."""
    by_room = defaultdict(list)
    for one in tried:
        by_room[one.room].append(one)
    for room, own in by_room.items():
        left = [one for one in own if one.became == "survived"]
        click.echo(
            f"{room}: {len(own)} planted, {100 * (1 - len(left) / len(own)):.0f} % noticed"
            f" ({sum(one.became == 'hung' for one in own)} hung), {len(left)} survived,"
            f" {sum(one.key in stands for one in left)} of them stand"
        )


@click.command()
@click.option("--sample", default=50, help="Faults in each room.")
@click.option("--seed", default=1, help="Of the draw.")
@click.option("--room", "rooms", multiple=True, type=click.Choice(list(TESTS)), help="Only here.")
@click.option("--only", default="", help="Only modules whose name holds this.")
@click.option("--jobs", default=os.cpu_count() or 1, help="Processes.")
def main(sample: int, seed: int, rooms: tuple[str, ...], only: str, jobs: int) -> None:
    """Plant faults and print those that no test notices."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    rooms = rooms or tuple(TESTS)
    chosen = sampled(rooms, sample, seed, only)
    with copies(jobs) as trees:
        reaches = {room: watched(trees[0], room) for room in rooms}
        gc.freeze()
        tried: list[Planted] = []
        stands = standing()
        with contextlib.suppress(KeyboardInterrupt):  # whoever has seen enough
            for one in try_all(chosen, trees, reaches):
                tried.append(one)
                if one.became == "survived" and one.key not in stands:
                    click.echo(f"line {one.fault.line}: {one.key}")
    report(tried, stands)


if __name__ == "__main__":
    main()
