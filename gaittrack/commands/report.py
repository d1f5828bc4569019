"""``gaittrack report``: one person's visit on a page for the file."""

from __future__ import annotations

import click

from gaittrack.commands.options import on_study, page_option, runs


@click.command()
@click.argument("person")
@on_study
@click.option(
    "--visit", "visits", multiple=True, required=True, metavar="VISIT", help="May be repeated."
)
@click.option(
    "--condition",
    "conditions",
    multiple=True,
    metavar="NAME",
    help="Those to compare; without it the fair pair of each visit.",
)
@click.option("--reference", metavar="NAME", help="What the others are compared with.")
@page_option
@runs("commands.reporting.write_report")
def report() -> None:
    """Make a page of two A4 sheets (HTML or PDF) from stored walks of PERSON.

    Several visits stand beside one another, each with what the brace changed that day. Over several
    visits conditions are named with them: "with-brace, visit-2".
    """
