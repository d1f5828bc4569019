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
import time
import webbrowser
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import click
from markupsafe import Markup
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser, ParsingError
from waitress.server import create_server
from waitress.wasyncore import close_all

from dashboards.app import build_app
from dashboards.shell.access import LOG
from dashboards.shell.doors import MOST_FORM_BYTES, MOST_UPLOAD_BYTES, START
from dashboards.shell.front import MOST_CONNECTIONS, MOST_OF_ONE, Front, tls_context
from dashboards.shell.keeper import keeper_of
from dashboards.shell.place import (
    LOOPBACK,
    Doors,
    Place,
    PlaceError,
    address_of,
    check_place,
    doors_of,
)
from gaittrack.atomic_write import write_text_atomically
from gaittrack.notice import NOTICE
from gaittrack.study.originals import PRIVATE_FILE
from gaittrack.study.store import Study, open_study

N_THREADS: Final = 8
SILENT_S: Final = 30
"""How long a connection may be silent between requests; own choice."""
FROM_PROXY: Final = {
    "trusted_proxy": "*",  # whoever connects is the proxy
    "trusted_proxy_headers": {"x-forwarded-for"},
}
OBJECTS_A_SEARCH: Final = 50_000
"""New objects after which unused ones are searched for; some megabytes. Own choice."""
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
        context = None
        if place.certificate is not None and place.key is not None:
            context = tls_context(place.certificate, place.key)
        outer = listening_socket(place.host, place.port)
        port = outer.getsockname()[1]
        doors = doors_of(place, port, who)
        inner = listening_socket(LOOPBACK, 0)
        most_of_one = MOST_CONNECTIONS if place.is_behind_proxy else MOST_OF_ONE
        self._front = Front(outer, inner.getsockname()[:2], context, most_of_one=most_of_one)
        app = build_app(study, doors).server
        self._keeper = keeper_of(app, study)
        self._waitress = create_server(
            told_callers(app.wsgi_app, self._front),
            sockets=[inner],
            threads=N_THREADS,
            ident=None,
            url_scheme=doors.scheme,
            max_request_body_size=MOST_UPLOAD_BYTES,
            connection_limit=2 * MOST_CONNECTIONS,  # the front bounds them
            channel_timeout=SILENT_S,
            asyncore_use_poll=True,
            **(FROM_PROXY if place.is_behind_proxy else {}),
            clear_untrusted_proxy_headers=True,
        )
        self._waitress.channel_class = channels_of(doors)
        self.base = address_of(place, port, doors)
        self.address = self.base + ("" if doors.signs_in else f"{START}?token={doors.token}")

    def run(self) -> None:
        """Serve until interrupted, or stopped from another thread."""
        self._front.start()
        self._keeper.poke()
        try:
            self._waitress.run()
        finally:
            self._front.close()
            self._waitress.task_dispatcher.shutdown(timeout=END_S)
            close_all(self._waitress._map)
            self._keeper.stop()

    def stop(self) -> None:
        """End :meth:`run` from another thread."""
        channels = self._waitress._map
        self._waitress.trigger.pull_trigger(lambda: close_all(channels))


def told_callers(app: Any, front: Front) -> Any:
    """Return a WSGI application that sees the address of whoever asks, not that of the front."""

    def told(environ: dict[str, Any], start_response: Any) -> Any:
        port = environ.get("REMOTE_PORT", "")
        address = front.caller(int(port)) if port.isdecimal() else ""
        if address and environ["REMOTE_ADDR"] == LOOPBACK:
            environ["REMOTE_ADDR"] = address
        return app(environ, start_response)

    return told


def channels_of(doors: Doors) -> type[HTTPChannel]:
    """Return connections on which nobody but a visitor sends more than a form holds.

    A request is held back, in memory or a temporary file, until it is whole; from strangers that
    would be somebody else's disk.
    """

    class Asked(HTTPRequestParser):  # type: ignore[misc]
        def parse_header(self, header_plus: bytes) -> None:
            super().parse_header(header_plus)
            is_large = self.chunked or MOST_FORM_BYTES < self.content_length < MOST_UPLOAD_BYTES
            if is_large and not doors.is_cookie_known(self.headers.get("COOKIE", "")):
                raise ParsingError("So much is taken from visitors only: open the study again.")

    class Channel(HTTPChannel):  # type: ignore[misc]
        parser_class = Asked

    return Channel


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
    log_to_terminal()
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


def log_to_terminal() -> None:
    """Log with the time in UTC who came in, was refused or took something away, and faults."""
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    handler = logging.StreamHandler()
    form = logging.Formatter("%(asctime)sZ %(message)s", "%Y-%m-%dT%H:%M:%S")
    form.converter = time.gmtime
    handler.setFormatter(form)
    LOG.addHandler(handler)
    LOG.setLevel(logging.INFO)


def leave_out_what_stays() -> None:
    """Search for unused objects seldom, and never among those of the program itself.

    A search looks at every object of an answer that is being made, and nearly all still serve.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(OBJECTS_A_SEARCH, *gc.get_threshold()[1:])


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
