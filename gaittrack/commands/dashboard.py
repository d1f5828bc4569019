"""``gaittrack dashboard``: the study's screens in a browser on this computer."""

from __future__ import annotations

from pathlib import Path

import click

from gaittrack.commands.study_options import study_options


@click.command()
@study_options
@click.option("--port", type=click.IntRange(0, 65535), default=8050, show_default=True)
@click.option("--by", "who", metavar="NAME", help="Who works; else the user's name.")
@click.option("--no-browser", is_flag=True, help="Only print the address.")
def dashboard(folder: Path, url: str | None, port: int, who: str | None, no_browser: bool) -> None:
    """Show a study in the browser: people, walks, comparisons, progress, cohort.

    Serves this computer only, behind the printed address. Ctrl-C ends it.
    """
    from dashboards.serving import serve

    serve(folder, url=url, port=port, who=who, opens_browser=not no_browser)
