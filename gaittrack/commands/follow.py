"""``gaittrack follow``: one person over visits."""

from __future__ import annotations

import click

from gaittrack.commands.options import on_study, runs


@click.command()
@click.argument("person")
@on_study
@click.option("--json", "as_json", is_flag=True, help="Print JSON in place of the table.")
@runs("commands.follow_text.print_following")
def follow() -> None:
    """Show the headline measures of PERSON over visits, per condition and side.

    Each visit is compared with the first of the same condition, with the measurement error
    between different days.
    """
