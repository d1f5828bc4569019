"""``gaittrack import``: recordings into a study."""

from __future__ import annotations

import click

from gaittrack.commands.options import ANYTHING, FILE, by_option, jobs_option, runs, study_options


@click.command("import")
@click.argument("paths", metavar="PATHS...", nargs=-1, required=True, type=ANYTHING)
@study_options
@click.option(
    "--sheet",
    type=FILE,
    metavar="CSV/XLSX",
    help="Says which file belongs where: columns file, person, visit, condition.",
)
@click.option(
    "--events",
    type=FILE,
    metavar="CSV",
    help="Events of the one recording given (columns time_s, side, kind); kept with it. For "
    "several, put NAME.events.csv beside each NAME, or name them in the sheet's column events.",
)
@jobs_option
@click.option("--dry-run", is_flag=True, help="Measure and report; write nothing.")
@click.option("--new-people", is_flag=True, help="Take people whom nothing describes yet.")
@click.option(
    "--same-person",
    is_flag=True,
    help="Take walks that were asked about: the person is the same, the segments are not.",
)
@by_option
@runs("commands.import_report.run_import")
def import_command() -> None:
    """Bring recordings into a study; the study is made if it is new.

    PATHS are folders laid out as PERSON/VISIT/CONDITION/file, with a conditions.toml in each
    VISIT; or any files, when a sheet says where they belong. A file that is there already is
    passed by, a bad one is reported, the rest goes in. A sheet with curves of several conditions
    lies in the VISIT folder itself. Exit codes: 0 done, 1 some files were
    refused, 2 wrong use.
    """
