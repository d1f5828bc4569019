"""Original files, kept unchanged under the hash of their bytes.

In come a file and its hash, out comes its place in the study folder. A file is there whole or not
at all, whenever the machine stops.
"""

from __future__ import annotations

import hashlib
import os
import re
from functools import partial
from pathlib import Path
from typing import Final

from gaittrack.errors import StudyError
from gaittrack.part_names import on_disk
from gaittrack.plain_files import bytes_of, hash_of

FOLDER: Final = "originals"
_PART: Final = ".part"
PRIVATE_FILE: Final = 0o600
PRIVATE_FOLDER: Final = 0o700


def plain_suffix(path: Path) -> str:
    """Return the suffix in small letters; empty when it holds anything but letters and digits."""
    suffix = path.suffix.lower()
    return suffix if re.fullmatch(r"\.[a-z0-9]{1,8}", suffix) else ""


def original_path(folder: Path, sha256: str, suffix: str) -> Path:
    """Return where the original with this hash lies in a study folder."""
    return folder / FOLDER / sha256[:2] / f"{sha256}{suffix}"


def keep_original(folder: Path, source: Path, sha256: str) -> Path:
    """Copy a file into the study, unless it is there already.

    Parameters
    ----------
    folder : Path
        The study folder.
    sha256 : str
        Hash of the bytes that were measured.

    Returns
    -------
    Path
        The kept copy; on the disk, its name included, when this returns.

    Raises
    ------
    StudyError
        The file has changed since it was measured.
    OSError
        The disk is full or cannot be written; then nothing is left behind.
    """
    target = original_path(folder, sha256, plain_suffix(source))
    if is_stored_as(target, sha256):
        return target
    content = bytes_of(on_disk(source))
    if hashlib.sha256(content).hexdigest() != sha256:
        raise StudyError.of("file_changed_while_imported", where=source.name)
    is_new_folder = not target.parent.is_dir()
    if is_new_folder:
        target.parent.mkdir(mode=PRIVATE_FOLDER, parents=True, exist_ok=True)
    _write_whole(target, content)
    sync_folder(target.parent)
    if is_new_folder:
        sync_folder(target.parent.parent)
    return target


def _write_whole(target: Path, content: bytes) -> None:
    part = target.with_name(target.name + _PART)  # whoever writes holds the study's lock
    try:
        with open(part, "wb", opener=partial(os.open, mode=PRIVATE_FILE)) as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.chmod(PRIVATE_FILE)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)


def sync_folder(folder: Path) -> None:
    """Put the folder's list of names on the disk; some systems cannot, and do not need it."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def kept_files(folder: Path) -> list[Path]:
    """Return every whole original in a study folder; parts of a broken-off copy are left out."""
    return sorted(
        path for path in (folder / FOLDER).rglob("*") if path.is_file() and path.suffix != _PART
    )


def delete_parts(folder: Path) -> None:
    """Delete what broken-off copies left; only for who holds the study's lock for writing."""
    for path in (folder / FOLDER).rglob(f"*{_PART}"):
        path.unlink()


def is_stored_as(path: Path, sha256: str) -> bool:
    """Whether a file is there and nobody changed its bytes."""
    return path.is_file() and hash_of(path, most_bytes=None) == sha256
