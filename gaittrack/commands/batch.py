"""Run a batch of files for a command: read the options, show progress, print, count refusals.

In come paths and options, out come text or JSON on stdout, problems on stderr, a CSV file if asked
for, and the exit code.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import click

from gaittrack.atomic_write import write_text_atomically
from gaittrack.commands.check_text import check_text
from gaittrack.commands.running import (
    DONE,
    NOT_ALL_WELL,
    bar_over,
    mistakes_told,
    refuse_no_folder,
    writing,
)
from gaittrack.commands.walk_text import walk_text, wrapped
from gaittrack.errors import Problem
from gaittrack.late import pandas as pd
from gaittrack.library.measurements import Measuring, measuring
from gaittrack.measured_walk import TABLE_COLUMNS, RefusedFile, Result, as_json_dict
from gaittrack.notice import NOTICE
from gaittrack.readable_names import readable
from gaittrack.table_cells import safe_text


def open_batch(
    paths: Sequence[Path],
    *,
    lab_map: Sequence[Path] = (),
    standing: Path | None = None,
    events_csv: Path | None = None,
    rate_hz: float | None = None,
    csv_out: Path | None = None,
) -> Measuring:
    """Prepare a batch; the walks themselves are read when its results are asked for.

    Parameters
    ----------
    paths : sequence of Path
        Files and folders.
    lab_map, standing, events_csv : Path or several, optional
        Files that go with the walks; they are not taken for walks when they lie in a folder.
    rate_hz : float, optional
        Frames per second in place of what the files say.
    csv_out : Path, optional
        File that will be written; it must not be one that is read.

    Returns
    -------
    Measuring
        Its results are still to come.

    Raises
    ------
    click.UsageError
        Nothing to read, an option's file cannot be used, options that do not go together, or an
        output that would overwrite what is read.
    """
    with mistakes_told(ValueError):
        batch = measuring(
            paths, standing=standing, events=events_csv, lab_map=lab_map, rate_hz=rate_hz
        )
    _tell_passed_over(batch.passed_over)
    if csv_out is not None:
        _refuse_bad_target(csv_out, (*batch.files, *batch.beside))
    return batch


def measure_files(*, as_json: bool, csv_out: Path | None, **given: Any) -> int:
    """Print the measures of walks and return the exit code.

    Parameters
    ----------
    **given
        As :func:`open_batch`.

    Raises
    ------
    click.UsageError
        The CSV file cannot be written where it shall go.
    """
    batch = open_batch(**given, csv_out=csv_out)
    printed: list[str] = []
    values = []
    tables = [pd.DataFrame(columns=TABLE_COLUMNS)]
    n_refused = n_notes = 0
    for result in _with_progress(batch):
        n_notes += _report_problems(result)
        values += [as_json_dict(result)] if as_json else []
        if isinstance(result, RefusedFile):
            n_refused += 1
            continue
        printed += [] if as_json else [walk_text(result)]
        tables += [result.strides()] if csv_out is not None and result.rows else []
    if n_notes and not as_json:
        notes = "1 note on the files is" if n_notes == 1 else f"{n_notes} notes on the files are"
        click.echo(f"info: {notes} not shown: see them with gaittrack check", err=True)
    if csv_out is not None:
        _write_csv(csv_out, tables)
    if as_json:
        click.echo(json.dumps(values, indent=1, allow_nan=False))
    else:
        _print_texts(printed, len(batch.files), n_refused)
    return NOT_ALL_WELL if n_refused else DONE


def check_files(**given: Any) -> int:
    """Print what is in each file and return the exit code; options as :func:`open_batch`."""
    batch = open_batch(**given)
    printed = []
    n_refused = 0
    for result in _with_progress(batch):
        if isinstance(result, RefusedFile):
            n_refused += 1
            _report_problems(result)
        else:
            printed.append(check_text(result))
    _print_texts(printed, len(batch.files), n_refused, done="read")
    return NOT_ALL_WELL if n_refused else DONE


def _print_texts(
    texts: Sequence[str], n_files: int, n_refused: int, *, done: str = "measured"
) -> None:
    counts = f"{n_files} file{'s' if n_files != 1 else ''}: {n_files - n_refused} {done}"
    counts += f", {n_refused} refused (reasons on stderr)" if n_refused else ""
    click.echo("\n\n".join([*texts, counts, wrapped(NOTICE)]))


def _with_progress(batch: Measuring) -> Iterator[Result]:
    with bar_over(batch.results, len(batch.files), "Measuring", least=2) as results:
        yield from results


def _report_problems(result: Result) -> int:
    """Print to stderr why a file was refused, or what to know of its numbers.

    Returns
    -------
    int
        How many problems of level info were not printed.
    """
    path = readable(result.path)
    if isinstance(result, RefusedFile):
        where = "" if result.error.where in ("", result.path.name) else f"{result.error.where}: "
        what = f"{where}{result.error.what} {result.error.action}"
        click.echo(f"refused: {path}: {what}".rstrip(), err=True)
        problems: tuple[Problem, ...] = result.error.problems
    else:
        problems = tuple(p for p in result.problems if p.level != "info")
    for problem in problems:
        where = "" if problem.where in ("", result.path.name) else f"{problem.where}: "
        line = f"{problem.level}: {path}: {where}{problem.what} {problem.action}"
        click.echo(line.rstrip(), err=True)
    return 0 if isinstance(result, RefusedFile) else len(result.problems) - len(problems)


def _tell_passed_over(files: Sequence[Path]) -> None:
    kinds = Counter(file.suffix or file.name for file in files)
    if kinds:
        words = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
        click.echo(f"info: not taken for recordings: {words}", err=True)


def _refuse_bad_target(target: Path, inputs: Sequence[Path]) -> None:
    refuse_no_folder(target, "--csv ")
    if any(target.exists() and path.exists() and path.samefile(target) for path in inputs):
        raise click.UsageError(f"--csv {target}: would overwrite a file that is read.")


def _write_csv(target: Path, tables: Sequence[pd.DataFrame]) -> None:
    table = pd.concat(tables[1:] or tables)
    texts = dict.fromkeys(table.select_dtypes(["object", "string"]), "string")
    table = safe_text(table.astype(texts))
    with writing(target, "--csv "):
        write_text_atomically(target, table.to_csv(index=False, lineterminator="\n"))
    click.echo(f"wrote {len(table)} rows to {target}", err=True)
    click.echo(wrapped(NOTICE), err=True)
