"""What takes connections in: bounds them, decrypts them where there is TLS, and passes them on.

Encrypted or plain bytes come in, plain bytes go on to the server on loopback. A connection reaches
that server once the head of its first request is whole: whoever only opens connections, or sends
a byte now and then, uses up none of the server's. Where there are too many, whoever waits longest
without having asked for anything goes first.
"""

from __future__ import annotations

import asyncio
import contextlib
import gc
import os
import socket
import ssl
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, Final

from dashboards.shell.place import PlaceError

HEAD_S: Final = 10.0
"""How long handshake and head of the first request may take together; own choice."""
MOST_CONNECTIONS: Final = 200
MOST_OF_ONE: Final = 60
"""Connections in all, and of one address (a browser opens six); own choice."""
_CHUNK_BYTES: Final = 64 * 1024
_BROKEN_OFF: Final = 100
"""After so many handshakes broken off, memory is given back; own choice."""
_PAUSE_S: Final = 0.1
"""After the system had no connection to give."""


def tls_context(certificate: Path, key: Path) -> ssl.SSLContext:
    """Return the settings of TLS 1.2 and newer.

    Parameters
    ----------
    certificate, key : Path
        PEM.

    Raises
    ------
    PlaceError
        One cannot be read, they do not belong together, or others may read the key.
    """
    _refuse_open_key(key)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(certificate, key)
    except OSError as error:  # ssl.SSLError is one
        raise PlaceError.of(
            "certificate_key_cannot_used", where=f"{certificate}, {key}", error=str(error)
        ) from error
    return context


def _refuse_open_key(key: Path) -> None:
    """Refuse a key that others on this computer can read, where files say so."""
    if os.name == "posix" and key.is_file() and key.stat().st_mode & 0o077:
        raise PlaceError.of("key_is_open", where=key)


@dataclass(eq=False, slots=True)
class Connection:
    """Somebody who is connected.

    Attributes
    ----------
    has_asked : bool
        Whether the head of a request came whole, and bytes are passed on.
    heard_s : float
        When bytes last went either way.
    is_begun : bool
        Whether its task runs and will close it.
    """

    address: str
    has_asked: bool = False
    heard_s: float = field(default_factory=time.monotonic)
    task: asyncio.Task[None] | None = None
    is_begun: bool = False


