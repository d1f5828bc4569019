"""Serve a study's screens on this computer: one process, waitress, the loopback address."""

from __future__ import annotations

import getpass
import webbrowser
from pathlib import Path
from typing import Final

import click
from waitress.server import create_server

from dashboards.app import build_app
from dashboards.doors import START, Doors
from gaittrack.notice import NOTICE
from gaittrack.study.store import open_study

LOOPBACK: Final = "127.0.0.1"
N_THREADS: Final = 8


def serve(
    folder: Path, *, url: str | None, port: int, who: str | None, opens_browser: bool
) -> None:
    """Serve until interrupted.

    Parameters
    ----------
    folder : Path
    url : str or None
        The study's PostgreSQL database.
    port : int
        0 takes a free one.
    who : str or None
        For the history.
    opens_browser : bool
    """
    study = open_study(folder, url=url)
    doors = Doors(who or getpass.getuser())
    server = create_server(
        build_app(study, doors).server, host=LOOPBACK, port=port, threads=N_THREADS
    )
    address = f"http://{LOOPBACK}:{server.effective_port}{START}?token={doors.token}"
    click.echo(f"{NOTICE}\n\nThe study is open at\n  {address}\nCtrl-C ends it.")
    if opens_browser:
        webbrowser.open(address)
    try:
        server.run()
    finally:
        server.close()
        study.close()
