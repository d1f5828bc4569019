"""Damage files of every kind that is read, and count what becomes of them.

Run ``python -m tests.faults.damaged_files --cases 300`` from the checkout; ``--kind``, ``--seed``
and ``--show`` choose. A file may be refused, may read as before, or may differ with a word about
it. It may not end the program, run on, or differ without a word.
"""

from __future__ import annotations

import contextlib
import resource
import signal
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import click
import numpy as np

from gaittrack.errors import GaitTrackError, Problem, ReaderFailedError
from gaittrack.lab_map import read_lab_map
from gaittrack.measured_walk import RefusedFile
from gaittrack.pipeline import InputFile, Recording, measure_recording
from gaittrack.read.events_table import read_events_csv
from gaittrack.study.laboratory import READERS
from gaittrack.study.people.description import described_facts, read_visit
from gaittrack.trial import Event, Trial
from gaittrack.words import sentences
from tests.faults.damage import corpus, damaged
from tests.faults.damaged_folders import FOLDERS, damage_folder

LONGEST_S = 60
PROGRAM_FAILED = sentences("en")["program_failed_file"]["what"].partition("{")[0]
NOISE_TIMES = 13
"""What lies nearer than so many SD of its own noise cannot be told from it."""
BAD = ("program fault", "hang", "reader died", "reader fault", "SILENT")
BY_HAND = ("toml", "settings", "conditions", "events")
"""Kinds whose every word may be meant: what differs there is no wrong number."""
KINDS = ("c3d", "xlsx", "xls", "csv", "trc", "mot", *BY_HAND, *FOLDERS)


class Numbers(NamedTuple):
    """Numbers of one kind: how far apart they may lie, and from where on that can be seen."""

    values: np.ndarray
    near: float
    seen: float


@dataclass(frozen=True)
class Seen:
    """What a file gave: numbers, words said, measures, why it was refused, or what it broke."""

    numbers: Mapping[str, Numbers]
    words: frozenset[str] = frozenset()
    measures: tuple[float, ...] = ()
    refusal: str = ""
    fault: str = ""


@dataclass(frozen=True)
class Case:
    """One damaged file, and what became of it."""

    kind: str
    seed: int
    how: str
    became: str
    says: str = ""


def look(kind: str, path: Path) -> Seen:
    """Read a file as the program does."""
    try:
        if kind == "toml":
            told = read_lab_map(path)
            return _words((told.landmarks, told.sheet, told.fits, told.standing_only))
        if kind == "settings":
            return _words(READERS[path.suffixes[-2][1:]](path))
        if kind == "conditions":
            return _words((described_facts(path), read_visit(path)))
        if kind == "events":
            events = read_events_csv(path)
            return Seen({"events": _events(events)})
        return _measured(path)
    except GaitTrackError as error:
        return Seen({}, refusal=str(error))
    except Exception as error:
        return Seen({}, fault=f"program fault: {error!r}")


def _words(told: object) -> Seen:
    text = repr(told).encode()
    return Seen({"text": Numbers(np.frombuffer(text, dtype=np.uint8), 0, 0)})


def _measured(path: Path) -> Seen:
    result = measure_recording(Recording(InputFile(path)))
    if isinstance(result, RefusedFile):
        error = result.error
        if isinstance(error, ReaderFailedError):
            kind = (
                "reader died" if "died" in error.what or "longer" in error.what else "reader fault"
            )
            return Seen({}, fault=f"{kind}: {error.what}")
        if error.what.startswith(PROGRAM_FAILED):
            return Seen({}, fault=f"program fault: {error.what}")
        return Seen({}, refusal=str(error))
    said = frozenset(
        f"{each.reason.code} of {each.where}{_place(each)}" for each in result.problems
    )
    return Seen(dict(_numbers(result.trial)), said, tuple(row.value for row in result.rows))


def _place(problem: Problem) -> str:
    """Return where samples stand out, so that one more of a marker that had some is seen."""
    is_lone = problem.reason.code in ("lone_samples", "marker_jumps")
    return f" {problem.reason.parameters}" if is_lone else ""


def _numbers(trial: Trial) -> Iterator[tuple[str, Numbers]]:
    for name, xyz in trial.markers.items():
        yield name, Numbers(xyz, 0.001, 0.0025)
    for (side, joint), angle in trial.angles.items():
        yield f"{side} {joint}", Numbers(angle.values, 1.0, 6.0)
    for n, each in enumerate(trial.curves):
        yield f"curve {n}", Numbers(each.values_deg, 1.0, 6.0)
        yield f"curve {n} time", Numbers(np.array([each.cycle_time_s]), 0.001, 0.001)
        yield f"curve {n} toe-off", Numbers(np.array([each.toe_off_percent]), 0.5, 0.5)
    yield "events", _events(trial.events)
    yield "rate", Numbers(np.array([trial.rate_hz]), 1e-3, 1e-3)
    for plate in trial.plates:
        yield plate.name, Numbers(plate.force_n, 5.0, 50.0)


def _events(events: Sequence[Event]) -> Numbers:
    found = [(each.time_s, sum(map(ord, f"{each.side} {each.kind}"))) for each in events]
    return Numbers(np.array(found, dtype=float).reshape(-1, 2), 0.001, 0.001)


