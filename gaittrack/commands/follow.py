"""``gaittrack follow``: one person over visits."""

from __future__ import annotations

from pathlib import Path

import click

from gaittrack.commands.options import study_options


@click.command()
@click.argument("person")
@study_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON in place of the table.")
def follow(person: str, folder: Path, url: str | None, as_json: bool) -> None:
    """Show the headline measures of PERSON over visits, per condition and side.

    Each visit is compared with the first of the same condition, with the measurement error
    between different days.
    """
    from gaittrack.commands.follow_text import print_following

    print_following(person, folder, url, as_json=as_json)
