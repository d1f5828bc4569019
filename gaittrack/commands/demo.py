"""``gaittrack demo``: a made-up laboratory's study, opened in the browser."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from gaittrack.commands.dashboard import dashboard


@click.command()
@click.option(
    "--study",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    default="made-up-study",
    show_default=True,
    metavar="DIR",
    help="Where the study is made; opened as it is when it is there.",
)
@click.option(
    "--people",
    "n_people",
    type=click.IntRange(min=0, max=90),
    default=40,
    show_default=True,
    metavar="N",
    help="How many people besides the four of sample_trials.",
)
@click.option("--no-dashboard", is_flag=True, help="Make the study only; so in a pipe or script.")
@click.pass_context
def demo(context: click.Context, folder: Path, n_people: int, no_dashboard: bool) -> None:
    """Make a study of made-up people without and with a brace, and open it in the browser.

    No person stands behind any of them. Ctrl-C ends the dashboard; the study stays.
    """
    from gaittrack.commands.made_up_study import ensure_made_up_study, next_steps
    from gaittrack.commands.running import mistakes_told

    with mistakes_told():
        n_refused = ensure_made_up_study(folder, n_people)
    if not (no_dashboard or n_refused) and sys.stdout.isatty():
        context.invoke(dashboard, folder=folder, port=0)
    click.echo(next_steps(folder))
    sys.exit(1 if n_refused else 0)
