"""``gaittrack recompute``: measure stale trials of a study again."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from gaittrack.commands.options import by_option, jobs_option, study_options


@click.command()
@study_options
@click.option("--list", "only_list", is_flag=True, help="Only show what is stale, and why.")
@by_option
@jobs_option
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Measure on the workers of this Dask scheduler (tcp://HOST:PORT), which must see the "
    "study's folder at the same path; needs the extra 'cluster'.",
)
def recompute(
    folder: Path,
    url: str | None,
    only_list: bool,
    who: str | None,
    n_processes: int | None,
    cluster: str | None,
) -> None:
    """Measure again what another version, map or correction made stale, and what is damaged."""
    from gaittrack.commands.study_changes import run_recompute

    if cluster is None:
        sys.exit(run_recompute(folder, url, only_list=only_list, who=who, n_processes=n_processes))
    if n_processes is not None:
        raise click.UsageError("--jobs does not go together with --cluster.")
    try:
        from gaittrack.study.results.cluster import on_cluster
    except ModuleNotFoundError as error:
        raise click.UsageError(
            f"--cluster needs the package {error.name}: pip install 'gaittrack[cluster]'."
        ) from error
    measuring = on_cluster(cluster)
    sys.exit(run_recompute(folder, url, only_list=only_list, who=who, measuring=measuring))
