"""Write a file whole or not at all.

In come a path and its new text, out comes the file; whoever reads it meanwhile sees the old text or
the new one, never half of it, also when the machine stops.
"""

from __future__ import annotations

import glob
import os
import time
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Final

LEFT_AFTER_S: Final = 3600.0
"""Age of a half-written file that nobody writes any more; own choice, a write takes seconds."""


def write_text_atomically(path: Path, text: str, *, mode: int = 0o666) -> None:
    """Put ``text`` (UTF-8, line ends as given) in the place of ``path``.

    Parameters, Raises
        As :func:`write_atomically`.
    """
    write_atomically(path, text.encode(), mode=mode)


def write_atomically(path: Path, content: bytes, *, mode: int = 0o666) -> None:
    """Put ``content`` in the place of ``path``.

    Parameters
    ----------
    path : Path
        In a folder that exists. What a symbolic link points to is replaced, not the link.
    mode : int
        Who may read and write it, less what the user's own mask takes away.

    Raises
    ------
    OSError
        The folder cannot be written to; then nothing has changed.
    """
    path = path.resolve()
    _sweep(path)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.unlink(missing_ok=True)
        with open(part, "xb", opener=partial(os.open, mode=mode)) as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _sweep(path: Path) -> None:
    """Delete what programs that were killed while they wrote this file have left beside it."""
    oldest = time.time() - LEFT_AFTER_S
    for left in path.parent.glob(f".{glob.escape(path.name)}.*.part"):
        with suppress(OSError):
            if left.stat().st_mtime < oldest:
                left.unlink()
