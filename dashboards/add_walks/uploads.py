"""Files on their way from a browser into a study: received, held for a while, thrown away.

In come single files as raw request bodies, out come baskets of files in private folders that only
the session that sent them can see. A file goes once it is stored, a basket when the screen is left,
after a time without use, and when the program ends. The sender's file name is cleaned and
never leads anywhere: each file lies in a folder of its own with a random name.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import shutil
import stat
import tempfile
import threading
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote

from flask import Flask, Response, abort, current_app, jsonify, request

from dashboards.add_walks.upload_checks import content_fault, plain_name
from dashboards.shell.access import NotAllowedError, require
from dashboards.shell.doors import UPLOAD
from dashboards.shell.jobs import session
from gaittrack.part_names import on_disk
from gaittrack.read.sheet_parts import people_in
from gaittrack.scratch import sweep_scratch

HEADER: Final = "X-Gaittrack-Upload"
"""Only scripts of these pages can set it."""
NAME_HEADER: Final = "X-Gaittrack-Name"
DAY_HEADER: Final = "X-Gaittrack-Day"
MOST_FILE_BYTES: Final = 200 * 1024 * 1024
MOST_BASKET_BYTES: Final = 2 * 1024 * 1024 * 1024
MOST_FILES: Final = 300
MOST_BASKETS: Final = 5
"""Of one file, of one basket, and baskets of one session; own choices."""
KEPT_S: Final = 3600.0
"""How long a basket is kept without use; own choice."""
LEFT_BEHIND_S: Final = 24 * 3600.0
"""Unused for so long, a basket's folder is of a server that was killed: a running one would have
thrown it away long before; own choice."""
_DAY: Final = re.compile(r"\d{4}-\d\d-\d\d")
_PREFIX: Final = "gaittrack-basket-"
_CHUNK: Final = 1024 * 1024
_KEY: Final = "gaittrack-baskets"


@dataclass(frozen=True, slots=True)
class Received:
    """One file of a basket.

    Attributes
    ----------
    path : Path or None
        None for a refused file: then nothing of it is kept.
    name : str
        Cleaned name, without folders.
    folder : str
        Where the sender had it: a hint for the eye and for guesses, never a path here.
    refusal : str
        Why it was refused; empty otherwise.
    day : str
        When it was last changed, in ISO form, as the sender says; empty where that is not known.
    is_stored : bool
        It went into the study, or was there: nothing of it is kept here any longer.
    """

    path: Path | None
    name: str
    folder: str = ""
    n_bytes: int = 0
    sha256: str = ""
    refusal: str = ""
    day: str = ""
    is_stored: bool = False

    @property
    def place(self) -> str:
        """Its name with the folders it lay in."""
        return f"{self.folder}/{self.name}".lstrip("/")


@dataclass(slots=True)
class Basket:
    """Files that one session sent for one screen.

    Attributes
    ----------
    owner : object
        The session.
    folder : TemporaryDirectory
        Private; goes with the basket, at the latest with the program.
    kept : dict
        What the screen made of them so far.
    is_storing : bool
        Its files go into the study just now: it is not thrown away before that has ended.
    is_left : bool
        The screen was left meanwhile.
    """

    owner: object
    folder: tempfile.TemporaryDirectory[str]
    files: list[Received] = field(default_factory=list)
    used_s: float = field(default_factory=time.monotonic)
    kept: dict[str, Any] = field(default_factory=dict)
    is_storing: bool = False
    is_left: bool = False

    @property
    def good(self) -> list[Received]:
        """The files that are there."""
        return [one for one in self.files if one.path is not None]

    def let_go(self, paths: Iterable[Path]) -> None:
        """Delete files that the study has now; the others stay."""
        gone = set(paths)
        self.files = [
            replace(one, path=None, is_stored=True) if one.path in gone else one
            for one in self.files
        ]
        needed = {on_disk(one.path) for one in self.good if one.path is not None}
        for path in {on_disk(path) for path in gone} - needed:
            path.unlink(missing_ok=True)


def sweep_left_behind(root: Path) -> None:
    """Delete the folders that a killed server left: our own user's, unused for a day.

    Parameters
    ----------
    root : Path
        Where temporary folders are made.
    """
    for path in root.glob(f"{_PREFIX}*"):
        with suppress(OSError):
            found = path.lstat()
            is_ours = stat.S_ISDIR(found.st_mode) and found.st_uid == _own_user()
            if is_ours and time.time() - found.st_mtime > LEFT_BEHIND_S:
                shutil.rmtree(path)


def _own_user() -> int:
    """Return the number of the user who runs this; 0 where there are none."""
    return os.getuid() if hasattr(os, "getuid") else 0


class Baskets:
    """The baskets of one server."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._held: dict[str, Basket] = {}
        self._sweeper: threading.Timer | None = None

    def start(self) -> str:
        """Begin a basket for the session that asks, and return its secret number."""
        key, mine = secrets.token_urlsafe(24), session()
        folder = tempfile.TemporaryDirectory(prefix=_PREFIX)
        with self._lock:
            own = [each for each, basket in self._held.items() if basket.owner is mine]
            self._held[key] = Basket(mine, folder)
        for old in own[: max(0, len(own) + 1 - MOST_BASKETS)]:
            self.end(old)
        self.sweep()
        return key

    def find(self, key: str) -> Basket:
        """Return a basket of the session that asks, and keep it for longer.

        Raises
        ------
        NotAllowedError
            There is none with this number, or it is somebody else's.
        """
        with self._lock:
            basket = self._held.get(key)
        if basket is None or basket.owner is not session():
            raise NotAllowedError.of("files_sent_no_longer_kept", where="request")
        basket.used_s = time.monotonic()
        os.utime(basket.folder.name)  # another server sees that it is in use
        return basket

    def end(self, key: str) -> None:
        """Throw a basket and its files away; one that is being stored as soon as that has ended."""
        with self._lock:
            basket = self._held.get(key)
            if basket is None:
                return
            basket.is_left = True
            if basket.is_storing:
                return
            del self._held[key]
        basket.folder.cleanup()

    @contextmanager
    def storing(self, key: str) -> Iterator[Basket]:
        """Keep a basket while its files are stored; throw it away after that if it was left."""
        basket = self._held[key]
        basket.is_storing = True
        try:
            yield basket
        finally:
            basket.is_storing = False
            basket.used_s = time.monotonic()
            if basket.is_left:
                self.end(key)

    def sweep(self) -> None:
        """Throw away what was not used for long, now and from time to time while any is left."""
        now = time.monotonic()
        with self._lock:
            old = [key for key, one in self._held.items() if now - one.used_s > KEPT_S]
        for key in old:
            self.end(key)
        with self._lock:
            if self._sweeper is not None:
                self._sweeper.cancel()
            self._sweeper = threading.Timer(KEPT_S / 4, self.sweep)
            self._sweeper.daemon = True
            if self._held:
                self._sweeper.start()


