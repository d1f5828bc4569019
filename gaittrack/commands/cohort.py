"""``gaittrack cohort``: one question to the people of a study, and its answer."""

from __future__ import annotations

import click

from gaittrack.commands.options import NEW_FILE, on_study, runs


@click.command()
@click.argument("measure")
@on_study
@click.option(
    "--conditions",
    nargs=2,
    metavar="CODE REFERENCE",
    help="Codes as in an export, such as orthosis_shod no-orthosis_shod; else the pair most have.",
)
@click.option(
    "--side",
    "side_role",
    type=click.Choice(["affected", "other", "not recorded"]),
    default="affected",
    show_default=True,
)
@click.option("--visit", "visit_no", type=int, multiple=True, help="By number; else visit 1.")
@click.option("--all-visits", is_flag=True, help="Every visit; the mean takes each person's first.")
@click.option("--sex", multiple=True, metavar="WORD", help="Only these; several times.")
@click.option("--cause", multiple=True, metavar="WORD")
@click.option("--affected-side", multiple=True, metavar="WORD")
@click.option("--age-band", multiple=True, metavar="WORD")
@click.option("--brace", "brace_classes", multiple=True, metavar="WORD")
@click.option("--visit-kind", multiple=True, metavar="WORD")
@click.option("--more", "with_beside", is_flag=True, help="Also what stands beside the mean.")
@click.option(
    "--curve",
    "joints",
    multiple=True,
    metavar="ANGLE",
    help="Also where along the cycle this angle changes on average, such as ankle; several times.",
)
@click.option("--json", "as_json", is_flag=True, help="Everything, for other programs.")
@click.option("--rows", type=NEW_FILE, metavar="CSV", help="Write the row of each person there.")
@runs("commands.cohort_text.run_cohort")
def cohort() -> None:
    """Say how much MEASURE changes between two conditions in the people of a study.

    The numbers and words of the screen Cohort. Exit codes: 0 done, 2 wrong use.
    """
