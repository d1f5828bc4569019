"""``gaittrack study``: look after a study."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from gaittrack.commands.options import FILE, by_option, change_options, map_option, study_options


@click.group()
def study() -> None:
    """Look after a study: settings, history, back up, restore, verify, erase."""


@study.command()
@click.argument("target", metavar="FOLDER", type=click.Path(path_type=Path))
@study_options
def backup(target: Path, folder: Path, url: str | None) -> None:
    """Copy the whole study into a new FOLDER, which is a study itself; see restore."""
    from gaittrack.commands.study_changes import run_backup

    run_backup(folder, url, target)


@study.command()
@click.argument(
    "backup_folder",
    metavar="BACKUP",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
)
@study_options
@by_option
def restore(backup_folder: Path, folder: Path, url: str | None, who: str | None) -> None:
    """Make the study DIR, which must be new, out of the folder BACKUP, which stays as it is."""
    from gaittrack.commands.study_changes import run_restore

    run_restore(backup_folder, folder, url, who=who)


@study.command()
@study_options
def verify(folder: Path, url: str | None) -> None:
    """Check database, history and originals. Exit code 1 when something is wrong."""
    from gaittrack.commands.study_changes import run_verify

    sys.exit(run_verify(folder, url))


@study.command()
@click.argument("person")
@study_options
@change_options
@click.option("--yes", is_flag=True, help="Do not ask.")
def erase(person: str, folder: Path, url: str | None, why: str, who: str | None, yes: bool) -> None:
    """Erase PERSON: data, originals and history, for good."""
    from gaittrack.commands.study_changes import run_erase

    if not yes:
        click.confirm(f"Erase {person} with all recordings?", abort=True)
    sys.exit(run_erase(folder, url, person, why=why, who=who))


@study.command()
@study_options
@map_option
@click.option("--errors", "errors_file", type=FILE, metavar="TOML", help="Your own errors.")
@click.option("--typical", "typical_file", type=FILE, metavar="TOML", help="Reference values.")
@change_options
def settings(folder: Path, url: str | None, **given: Any) -> None:
    """Set the laboratory's landmark map, its own measurement errors or reference values."""
    from gaittrack.commands.study_changes import run_settings

    run_settings(folder, url, **given)


@study.command()
@study_options
@click.option("--person", metavar="CODE", help="Only this person.")
def history(folder: Path, url: str | None, person: str | None) -> None:
    """Print who did what, when and why, as JSON lines."""
    from gaittrack.commands.study_changes import run_history

    run_history(folder, url, person)


@study.command()
@study_options
@click.option(
    "--means",
    "meanings",
    nargs=3,
    multiple=True,
    metavar="LIST WORDS WORD",
    help="WORDS mean WORD of LIST, now and later; other: none of the list.",
)
@click.option("--why", default="", metavar="TEXT", help="Kept in the history.")
@by_option
def words(folder: Path, url: str | None, **given: Any) -> None:
    """List words that are in no closed list, and say what they mean."""
    from gaittrack.commands.study_words import run_words

    run_words(folder, url, **given)
