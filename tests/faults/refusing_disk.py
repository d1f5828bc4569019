"""Refuse a command's writing at one step of it, or from there on, and see what is left.

Run ``python -m tests.faults.refusing_disk`` from the checkout; ``--points`` says how many steps of
each command, ``--only`` which commands. The steps are those that the C library sees of the command
itself, of SQLite and of native writers (``refusing_disk.c``): no list of them is kept. A command
may say what the disk refused, or be done all the same; what it leaves is the old state or the new.
"""

from __future__ import annotations

import ctypes
import errno
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import click
from click.testing import CliRunner

from tests.faults.refused_commands import Recipe, make_start, recipes

SOURCE: Final = Path(__file__).with_suffix(".c")
MODULE: Final = "tests.faults.refusing_disk"
LASTING: Final = 1_000_000_000
WAYS: Final = (
    *((errno.ENOSPC, LASTING), (errno.EIO, 1), (errno.EROFS, LASTING)),
    *((errno.EDQUOT, LASTING), (errno.ENOSPC, 1), (errno.EIO, LASTING)),
)
"""What the disk says, and for how many calls."""
PASSWORD: Final = "a long password\n" * 2
_LEFT: Final = re.compile("left: |verify: no trial refers")
_OF_A_TIME: Final = re.compile(r"\d{8}T\d+")
OF_SQLITE: Final = ("study.db-wal", "study.db-shm", "study.db-journal")


@dataclass(frozen=True)
class Ended:
    """How a command ended: exit code, what it said, a raw error, how many steps it took."""

    code: int
    said: str
    fault: str
    n_steps: int
    refused: str


@dataclass(frozen=True)
class State:
    """What is there: names of files, entries in the history, what verifying says."""

    names: frozenset[str]
    n_entries: int
    faults: tuple[str, ...]
    outputs: dict[str, int]


def compiled(folder: Path) -> Path:
    """Return the library that stands before the disk."""
    library = folder / "refusing_disk.so"
    command = ["cc", "-O1", "-shared", "-fPIC", "-o", str(library), str(SOURCE), "-ldl"]
    subprocess.run(command, check=True)
    return library


def run_apart(points: int, only: Sequence[str]) -> subprocess.CompletedProcess[str]:
    """Run this module where the disk can be made to refuse."""
    with tempfile.TemporaryDirectory(prefix="refusing-disk-") as folder:
        given = [str(points), folder, *only]
        return subprocess.run(
            [sys.executable, "-B", "-m", MODULE, "--child", *given],
            env={**os.environ, "LD_PRELOAD": str(compiled(Path(folder)))},
            stdout=subprocess.PIPE,
            text=True,
            check=False,
        )


