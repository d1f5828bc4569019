"""The arguments and options that commands on walks share; click only, nothing heavy."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

Command = Callable[..., Any]

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


def walk_options(command: Command) -> Command:
    """Add FILE… and the options that say how to read them."""
    for option in (
        click.option(
            "--rate",
            "rate_hz",
            type=click.FloatRange(min=0, min_open=True),
            metavar="HZ",
            help="Frames per second, when what the files say is wrong.",
        ),
        click.option(
            "--events",
            "events_csv",
            type=_FILE,
            metavar="CSV",
            help="Contacts and toe-offs of one file: columns time_s, side, kind.",
        ),
        click.option(
            "--standing",
            type=_FILE,
            metavar="FILE",
            help="Quiet standing with the same markers: gives the foot's zero.",
        ),
        click.option(
            "--map",
            "map_file",
            type=_FILE,
            metavar="MAP.toml",
            help="Your own names: landmark = label, column = joint and side.",
        ),
        click.argument(
            "paths",
            metavar="FILE...",
            nargs=-1,
            required=True,
            type=click.Path(exists=True, path_type=Path),
        ),
    ):
        command = option(command)
    return command


def output_options(command: Command) -> Command:
    """Add the options that say where measures go."""
    for option in (
        click.option(
            "--csv",
            "csv_out",
            type=click.Path(dir_okay=False, path_type=Path),
            metavar="OUT",
            help="Also write every measure of every cycle to this CSV file.",
        ),
        click.option(
            "--json", "as_json", is_flag=True, help="Print one JSON list in place of the tables."
        ),
    ):
        command = option(command)
    return command
