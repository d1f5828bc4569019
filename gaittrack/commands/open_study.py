"""The study that a command works on: opened, or made where there is none."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import click

from gaittrack.commands.running import mistakes_told
from gaittrack.scratch import sweep_scratch
from gaittrack.study.store import Study, create_study, has_study, open_study


@contextmanager
def opened(folder: Path, url: str | None) -> Iterator[Study]:
    """Open a study for one command; its errors become the command's."""
    sweep_scratch()
    with mistakes_told(), closing(open_study(folder, url=url)) as study:
        yield study


def make_if_wanted(folder: Path, url: str | None, *, is_new: bool) -> None:
    """Make an empty study where there is none, if that was said, or is said on the terminal.

    Raises
    ------
    click.UsageError
        Nobody said so, and nobody can be asked.
    """
    if has_study(folder, url=url):
        return
    if not is_new and not sys.stdin.isatty():
        raise click.UsageError(
            f"{folder} is not a study. Add --new to make an empty one there, or name the folder of "
            "a study."
        )
    if not is_new:
        click.confirm(f"{folder} is not a study. Make an empty one there?", abort=True)
    create_study(folder, url=url).close()
