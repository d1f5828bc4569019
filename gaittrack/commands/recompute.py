"""``gaittrack recompute``: measure stale trials of a study again."""

from __future__ import annotations

import click

from gaittrack.commands.options import by_option, jobs_option, on_study, runs


@click.command()
@on_study
@click.option("--list", "only_list", is_flag=True, help="Only show what is stale, and why.")
@by_option
@jobs_option
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Measure on the workers of this Dask scheduler (tcp://HOST:PORT), which must see the "
    "study's folder at the same path; needs the extra 'cluster'.",
)
@runs("commands.study_changes.run_recompute")
def recompute() -> None:
    """Measure again what another version, map or correction made stale, and what is damaged."""
