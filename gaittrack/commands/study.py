"""``gaittrack study``: look after a study."""

from __future__ import annotations

from pathlib import Path

import click

from gaittrack.commands.options import (
    FILE,
    by_option,
    change_options,
    database_option,
    map_option,
    on_study,
    page_option,
    runs,
    study_options,
)


@click.group()
def study() -> None:
    """Look after a study: new, settings, history, back up, restore, verify, erase."""


@study.command()
@click.argument("folder", metavar="DIR", type=click.Path(file_okay=False, path_type=Path))
@database_option
@runs("commands.study_changes.run_new")
def new() -> None:
    """Make an empty study in DIR, which must be new or empty."""


@study.command()
@click.argument("target", metavar="FOLDER", type=click.Path(path_type=Path))
@on_study
@runs("commands.study_changes.run_backup")
def backup() -> None:
    """Copy the whole study into a new FOLDER, which is a study itself; see restore."""


@study.command()
@click.argument(
    "backup", metavar="BACKUP", type=click.Path(exists=True, file_okay=False, path_type=Path)
)
@study_options
@by_option
@runs("commands.study_changes.run_restore")
def restore() -> None:
    """Make the study DIR, which must be new, out of the folder BACKUP, which stays as it is."""


@study.command()
@on_study
@runs("commands.study_changes.run_verify")
def verify() -> None:
    """Check database, history and originals. Exit code 1 when something is wrong."""


@study.command()
@click.argument("person")
@on_study
@change_options
@click.option("--yes", is_flag=True, help="Do not ask.")
@runs("commands.study_changes.run_erase")
def erase() -> None:
    """Erase PERSON: data, originals and history, for good."""


@study.command()
@on_study
@map_option
@click.option("--errors", type=FILE, metavar="TOML", help="Your own errors.")
@click.option("--typical", type=FILE, metavar="TOML", help="Reference values: ranges, curves.")
@click.option(
    "--usual-rate",
    metavar="HZ",
    help="Frames per second of sheets and marker tables that tell none; none: ask again.",
)
@click.option(
    "--plates", type=click.Choice(["used", "ignored"]), help="Whether force plates tell events."
)
@click.option(
    "--releases", type=FILE, metavar="TOML", help="Licence, makers and sources of every export."
)
@click.option(
    "--outcomes",
    type=FILE,
    metavar="TOML",
    help='Declared outcomes: primary = "MEASURE", secondary = ["MEASURE", ...], and [[important]] '
    "with measure, difference and source.",
)
@change_options
@runs("commands.study_changes.run_settings")
def settings() -> None:
    """Set the laboratory's map, errors, reference values, rate, plates, outcomes, or releases.

    `gaittrack study history` lists each change, `gaittrack study back NUMBER` takes it back.
    """


@study.command()
@click.argument(
    "exported",
    required=False,
    metavar="[FOLDER]",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
)
@on_study
@click.option("--person", metavar="CODE", help="Only the releases that hold this person.")
@runs("commands.study_releases.run_releases")
def releases() -> None:
    """List what was exported when and for whom; with FOLDER, say which release it is.

    A folder is known by the hash of its tables and of how they were made: which state of the
    study it shows, and whether it is as it was written. Exit codes: 0 known, 1 not of this study
    or changed, 2 no export.
    """


@study.command()
@on_study
@click.option("--take", is_flag=True, help="Use them from now on in place of what is in use.")
@click.option("--why", default="", metavar="TEXT", help="Kept in the history.")
@by_option
@runs("commands.study_typical.run_typical")
def typical() -> None:
    """Show typical values of your own able-bodied people beside the published ones.

    Able-bodied is who has the cause "able-bodied". Their newest visit counts, without a brace or
    aid, at the speed they liked. --take makes the values the laboratory's; `gaittrack study back`
    brings back what was in use.
    """


@study.command()
@on_study
@page_option
@runs("commands.reporting.write_guide")
def guide() -> None:
    """Print how a brace trial is recorded, and the smallest change that your own walks can show."""


@study.command()
@click.argument("number", type=int)
@on_study
@change_options
@runs("commands.study_changes.run_back")
def back() -> None:
    """Let a setting be as it was before change NUMBER of `gaittrack study history`."""


@study.command()
@on_study
@click.option("--person", metavar="CODE", help="Only this person.")
@runs("commands.study_changes.run_history")
def history() -> None:
    """Print who did what, when and why, as JSON lines."""


@study.command()
@click.argument("text", default="")
@on_study
@runs("commands.notes_text.run_notes")
def notes() -> None:
    """List the notes that hold TEXT, or every note; notes never leave the laboratory."""


@study.command()
@on_study
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
@runs("commands.study_words.run_words")
def words() -> None:
    """List words that are in no closed list, and say what they mean."""


@study.command()
@on_study
@click.option("--add", type=FILE, metavar="MAP.toml", help="Keep this map, see --name.")
@click.option("--name", metavar="NAME", help="For --add; else the file's own name.")
@click.option("--show", metavar="NAME", help="Print a map as a file that --add takes.")
@click.option("--rename", nargs=2, metavar="OLD NEW", help="Call a map otherwise.")
@click.option("--remove", metavar="NAME", help="Remove a map; it stays in the history.")
@click.option("--undo", metavar="NAME", help="Take the last change of a map back.")
@click.option("--why", default="", metavar="TEXT", help="Kept in the history.")
@by_option
@runs("commands.study_maps.run_maps")
def maps() -> None:
    """List the laboratory's maps and how many walks take each; add, show, rename or remove one."""