def differs(before: Seen, after: Seen) -> tuple[str, bool]:
    """Return what differs, empty where nothing does, and whether physics can see it.

    What is missing now is no wrong number, a label is whatever the file says, and what its own
    noise hides nobody can see.
    """
    if len(before.numbers) != len(after.numbers):
        return "how many", True
    small = ""
    for name, other in zip(before.numbers, after.numbers, strict=True):
        old, new = before.numbers[name], after.numbers[other]
        if old.values.shape != new.values.shape:
            return f"{name}: how many", True
        if (np.isnan(old.values) & ~np.isnan(new.values)).any():
            return f"{name}: there now", True
        apart = np.nanmax(np.abs(old.values - new.values), initial=0.0)
        if apart > max(old.seen, NOISE_TIMES * _noise(old.values)):
            return f"{name}: by {apart:.4g}", True
        if apart > old.near:
            small = f"{name}: by {apart:.4g}"
    return small, False


def _lost_whole_rows(kind: str, content: bytes, changed: bytes) -> bool:
    """Whether a table that says nowhere how long it is ends at the end of another of its rows."""
    return kind == "csv" and content.startswith(changed.rstrip(b"\n") + b"\n")


def _same(before: Sequence[float], after: Sequence[float]) -> bool:
    """Whether the measures that there are stayed, by less than anybody is shown of them."""
    is_alike = len(before) == len(after) > 0
    return is_alike and np.allclose(before, after, rtol=1e-4, atol=1e-3, equal_nan=True)


def _noise(values: np.ndarray) -> float:
    """Return the SD of white noise in one column, from third differences."""
    if len(values) < 20:
        return 0.0
    third = np.diff(values.reshape(len(values), -1), 3, axis=0)
    return float(np.nanmax(1.4826 * np.nanmedian(np.abs(third), axis=0)) / np.sqrt(20))


def run_case(kind: str, seed: int, folder: Path, known: dict[bytes, Seen]) -> Case:
    """Damage one file and see what becomes of it."""
    if kind in FOLDERS:
        return Case(kind, seed, *damage_folder(kind, seed))
    suffix, content, changed, how = damaged(kind, seed)
    path = folder / "P01" / "visit-1" / f"case{suffix}"
    path.parent.mkdir(parents=True, exist_ok=True)
    if content not in known:
        path.write_bytes(content)
        known[content] = look(kind, path)
        assert known[content].numbers, known[content]
    if changed == content:
        return Case(kind, seed, how, "unchanged")
    path.write_bytes(changed)
    try:
        with alarm():
            after = look(kind, path)
    except TimeoutError:
        return Case(kind, seed, how, "hang")
    if after.fault:
        return Case(kind, seed, how, after.fault.partition(":")[0], after.fault)
    if after.refusal:
        return Case(kind, seed, how, "refused", after.refusal)
    (what, is_seen), before = differs(known[content], after), known[content]
    if not what:
        return Case(kind, seed, how, "same")
    new = after.words - before.words
    became = "other words" if kind in BY_HAND else "told" if new else "SILENT"
    if became == "SILENT" and _lost_whole_rows(kind, content, changed):
        became = "whole rows less"
    if became == "SILENT" and not is_seen:
        became = "within noise"
    if became == "SILENT" and _same(before.measures, after.measures):
        became = "in no measure"
    return Case(kind, seed, how, became, f"{what} {', '.join(sorted(new))}")


@contextlib.contextmanager
def alarm() -> Iterator[None]:
    """Raise where something takes longer than a reader may."""

    def ring(*_: object) -> None:
        raise TimeoutError

    old = signal.signal(signal.SIGALRM, ring)
    signal.alarm(LONGEST_S + 15)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, old)


def run(kinds: tuple[str, ...], n_cases: int, first: int) -> Iterator[Case]:
    """Give what becomes of so many damaged files of each kind."""
    known: dict[bytes, Seen] = {}
    with tempfile.TemporaryDirectory(prefix="damaged-") as folder:
        for kind in kinds:
            for seed in range(first, first + n_cases):
                yield run_case(kind, seed, Path(folder), known)


@click.command()
@click.option("--cases", "n_cases", default=300, help="Of each kind.")
@click.option("--kind", "kinds", multiple=True, type=click.Choice(KINDS))
@click.option("--seed", default=0, help="Number of the first case.")
@click.option("--show", multiple=True, default=BAD, help="Print each case that ended so.")
def main(kinds: tuple[str, ...], n_cases: int, seed: int, show: tuple[str, ...]) -> None:
    """Damage files and print a table of what became of them; exit 1 where it may not be."""
    started, counts = time.monotonic(), Counter[tuple[str, str]]()
    for case in run(kinds or KINDS, n_cases, seed):
        counts[case.kind, case.became] += 1
        if case.became in show:
            click.echo(f"{case.kind} {case.seed} {case.how}: {case.became}: {case.says}")
    ends = sorted({became for _, became in counts})
    click.echo("\t".join(("kind", *ends)))
    for kind in dict.fromkeys(kind for kind, _ in counts):
        click.echo("\t".join((kind, *(str(counts[kind, became]) for became in ends))))
    own, readers = (resource.getrusage(who).ru_maxrss // 1024 for who in _USERS)
    click.echo(
        f"{time.monotonic() - started:.0f} s; most memory {own} MB here, {readers} MB reading"
    )
    raise SystemExit(any(counts[key] for key in counts if key[1] in BAD))


_USERS = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)

if __name__ == "__main__":
    corpus()
    main()
