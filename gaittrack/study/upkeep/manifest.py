"""What a backup holds, written into it last, so that one broken off or changed is never restored.

In comes a whole backup, out comes its ``backup.json``: every file with size and hash, and where its
history ends; and of a backup that lies somewhere, what does not agree with it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from gaittrack import __version__
from gaittrack.atomic_write import write_text_atomically
from gaittrack.errors import StudyError
from gaittrack.plain_files import hash_of
from gaittrack.study.history import utc_now
from gaittrack.study.history_end import HistoryEnd
from gaittrack.study.originals import PRIVATE_FILE
from gaittrack.study.store import DATABASE
from gaittrack.study.tables import SCHEMA_VERSION

MANIFEST: Final = "backup.json"
UNFINISHED: Final = ".unfinished"
"""End of the name of a folder that is still being written, or was broken off."""
FIRST_WITH_MANIFEST: Final = 5
"""Schema version since which a backup without one was broken off."""
_FORMAT: Final = 1
_KEYS: Final = frozenset(
    ("format", "made_utc", "software_version", "schema_version", "history", "lost", "files", "seal")
)
_LOG, _LOG_INDEX = f"{DATABASE}-wal", f"{DATABASE}-shm"
"""What SQLite keeps beside a database that somebody has open; with an empty log nothing changed."""


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup says it holds.

    Attributes
    ----------
    files : mapping of name to (int, str)
        Bytes and SHA-256 of every file but the manifest, by its path from the backup's folder.
    lost : frozenset of str
        Originals that the study had lost already: hash and suffix.
    """

    made_utc: str
    software_version: str
    schema_version: int
    history: HistoryEnd
    files: Mapping[str, tuple[int, str]]
    lost: frozenset[str] = frozenset()


def write_manifest(folder: Path, end: HistoryEnd, lost: Sequence[str] = ()) -> None:
    """Write down what is in a backup; nothing may be added or changed afterwards.

    Parameters
    ----------
    lost : sequence of str
        Originals that are not in it, as the study had lost them: hash and suffix.

    Raises
    ------
    OSError
        The disk refuses.
    """
    whole = {
        "format": _FORMAT,
        "made_utc": utc_now(),
        "software_version": __version__,
        "schema_version": SCHEMA_VERSION,
        "history": {"entries": end.n_entries, "hash": end.seal},
        "lost": sorted(lost),
        "files": [
            {"name": name, "bytes": path.stat().st_size, "sha256": hash_of(path, most_bytes=None)}
            for name, path in _files(folder)
        ],
    }
    text = json.dumps(whole | {"seal": _seal(whole)}, indent=1) + "\n"
    write_text_atomically(folder / MANIFEST, text, mode=PRIVATE_FILE)


def read_manifest(folder: Path) -> Manifest | None:
    """Return the manifest of a backup; None where there is none.

    Raises
    ------
    StudyError
        It is damaged, or of a newer version.
    OSError
        It cannot be read.
    """
    path = folder / MANIFEST
    if not path.is_file():
        return None
    try:
        found = json.loads(path.read_bytes())
        if found["format"] == _FORMAT:
            _refuse_changed(found)
            return Manifest(
                str(found["made_utc"]),
                str(found["software_version"]),
                int(found["schema_version"]),
                HistoryEnd(int(found["history"]["entries"]), str(found["history"]["hash"])),
                {str(one["name"]): (int(one["bytes"]), one["sha256"]) for one in found["files"]},
                frozenset(map(str, found.get("lost", ()))),
            )
        is_newer = int(found["format"]) > _FORMAT
    except (ValueError, LookupError, TypeError, AttributeError, OverflowError, RecursionError):
        is_newer = False
    if is_newer:
        raise StudyError.of("backup_newer_version", where=path)
    raise StudyError.of("list_backup_holds_damaged", where=path)


def _refuse_changed(found: dict[str, Any]) -> None:
    """Raise where a list is not as it was written; one of an earlier version has no seal."""
    own = {key: value for key, value in found.items() if key != "seal"}
    if found.keys() - _KEYS or found.get("seal", _seal(own)) != _seal(own):
        raise ValueError("the list was changed")


def _seal(whole: Mapping[str, Any]) -> str:
    return hashlib.sha256(json.dumps(whole, sort_keys=True).encode()).hexdigest()


def manifest_faults(folder: Path, manifest: Manifest) -> list[str]:
    """Return what of a backup is not as its manifest says: missing, changed or strange files."""
    there = dict(_files(folder))
    found = [f"{name} is missing" for name in manifest.files if name not in there]
    found += [f"{name} is not of the backup" for name in there if name not in manifest.files]
    for name, (n_bytes, sha256) in manifest.files.items():
        if name in there:
            size = there[name].stat().st_size
            if size != n_bytes:
                found.append(f"{name} was changed: {size} bytes, not {n_bytes}")
            elif hash_of(there[name], most_bytes=None) != sha256:
                found.append(f"{name} was changed")
    return found


def _files(folder: Path) -> Iterator[tuple[str, Path]]:
    """Give every file of a backup but its manifest, by its path from the folder."""
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        is_idle = name == _LOG_INDEX or (name == _LOG and path.stat().st_size == 0)
        if path.is_file() and name != MANIFEST and not is_idle:
            yield name, path