class Front:
    """Takes connections in a thread of its own.

    Parameters
    ----------
    outer : socket
        Listens already.
    inner : (address, port)
        Where the plain server is.
    context : ssl.SSLContext or None
        None passes plain bytes on.
    most_of_one : int
        Connections of one address; behind a proxy all come from there.
    """

    def __init__(
        self,
        outer: socket.socket,
        inner: tuple[str, int],
        context: ssl.SSLContext | None = None,
        *,
        most_of_one: int = MOST_OF_ONE,
    ) -> None:
        self._outer, self._inner, self._context = outer, inner, context
        self._most_of_one = most_of_one
        self._open: list[Connection] = []
        self._callers: dict[int, str] = {}
        self._n_broken_off = 0
        self._loop = asyncio.new_event_loop()
        self._accepting: asyncio.Task[None] | None = None
        self._is_up = threading.Event()
        self._thread = threading.Thread(target=self._run, name="front", daemon=True)

    @property
    def n_open(self) -> int:
        """How many are connected."""
        return len(self._open)

    def start(self) -> None:
        """Take connections from now on."""
        self._thread.start()
        self._is_up.wait()

    def close(self) -> None:
        """Take no more connections."""
        if self._accepting is not None:
            self._loop.call_soon_threadsafe(self._accepting.cancel)
        self._thread.join(5)
        self._outer.close()

    def caller(self, port: int) -> str:
        """Return the address of whoever stands behind a connection to the server; "" if nobody.

        Parameters
        ----------
        port : int
            From which the front connected to the server.
        """
        return self._callers.get(port, "")

    def _run(self) -> None:
        with asyncio.Runner(loop_factory=lambda: self._loop) as runner:
            self._loop.set_exception_handler(lambda _loop, _context: None)  # broken-off handshakes
            with contextlib.suppress(asyncio.CancelledError):
                runner.run(self._accept())

    async def _accept(self) -> None:
        self._accepting = asyncio.current_task()
        self._is_up.set()
        self._outer.setblocking(False)
        while True:
            try:
                taken, address = await self._loop.sock_accept(self._outer)
            except OSError:  # gone already, or no file is left to open
                await asyncio.sleep(_PAUSE_S)
                continue
            self._make_room(address[0])
            connection = Connection(address[0])
            self._open.append(connection)
            task = connection.task = self._loop.create_task(self._serve(connection, taken))
            task.add_done_callback(partial(_close_unbegun, connection, taken))

    def _make_room(self, address: str) -> None:
        """Break off whoever goes first, of an address that has its most or of all."""
        own = [one for one in self._open if one.address == address]
        too_many = own if len(own) >= self._most_of_one else self._open
        if too_many is own or len(self._open) >= MOST_CONNECTIONS:
            first = min(too_many, key=lambda one: (one.has_asked, one.heard_s))
            self._open.remove(first)
            if first.task is not None:
                first.task.cancel()

    async def _serve(self, connection: Connection, taken: socket.socket) -> None:
        writer = None
        connection.is_begun = True
        try:
            async with asyncio.timeout(HEAD_S):
                reader, writer = await self._streams(taken)
                head = await _head(reader)
            await self._pass_on(connection, head, reader, writer)
        except (OSError, asyncio.IncompleteReadError, TimeoutError, asyncio.CancelledError):
            pass  # whoever is gone, too slow or one too many is told by the closed connection
        finally:
            (taken if writer is None else writer).close()
            if connection in self._open:
                self._open.remove(connection)
            if not connection.has_asked:
                self._give_back_memory()

    def _give_back_memory(self) -> None:
        """Give back what broken-off handshakes hold.

        asyncio leaves half a megabyte of each in a ring of references, which only the search for
        unused objects opens.
        """
        self._n_broken_off += 1
        if self._context is not None and self._n_broken_off % _BROKEN_OFF == 0:
            gc.collect()

    async def _streams(
        self, taken: socket.socket
    ) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        """Return both ways of a connection, decrypted where there is TLS."""
        reader = asyncio.StreamReader(limit=_CHUNK_BYTES)
        protocol = asyncio.StreamReaderProtocol(reader)
        tls: dict[str, Any] = {
            "ssl": self._context,
            "ssl_handshake_timeout": HEAD_S,
            "ssl_shutdown_timeout": 1.0,
        }
        transport, _ = await self._loop.connect_accepted_socket(
            lambda: protocol, taken, **(tls if self._context else {})
        )
        return reader, asyncio.StreamWriter(transport, protocol, reader, self._loop)

    async def _pass_on(
        self,
        connection: Connection,
        head: bytes,
        reader: asyncio.StreamReader,
        writer: asyncio.StreamWriter,
    ) -> None:
        """Connect to the server and pass bytes on both ways until one side closes."""
        inner_reader, inner_writer = await asyncio.open_connection(*self._inner)
        port = inner_writer.get_extra_info("sockname")[1]
        self._callers[port] = connection.address
        connection.has_asked = True

        def heard() -> None:
            connection.heard_s = time.monotonic()

        try:
            inner_writer.write(head)
            await asyncio.gather(
                _copy(reader, inner_writer, heard), _copy(inner_reader, writer, heard)
            )
        finally:
            inner_writer.close()
            del self._callers[port]


def _close_unbegun(connection: Connection, taken: socket.socket, _: asyncio.Task[None]) -> None:
    """Close what was broken off before its task could."""
    if not connection.is_begun:
        taken.close()


async def _head(reader: asyncio.StreamReader) -> bytes:
    """Return the head of a request, or as much of it as the server needs to refuse it."""
    try:
        return await reader.readuntil(b"\r\n\r\n")
    except asyncio.LimitOverrunError:
        return await reader.read(_CHUNK_BYTES)


async def _copy(
    reader: asyncio.StreamReader, writer: asyncio.StreamWriter, heard: Callable[[], None]
) -> None:
    """Pass bytes on until the sender closes, then close the receiver."""
    with contextlib.suppress(OSError):
        while chunk := await reader.read(_CHUNK_BYTES):
            heard()
            writer.write(chunk)
            await writer.drain()
    writer.close()
