"""``gaittrack dashboard``: the study's screens in a browser on this computer."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from gaittrack.commands.options import FILE, study_options


@click.command()
@study_options
@click.option("--new", "is_new", is_flag=True, help="Make the study, empty, if there is none.")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen at.")
@click.option("--port", type=click.IntRange(0, 65535), default=8050, show_default=True)
@click.option(
    "--name",
    "names",
    multiple=True,
    metavar="HOST[:PORT]",
    help="What people write in the browser, when it is not --host. May be repeated.",
)
@click.option("--certificate", type=FILE, metavar="PEM", help="For TLS, with its --key.")
@click.option("--key", type=FILE, metavar="PEM", help="Of the certificate.")
@click.option(
    "--behind-proxy", "is_behind_proxy", is_flag=True, help="A proxy with TLS stands in front."
)
@click.option("--sign-in", "signs_in", is_flag=True, help="Ask for names also on this computer.")
@click.option("--by", "who", metavar="NAME", help="Who works; else the user's name.")
@click.option("--no-browser", is_flag=True, help="Only print the address.")
def dashboard(
    folder: Path, url: str | None, who: str | None, is_new: bool, no_browser: bool, **place: Any
) -> None:
    """Show a study in the browser: people, walks, comparisons, progress, cohort.

    Where there is no study yet it offers to make an empty one. Serves this computer only, behind
    the printed address. Ctrl-C ends it. Other computers are served with --host; then people sign
    in (gaittrack users add), and TLS is asked for.
    """
    from dashboards.serving import serve
    from dashboards.shell.place import Place
    from gaittrack.commands.open_study import make_if_wanted
    from gaittrack.commands.running import mistakes_told

    with mistakes_told():
        make_if_wanted(folder, url, is_new=is_new)
        serve(folder, url=url, place=Place(**place), who=who, opens_browser=not no_browser)
