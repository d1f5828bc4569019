"""Read a file that somebody names, as long as it is a file.

In comes a path, out come its bytes or their hash. A pipe, a device or a folder is refused before
anything is read of it: reading one may never end. So is what is larger than any recording.
"""

from __future__ import annotations

import errno
import hashlib
import os
import stat
import time
from io import BufferedReader
from pathlib import Path
from typing import Final

MOST_BYTES: Final = 2 * 1024**3
"""Largest file that is read; own choice, some ten times an hour of recording."""
MOST_TYPED_BYTES: Final = 32 * 1024**2
"""Largest file of what people write: maps, events, lists; own choice."""
LONGEST_S: Final = 60.0
"""Longest reading of one file, from opening it to the last number; our choice, a hundred times
what a long recording takes."""
_PART: Final = 1024**2
_AT_ONCE: Final = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def open_plain(path: Path, *, most_bytes: int | None = MOST_BYTES) -> BufferedReader:
    """Open a file for reading.

    Parameters
    ----------
    most_bytes : int or None
        Larger ones are refused; None for files of a study's own.

    Raises
    ------
    OSError
        It cannot be opened, is no plain file, or is larger.
    """
    handle = os.open(path, os.O_RDONLY | _AT_ONCE)
    try:
        found = os.fstat(handle)
        if stat.S_ISDIR(found.st_mode):
            raise OSError(errno.EISDIR, "it is a folder")
        if not stat.S_ISREG(found.st_mode):
            raise OSError(errno.EINVAL, "it is no plain file")
        if most_bytes is not None and found.st_size > most_bytes:
            raise OSError(errno.EFBIG, f"it is larger than {most_bytes / 1024**2:,g} MiB")
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def bytes_of(path: Path, *, most_bytes: int = MOST_BYTES) -> bytes:
    """Return what is in a file.

    Parameters, Raises
    ------------------
        As :func:`open_plain`.
    """
    with open_plain(path, most_bytes=most_bytes) as file:
        return file.read()


def text_of(path: Path) -> str:
    """Return the text that somebody wrote into a file, every line end as a line feed.

    Raises
    ------
    OSError
        As :func:`open_plain`.
    UnicodeDecodeError
        It is no such text.
    """
    content = bytes_of(path, most_bytes=MOST_TYPED_BYTES)
    return content.decode().replace("\r\n", "\n").replace("\r", "\n")


def hash_of(path: Path, *, most_bytes: int | None = MOST_BYTES, within_s: float = LONGEST_S) -> str:
    """Return the SHA-256 of a file's bytes, in hexadecimal.

    Parameters
    ----------
    most_bytes : int or None
        As :func:`open_plain`.
    within_s : float
        Longest time for it; a study's own files take what they take.

    Raises
    ------
    OSError
        As :func:`open_plain`, or it takes longer.
    """
    digest, ends_s = hashlib.sha256(), time.monotonic() + within_s
    with open_plain(path, most_bytes=most_bytes) as file:
        while part := file.read(_PART):
            digest.update(part)
            if most_bytes is not None and time.monotonic() > ends_s:
                raise OSError(errno.ETIMEDOUT, f"reading it takes longer than {LONGEST_S:g} s")
    return digest.hexdigest()
