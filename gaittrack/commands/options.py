"""The arguments and options that commands share; click only, nothing heavy."""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable
from functools import wraps
from importlib import import_module
from pathlib import Path
from typing import Any, Final

import click

from gaittrack.part_names import on_disk

Command = Callable[..., Any]
Option = Callable[[Command], Command]


class _GivenPath(click.Path):
    """A file or folder, or one recording of a sheet."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """Return the path as it was given, once its file is there."""
        super().convert(on_disk(Path(value)), param, ctx)
        return Path(value)


FILE: Final = click.Path(exists=True, dir_okay=False, path_type=Path)
NEW_FILE: Final = click.Path(dir_okay=False, path_type=Path)
ANYTHING: Final = _GivenPath(exists=True, path_type=Path)


def together(*options: Option) -> Option:
    """Return what adds several arguments and options, shown in this order."""

    def add_all(command: Command) -> Command:
        for add in reversed(options):
            command = add(command)
        return command

    return add_all


def runs(target: str) -> Option:
    """Return what makes a command of a stub, which says its help and nothing else.

    Parameters
    ----------
    target : str
        ``room.module.function``, read when the command is run. It takes what the command
        takes and returns the exit code, None for 0.
    """

    def forwarded(stub: Command) -> Command:
        @wraps(stub)
        def run(**given: Any) -> None:
            sys.exit(_loaded(target)(**given))

        return run

    return forwarded


def on_study(command: Command) -> Command:
    """Give a command --study and --database, and the open study in their place."""

    @study_options
    @wraps(command)
    def run(*, folder: Path, url: str | None, **given: Any) -> None:
        with _loaded("commands.open_study.opened")(folder, url) as study:
            command(study=study, **given)

    return run


def _loaded(target: str) -> Any:
    """Load a command's room. It stays: nobody looks in it for what can be thrown away."""
    module, _, name = target.rpartition(".")
    gc.disable()
    try:
        room = import_module(f"gaittrack.{module}")
    finally:
        gc.enable()
    gc.freeze()
    return getattr(room, name)


map_option = click.option(
    "--map",
    "lab_map",
    type=FILE,
    multiple=True,
    metavar="MAP.toml",
    help="Your own names: landmark = label, column = joint and side. Several times: each file "
    "takes the map that fits it.",
)
rate_option = click.option(
    "--rate",
    "rate_hz",
    type=click.FloatRange(min=0, min_open=True),
    metavar="HZ",
    help="Frames per second, when what the files say is wrong.",
)
jobs_option = click.option(
    "--jobs",
    "n_processes",
    type=click.IntRange(min=1, max=256),
    metavar="N",
    help="How many processes measure; else one per processor, fewer for few recordings.",
)
by_option = click.option(
    "--by",
    "who",
    metavar="NAME",
    default=lambda: _loaded("study.history.current_user")(),
    help="Who does it; else the user's name.",
)

database_option = click.option(
    "--database",
    "url",
    metavar="URL",
    envvar="GAITTRACK_DATABASE",
    help="PostgreSQL database of the study (postgresql://USER@HOST/NAME); without it the study's "
    "own file is used.",
)

study_options = together(
    click.option(
        "--study",
        "folder",
        required=True,
        type=click.Path(file_okay=False, path_type=Path),
        metavar="DIR",
        help="Folder of the study.",
    ),
    database_option,
)
"""--study and --database."""

change_options = together(
    click.option(
        "--why", required=True, metavar="REASON", help="Kept in the history of the study."
    ),
    by_option,
)
"""--why and --by, for the history."""

walk_options = together(
    click.argument("paths", metavar="FILE...", nargs=-1, required=True, type=ANYTHING),
    map_option,
    click.option(
        "--standing",
        type=FILE,
        metavar="FILE",
        help="Quiet standing with the same markers: gives the foot's zero.",
    ),
    click.option(
        "--events",
        "events_csv",
        type=FILE,
        metavar="CSV",
        help="Contacts and toe-offs of one file: columns time_s, side, kind.",
    ),
    rate_option,
)
"""FILE… and the options that say how to read them."""

output_options = together(
    click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON list in place of the tables."
    ),
    click.option(
        "--csv",
        "csv_out",
        type=NEW_FILE,
        metavar="OUT",
        help="Also write every measure of every cycle to this CSV file.",
    ),
)
"""The options that say where measures go."""

page_option = click.option(
    "-o",
    "--out",
    type=NEW_FILE,
    metavar="FILE",
    help="Where to write the page, as HTML, or as PDF if FILE ends in .pdf (by Chromium); "
    "without it it is printed.",
)
