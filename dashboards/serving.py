"""Serve a study's screens: one process, waitress; the loopback address unless told otherwise."""

from __future__ import annotations

import contextlib
import gc
import logging
import os
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import click
from markupsafe import Markup
from waitress.server import create_server
from waitress.wasyncore import close_all

from dashboards.app import build_app
from dashboards.shell.doors import MOST_UPLOAD_BYTES, START
from dashboards.shell.keeper import keeper_of
from dashboards.shell.place import LOOPBACK, Place, PlaceError, address_of, check_place, doors_of
from dashboards.shell.tls import TlsFront, tls_context
from gaittrack.atomic_write import write_text_atomically
from gaittrack.notice import NOTICE
from gaittrack.study.originals import PRIVATE_FILE
from gaittrack.study.store import Study, open_study

N_THREADS: Final = 8
END_S: Final = 1.0
"""How long answers under way may take when the server is told to end; own choice."""
OPENING_FILE: Final = "open-dashboard.html"


class Server:
    """A study being served.

    Parameters
    ----------
    study : Study
        Open; stays open.
    who : str, optional
        Name of the only visitor, where nobody signs in.

    Attributes
    ----------
    base : str
        What every address begins with.
    address : str
        What to open.

    Raises
    ------
    PlaceError
        The place lacks what it needs, or cannot be listened at.
    """

    def __init__(self, study: Study, place: Place, *, who: str | None = None) -> None:
        check_place(place, study.folder)
        context = place.certificate and place.key and tls_context(place.certificate, place.key)
        outer = listening_socket(place.host, place.port)
        port = outer.getsockname()[1]
        doors = doors_of(place, port, who)
        inner = listening_socket(LOOPBACK, 0) if context else outer
        app = build_app(study, doors).server
        self._keeper = keeper_of(app, study)
        self._waitress = create_server(
            app,
            sockets=[inner],
            threads=N_THREADS,
            ident=None,
            url_scheme=doors.scheme,
            max_request_body_size=MOST_UPLOAD_BYTES,
            clear_untrusted_proxy_headers=True,
        )
        self._front = TlsFront(outer, inner.getsockname()[:2], context) if context else None
        self.base = address_of(place, port, doors)
        self.address = self.base + ("" if doors.signs_in else f"{START}?token={doors.token}")

    def run(self) -> None:
        """Serve until interrupted, or stopped from another thread."""
        if self._front is not None:
            self._front.start()
        self._keeper.poke()
        try:
            self._waitress.run()
        finally:
            if self._front is not None:
                self._front.close()
            self._waitress.task_dispatcher.shutdown(timeout=END_S)
            close_all(self._waitress._map)
            self._keeper.stop()

    def stop(self) -> None:
        """End :meth:`run` from another thread."""
        channels = self._waitress._map
        self._waitress.trigger.pull_trigger(lambda: close_all(channels))


def listening_socket(host: str, port: int) -> socket.socket:
    """Return a socket that listens.

    Parameters
    ----------
    port : int
        0 takes a free one.

    Raises
    ------
    PlaceError
        The port is taken or forbidden, or the address is none of this computer.
    """
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
        family, _, _, _, address = found[0]
        return socket.create_server(address[:2], family=family)
    except OSError as error:
        raise PlaceError.of(
            "cannot_listen", where=f"{host}, port {port}", why=error.strerror or error
        ) from error


def serve(
    folder: Path, *, url: str | None, place: Place, who: str | None, opens_browser: bool
) -> None:
    """Serve until interrupted.

    Parameters
    ----------
    url : str or None
        The study's PostgreSQL database.
    who : str or None
        For the history.

    Raises
    ------
    StudyError, PlaceError
        There is no such study, or it cannot be served there.
    """
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    study = open_study(folder, url=url)
    try:
        server = Server(study, place, who=who)
        click.echo(f"{NOTICE}\n\nThe study is open at\n  {server.address}\nCtrl-C ends it.")
        leave_out_what_stays()
        with _opened_in_browser(folder, server.address if opens_browser else None), ended_by():
            server.run()
        click.echo("Ended.")
    finally:
        study.close()


def leave_out_what_stays() -> None:
    """Spare the search for unused objects those of the program itself, a tenth of a second each."""
    gc.collect()
    gc.freeze()


@contextlib.contextmanager
def _opened_in_browser(folder: Path, address: str | None) -> Iterator[None]:
    """Open a private file that leads on to the address.

    A browser's command line can be read by everybody on the computer; the secret stays out of it.
    """
    if address is None or not _has_screen():
        yield
        return
    path = folder.resolve() / OPENING_FILE
    onward = Markup('<meta http-equiv="refresh" content="0;url={}">').format(address)
    write_text_atomically(path, f"<!doctype html>{onward}", mode=PRIVATE_FILE)
    try:
        threading.Thread(target=webbrowser.open, args=(path.as_uri(),), daemon=True).start()
        yield
    finally:
        path.unlink(missing_ok=True)


def _has_screen() -> bool:
    """Tell whether a browser would have a window, and not take over the terminal."""
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


@contextlib.contextmanager
def ended_by() -> Iterator[None]:
    """Let the system's own signal to end do what Ctrl-C does, also where it comes twice."""

    def end(_number: int, _frame: Any) -> None:
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
