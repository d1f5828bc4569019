"""The options that commands on a study share, and how they open it; click only, nothing heavy."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

Command = Callable[..., Any]


def study_options(command: Command) -> Command:
    """Add --study and --database."""
    for option in (
        click.option(
            "--database",
            "url",
            metavar="URL",
            envvar="GAITTRACK_DATABASE",
            help="PostgreSQL database of the study (postgresql://USER@HOST/NAME); without it the "
            "study's own file is used.",
        ),
        click.option(
            "--study",
            "folder",
            required=True,
            type=click.Path(file_okay=False, path_type=Path),
            metavar="DIR",
            help="Folder of the study.",
        ),
    ):
        command = option(command)
    return command


def jobs_option(command: Command) -> Command:
    """Add --jobs."""
    return click.option(
        "--jobs",
        type=click.IntRange(min=1, max=256),
        metavar="N",
        help="How many processes measure; else one per processor, fewer for few recordings.",
    )(command)


def change_options(command: Command) -> Command:
    """Add --why and --by, for the history."""
    for option in (
        click.option("--by", "who", metavar="NAME", help="Who does it; else the user's name."),
        click.option(
            "--why", required=True, metavar="REASON", help="Kept in the history of the study."
        ),
    ):
        command = option(command)
    return command