def baskets() -> Baskets:
    """Return the baskets of the server that answers."""
    found: Baskets = current_app.extensions[_KEY]
    return found


def add_route(server: Flask) -> None:
    """Let a server take files.

    Parameters
    ----------
    server : Flask
        With its doors: origin, session and whole size are checked there.
    """
    sweep_left_behind(Path(tempfile.gettempdir()))
    sweep_scratch()
    server.extensions[_KEY] = Baskets()

    @server.route(f"{UPLOAD}/<key>", methods=["POST", "DELETE"])
    def take(key: str) -> tuple[Response, int]:
        require("edit")
        if request.headers.get(HEADER) != "1":
            abort(403, "Files are taken from the screen Add walks only.")
        basket = baskets().find(key)
        if request.method == "DELETE":
            baskets().end(key)
            return jsonify(message=""), 200
        if sum(not one.is_stored for one in basket.files) >= MOST_FILES:
            return jsonify(message=f"More than {MOST_FILES} files at once."), 413
        received, status = _receive(basket)
        basket.files += _of_each_person(received)
        return jsonify(message=received.refusal), status


def _receive(basket: Basket) -> tuple[Received, int]:
    """Take one file in, or say why not; and the status to answer with."""
    given = unquote(request.headers.get(NAME_HEADER, ""))
    folder, name = plain_name(given)
    room = min(MOST_FILE_BYTES, MOST_BASKET_BYTES - sum(one.n_bytes for one in basket.good))
    too_large = Received(None, name, folder, refusal=_too_large(room)), 413
    if (request.content_length or 0) > room:
        return too_large
    path = Path(tempfile.mkdtemp(dir=basket.folder.name)) / name
    n_bytes, sha256 = _write(path, room)
    if n_bytes > room:
        fault, status = _too_large(room), 413
    else:
        fault, status = content_fault(path), 415
    same = next((one.name for one in basket.good if one.sha256 == sha256), None)
    if not fault and same is not None:
        fault, status = f"The same bytes as {same}: sent twice.", 409
    if fault:
        path.unlink()
        return Received(None, name, folder, n_bytes, sha256, fault), status
    day = request.headers.get(DAY_HEADER, "")
    day = day if _DAY.fullmatch(day) else ""
    return Received(path, name, folder, n_bytes, sha256, day=day), 200


def _of_each_person(received: Received) -> list[Received]:
    """Return what was received, a sheet of several people once for each."""
    if received.path is None:
        return [received]
    shares = people_in(received.path)
    size = received.n_bytes // len(shares)
    return [replace(received, path=path, name=path.name, n_bytes=size) for path in shares]


def _write(path: Path, most: int) -> tuple[int, str]:
    """Write the request's body, one byte too many at most; return its size and hash."""
    digest, n_bytes = hashlib.sha256(), 0
    with path.open("xb") as file:
        path.chmod(0o600)
        while n_bytes <= most and (chunk := request.stream.read(min(_CHUNK, most + 1 - n_bytes))):
            file.write(chunk)
            digest.update(chunk)
            n_bytes += len(chunk)
    return n_bytes, digest.hexdigest()


def _too_large(room: int) -> str:
    if room < MOST_FILE_BYTES:
        return "Too much at once. Store what is here first, then send the rest."
    return f"Larger than {room // 1024**2} MB, the most that is taken. Is it a recording of gait?"
