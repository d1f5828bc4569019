"""Temporary folders with copies of what was recorded, that no ended program leaves behind.

Each folder is held by a lock that ends with its program, however that ends. A folder of our own
user that nobody holds is what a killed program left: whoever starts next deletes it.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

if sys.platform != "win32":
    import fcntl

PREFIX: Final = "gaittrack-copy-"
_MAKING, _LOCK = ".making", ".held"


@contextmanager
def scratch_folder() -> Iterator[Path]:
    """Give an empty folder inside of one that is held, and delete it at the end.

    Raises
    ------
    OSError
        None can be made.
    """
    with tempfile.TemporaryDirectory(prefix=PREFIX, ignore_cleanup_errors=True) as name:
        folder = Path(name)
        handle = os.open(folder / _MAKING, os.O_CREAT | os.O_RDWR, 0o600)
        try:
            _hold(handle)
            (folder / _MAKING).rename(folder / _LOCK)
            inner = folder / "inner"
            inner.mkdir(mode=0o700)
            yield inner
        finally:
            os.close(handle)


def sweep_scratch() -> int:
    """Delete what killed programs of this user left, and return how many folders those were."""
    if sys.platform == "win32":
        return 0
    return sum(map(_swept, Path(tempfile.gettempdir()).glob(f"{PREFIX}*")))


def _swept(folder: Path) -> bool:
    with suppress(OSError):
        if folder.is_symlink() or folder.lstat().st_uid != os.getuid():
            return False
        handle = os.open(folder / _LOCK, os.O_RDWR)
        try:
            _hold(handle)
            shutil.rmtree(folder)
            return True
        finally:
            os.close(handle)
    return False


def _hold(handle: int) -> None:
    """Take the lock of a folder, which ends with the program.

    Raises
    ------
    OSError
        Another program has it.
    """
    if sys.platform != "win32":
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
