"""TLS in front of the server: encrypted connections come in, their plain bytes go on to loopback.

waitress speaks plain HTTP only; what stands here passes bytes on both ways and looks into none.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
import ssl
import threading
from pathlib import Path
from typing import Final

from dashboards.shell.place import PlaceError

HANDSHAKE_S: Final = 10.0
MOST_CONNECTIONS: Final = 200
_CHUNK_BYTES: Final = 64 * 1024


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


class TlsFront:
    """Takes encrypted connections in a thread of its own.

    Parameters
    ----------
    outer : socket
        Listens already.
    inner : (address, port)
        Where the plain server is.
    """

    def __init__(
        self, outer: socket.socket, inner: tuple[str, int], context: ssl.SSLContext
    ) -> None:
        self._outer, self._inner, self._context = outer, inner, context
        self._n_open = 0
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, name="tls", daemon=True)

    def start(self) -> None:
        """Take connections from now on."""
        self._thread.start()

    def close(self) -> None:
        """Take no more connections."""
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(5)
        self._outer.close()

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._loop.set_exception_handler(lambda _loop, _context: None)  # broken-off handshakes
        self._loop.run_until_complete(
            asyncio.start_server(
                self._serve,
                sock=self._outer,
                ssl=self._context,
                ssl_handshake_timeout=HANDSHAKE_S,
            )
        )
        self._loop.run_forever()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self._n_open >= MOST_CONNECTIONS:
            writer.close()
            return
        self._n_open += 1
        try:
            inner_reader, inner_writer = await asyncio.open_connection(*self._inner)
            await asyncio.gather(_pass_on(reader, inner_writer), _pass_on(inner_reader, writer))
        except OSError:
            writer.close()
        finally:
            self._n_open -= 1


async def _pass_on(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    """Pass bytes on until the sender closes, then close the receiver."""
    with contextlib.suppress(OSError):
        while chunk := await reader.read(_CHUNK_BYTES):
            writer.write(chunk)
            await writer.drain()
    writer.close()
