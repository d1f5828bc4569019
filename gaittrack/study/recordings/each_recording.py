"""What tells recordings of a study apart, where a file holds several.

In comes a planned file, out come a planned file for each recording in it, and its keys.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from gaittrack.lab_map import LabMap
from gaittrack.part_names import on_disk, recording_key
from gaittrack.pipeline import InputFile
from gaittrack.plain_files import hash_of
from gaittrack.read.sheet_parts import recordings_in
from gaittrack.study.recordings.planning import PlannedFile


def each_recording(file: PlannedFile, maps: Sequence[LabMap]) -> list[PlannedFile]:
    """Return a planned file for each recording in a file.

    Raises
    ------
    LayoutError
        It holds walks of several people, or not the one that its name says.
    """
    return [
        replace(file, path=path, code=file.code + path.stem.removeprefix(file.path.stem))
        for path in recordings_in(file.path, maps)
    ]


def hashes_of(file: PlannedFile) -> tuple[str, str]:
    """Return the hashes of the bytes of a file and of its events table; "" for none."""
    return hash_of(on_disk(file.path)), "" if file.events is None else hash_of(file.events)


def keys_as(name: str, hashes: tuple[str, str]) -> tuple[str, str]:
    """Return what tells a recording, with its events table, from all others.

    Parameters
    ----------
    hashes : tuple of str
        Of the bytes of its file and of the table.
    """
    return recording_key(hashes[0], name), hashes[1]


def keys_of(file: PlannedFile, hashes: tuple[str, str]) -> tuple[str, str]:
    """Return the keys of a planned file, as :func:`keys_as` those of a name."""
    return keys_as(file.path.name, hashes)


def hashed(path: Path, known: dict[tuple[Path, int, int], str]) -> InputFile:
    """Return a file that goes with a walk; the hash of what has not changed is known."""
    found = path.stat()
    key = path, found.st_size, found.st_mtime_ns
    known[key] = known.get(key) or hash_of(on_disk(path))
    return InputFile(path, sha256=known[key])
