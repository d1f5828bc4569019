"""What commands share while they run: exit codes, mistakes, how far they are."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from gaittrack.errors import GaitTrackError, Problem
from gaittrack.measured_walk import RefusedFile
from gaittrack.readable_names import readable

DONE, NOT_ALL_WELL = 0, 1


@contextmanager
def mistakes_told(*also: type[Exception]) -> Iterator[None]:
    """Make errors of the package the command's own, which ends with their message.

    Parameters
    ----------
    *also
        Further kinds of errors that say what the user did wrong.
    """
    mistakes: tuple[type[Exception], ...] = (GaitTrackError, *also)
    try:
        yield
    except mistakes as error:
        raise click.UsageError(str(error)) from error


def bar_over(items: Iterable[Any], n_items: int, label: str, *, least: int = 0) -> Any:
    """Return a bar that shows on a terminal how far the items are; enter it to go through them.

    Parameters
    ----------
    least : int
        For fewer items there is no bar.
    """
    hidden = n_items < least or not sys.stderr.isatty()
    return click.progressbar(items, n_items, label, file=sys.stderr, hidden=hidden)


def print_past(bar: Any, line: str, *, err: bool) -> None:
    """Print a line of its own where a bar may stand, which is drawn again below it.

    Parameters
    ----------
    err : bool
        To stderr.
    """
    if not bar.hidden:
        click.echo("\r\x1b[K", nl=False, err=True)
    click.echo(line, err=err)


def tell_of_files(refused: Iterable[RefusedFile], problems: Iterable[Problem]) -> None:
    """Print to stderr which files were refused, and what to know of the others."""
    for each in refused:
        click.echo(f"refused: {readable(each.path)}: {each.error}", err=True)
    for problem in problems:
        click.echo(str(problem), err=True)


def refuse_no_folder(target: Path, option: str) -> None:
    """Refuse a file to be written for which there is no folder."""
    if not target.resolve().parent.is_dir():
        raise click.UsageError(f"{option}{target}: there is no folder for it.")


@contextmanager
def writing(target: Path, option: str) -> Iterator[None]:
    """Make what a disk refuses of a file the command's error."""
    try:
        yield
    except OSError as error:
        raise click.UsageError(f"{option}{target}: {error.strerror}.") from error
