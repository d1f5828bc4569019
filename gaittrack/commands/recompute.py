"""``gaittrack recompute``: measure stale trials of a study again."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from gaittrack.commands.study_options import study_options


@click.command()
@study_options
@click.option("--list", "only_list", is_flag=True, help="Only show what is stale, and why.")
@click.option("--by", "who", metavar="NAME", help="Who does it; else the user's name.")
def recompute(folder: Path, url: str | None, only_list: bool, who: str | None) -> None:
    """Measure again what another software version, map or correction has made stale."""
    from gaittrack.commands.study_changes import run_recompute

    sys.exit(run_recompute(folder, url, only_list=only_list, who=who))
