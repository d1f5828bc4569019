"""``gaittrack import``: recordings into a study."""

from __future__ import annotations

import click

from gaittrack.commands.options import (
    ANYTHING,
    FILE,
    NEW_FILE,
    by_option,
    jobs_option,
    runs,
    study_options,
    together,
)

pattern_options = together(
    click.option(
        "--pattern",
        "patterns",
        multiple=True,
        metavar="PATTERN",
        help="Your own folders and names, as below. For files laid out otherwise, one more.",
    ),
    click.option(
        "--condition",
        "conditions",
        multiple=True,
        metavar="NAME=WORDS",
        help="What was worn where the tree says NAME: 'AFO=with brace left, shoe'. Nothing after "
        "the = leaves it open.",
    ),
    click.option(
        "--list",
        "list_sheet",
        type=FILE,
        metavar="CSV/XLSX",
        help="Says more of files by their parts: columns person, visit, date or condition, and "
        "facts, as orthosis_side; an empty cell is of all.",
    ),
    click.option("--visit", default="", metavar="NAME", help="Of files whose names say none."),
    click.option(
        "--leave-out",
        multiple=True,
        metavar="PATTERN",
        help="Files that are not meant.",
    ),
    click.option(
        "--plan",
        "plan_out",
        type=NEW_FILE,
        metavar="CSV/XLSX",
        help="Write what each file would be, and store nothing: correct it and give it as --sheet.",
    ),
)
"""The options of an archive that is laid out in its own way."""


_PATTERNS = """\b
A pattern says how your folders below PATHS and your files are called:
  {person}/{date}/{condition}/{trial}.c3d   or   {person}_{visit}_{condition}[{trial}]
{person} {visit} {date} {condition} {trial} {side} are named parts, each within one name;
{person:P##} looks like P and two digits, {date:dmy} says in which order a day is written;
* is anything within a name, **/ any folders, [...] may be missing, all else is itself;
a pattern without / is of file names alone, an ending chooses the files that are meant.
"""


@click.command("import", epilog=_PATTERNS)
@click.argument("paths", metavar="PATHS...", nargs=-1, required=True, type=ANYTHING)
@study_options
@click.option(
    "--sheet",
    type=FILE,
    metavar="CSV/XLSX",
    help="Says which file belongs where: columns file, person, visit, condition.",
)
@pattern_options
@click.option(
    "--events",
    type=FILE,
    metavar="CSV",
    help="Events of the one recording given (columns time_s, side, kind); kept with it. For "
    "several, put NAME.events.csv beside each NAME, or name them in the sheet's column events.",
)
@click.option(
    "--map",
    "lab_map",
    type=FILE,
    multiple=True,
    metavar="MAP.toml",
    help="Your own names, kept in the study under the name of the file.",
)
@click.option(
    "--rate",
    "rate_hz",
    type=click.FloatRange(min=0, min_open=True),
    metavar="HZ",
    help="Frames per second of sheets and marker tables that tell none; kept in the study for all "
    "with the same columns.",
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
    lies in the VISIT folder itself; each recording of a sheet comes in as a walk of its own, and of
    several people by their names in a sheet: day#person-2.csv. Exit codes: 0 done, 1 some files
    were refused, 2 wrong use. An archive laid out otherwise comes in by a pattern, see below.
    """