def run_in_fork(recipe: Recipe, folder: Path, start: int, times: int, code: int) -> Ended:
    """Run a command in a fork in which the disk refuses, and hear how it ended."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        tempfile.tempdir = str(folder / "temporary")
        disk = ctypes.CDLL(None)
        disk.disk_last.restype = ctypes.c_char_p
        disk.disk_refuses(ctypes.c_long(start), ctypes.c_long(start + times), code)
        found = _invoked(recipe, folder)
        n_steps, refused = disk.disk_seen(), disk.disk_last().decode()
        disk.disk_refuses(ctypes.c_long(-1), ctypes.c_long(-1), 0)
        with os.fdopen(writing, "w", encoding="utf-8") as pipe:
            json.dump((*found, n_steps, refused), pipe)
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, encoding="utf-8") as pipe:
        said = pipe.read()
    os.waitpid(child, 0)
    return Ended(*json.loads(said)) if said else Ended(-1, "", "it ended without a word", 0, "")


def _invoked(recipe: Recipe, folder: Path) -> tuple[int, str, str]:
    from gaittrack.commands import main

    done = CliRunner().invoke(main, recipe.words(folder), input=PASSWORD)
    error = done.exception
    if error is None or isinstance(error, SystemExit):
        return done.exit_code, done.output, ""
    return done.exit_code, done.output, "".join(traceback.format_exception(error))


def state_of(folder: Path, recipe: Recipe) -> State:
    """Return what a command has left."""
    from gaittrack.study.history import entries
    from gaittrack.study.store import open_study
    from gaittrack.study.upkeep.verifying import verify

    names = frozenset(
        _OF_A_TIME.sub("N", path.relative_to(folder).as_posix())
        for path in folder.rglob("*")
        if path.name not in OF_SQLITE
    )
    n_entries, faults = 0, ()
    if (folder / "study" / "study.db").is_file():
        study = open_study(folder / "study")
        try:
            faults = tuple(verify(study))
            with study.read() as connection:
                n_entries = len(list(entries(connection)))
        finally:
            study.close()
    outputs = {name: _size(folder / name) for name in recipe.outputs if name in names}
    return State(names, n_entries, faults, outputs)


def _size(path: Path) -> int:
    return 0 if path.is_dir() else path.stat().st_size


def what_is_wrong(old: State, new: State, now: State, ended: Ended, recipe: Recipe) -> list[str]:
    """Return what may not be of a command that the disk refused something."""
    wrong = [f"raw error: {ended.fault}"] if ended.fault else []
    if ended.code not in (0, 1, 2):
        wrong.append(f"exit code {ended.code}")
    if ended.code and not ended.fault and len(ended.said.strip()) < 20:
        wrong.append("nothing is said")
    left = sorted(now.names - old.names - new.names)
    if left and not ended.refused.startswith(("unlink", "rmdir")):
        wrong.append(f"left: {', '.join(left)}")
    wrong += [f"verify: {fault}" for fault in now.faults]
    for name, size in now.outputs.items():
        if size not in (old.outputs.get(name), new.outputs.get(name)):
            wrong.append(f"{name} is half written: {size} of {new.outputs.get(name)} bytes")
    if now.n_entries not in (old.n_entries, new.n_entries) and not recipe.is_in_parts:
        wrong.append(f"{now.n_entries} entries, neither {old.n_entries} nor {new.n_entries}")
    is_new = now.n_entries == new.n_entries and new.outputs.keys() <= now.outputs.keys()
    if ended.code == 0 and not is_new:
        wrong.append("it says that it is done, and is not")
    return wrong


def cases(n_steps: int, n_points: int, turn: int) -> Iterator[tuple[int, int, int]]:
    """Give (step, how often, error) for so many steps, spread evenly; each way in turn."""
    n_points = min(n_points, n_steps)
    for number in range(n_points):
        step = round(number * (n_steps - 1) / max(n_points - 1, 1))
        code, times = WAYS[(number + turn) % len(WAYS)]
        yield step, times, code


def try_recipe(recipe: Recipe, start: Path, place: Path, n_points: int, turn: int) -> list[str]:
    """Try a command at so many of its steps, and return what went wrong."""
    place = place / f"turn-{turn}"
    old = state_of(start, recipe)
    whole = Path(shutil.copytree(start, place / "at"))
    first = run_in_fork(recipe, whole, -1, 0, 0)
    if first.fault or first.code not in recipe.codes:
        return [f"{recipe.name}: without any fault: {first.code} {first.said} {first.fault}"]
    new, found = state_of(whole, recipe), []
    shutil.rmtree(whole)
    for step, times, code in cases(first.n_steps, n_points, turn):
        may_leave = code == errno.EROFS  # which takes no deletion either
        folder = Path(shutil.copytree(start, place / "at"))
        ended = run_in_fork(recipe, folder, step, times, code)
        wrong = what_is_wrong(old, new, state_of(folder, recipe), ended, recipe)
        wrong = [each for each in wrong if not (may_leave and _LEFT.match(each))]
        lasts = "once" if times == 1 else "from then on"
        where = f"{recipe.name}, {errno.errorcode[code]} {lasts} at {ended.refused} {step}"
        found += [f"{where} of {first.n_steps}: {each} [{ended.said[-300:]}]" for each in wrong]
        shutil.rmtree(folder)
    print(f"{recipe.name}\t{first.n_steps} steps\t{len(found)} wrong", flush=True)
    return found


def child(n_points: int, place: Path, only: Sequence[str]) -> int:
    """Try commands in this process' forks; return how many went wrong."""
    start = place / "start"
    make_start(start)
    found: list[str] = []
    for turn, recipe in enumerate(recipes()):
        if not only or any(each in recipe.name for each in only):
            found += try_recipe(recipe, start, place, n_points, turn)
    for line in found:
        print(line)
    return len(found)


@click.command()
@click.option("--points", default=24, help="Steps of each command at which it is refused.")
@click.option("--only", multiple=True, help="Commands whose name holds this.")
def main(points: int, only: tuple[str, ...]) -> None:
    """Print how many steps each command has, and what went wrong; exit 1 where something did."""
    done: Any = run_apart(points, only)
    click.echo(done.stdout)
    raise SystemExit(done.returncode)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--child"]:
        sys.exit(min(child(int(sys.argv[2]), Path(sys.argv[3]), sys.argv[4:]), 1))
    main()
