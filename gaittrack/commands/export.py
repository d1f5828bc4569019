"""``gaittrack export``: a de-identified cohort table with its data dictionary."""

from __future__ import annotations

from pathlib import Path

import click

from gaittrack.commands.options import NEW_FILE, Option, by_option, on_study, runs, together


def _only(name: str, field: str, metavar: str, help_: str, kind: type = str) -> Option:
    return click.option(
        name, field, multiple=True, type=kind, metavar=metavar, help=f"{help_}; several times."
    )


_FILTERS = together(
    _only("--person", "people", "CODE", "Only these people"),
    _only("--sex", "sex", "WORD", "Only people of this sex"),
    _only("--cause", "cause", "WORD", "Only people with this cause"),
    _only("--affected-side", "affected_side", "WORD", "Only people with this affected side"),
    _only("--age-band", "age_band", "BAND", "Only people of this age at the first visit"),
    _only("--brace", "brace_classes", "WORD", "Only people who wore this kind of brace"),
    _only("--visit-kind", "visit_kind", "WORD", "Only visits of this kind"),
    _only("--visit", "visit_no", "NUMBER", "Only the visits with this number", int),
    _only("--condition", "condition_code", "CODE", "Only conditions with this code"),
)
"""Of the fields of a ``cohort.selection.Selection``, in the words of the screen Cohort."""


@click.command()
@on_study
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="New or empty folder for the export.",
)
@click.option(
    "--release",
    type=click.Choice(["partner", "controlled", "open"]),
    default="controlled",
    show_default=True,
    help="Who will see it: one named partner (3 people must look alike), known readers under an "
    "agreement (5) or anybody (11). What would single people out is withheld, and it is said what.",
)
@click.option(
    "--least-alike",
    type=click.IntRange(min=2),
    metavar="K",
    help="How many people must look alike, in place of 3, 5 or 11.",
)
@click.option("--curves", "with_curves", is_flag=True, help="Also mean curves of the angles.")
@click.option(
    "--bodies",
    "with_bodies",
    is_flag=True,
    help="Also height, mass and time since onset, in bands.",
)
@click.option(
    "--id-map",
    type=NEW_FILE,
    metavar="CSV",
    help="Where to keep who is who; else beside the study's folder.",
)
@click.option(
    "--override-reason",
    default="",
    metavar="TEXT",
    help="Export all of it although people stand out; the reason stands in export and history.",
)
@_FILTERS
@by_option
@runs("commands.exporting.run_export")
def export() -> None:
    """Export a study as tables for research: CSV, Parquet and XLSX with a data dictionary.

    Names, dates, files and free text stay in the study; people get random ids that are new in every
    export. Without a filter everybody is meant; a word that no table of the study has is refused,
    and those that it has are named. Exit codes: 0 done, 2 refused.
    """
