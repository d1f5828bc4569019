"""What tells recordings of a study apart, where a file holds several.

In comes a planned file, out come a planned file for each recording in it, and its keys.
"""

from __future__ import annotations

import time
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


class HashedFiles:
    """Files with the hash of their bytes, taken anew only when size or time have changed.

    Whoever reads or keeps such a file later refuses other bytes, so an old hash does no harm.
    """

    def __init__(self) -> None:
        self._known: dict[tuple[Path, int, int], tuple[str, float] | OSError] = {}

    def input_of(self, path: Path) -> InputFile:
        """Return a file that goes into a measuring; what its hash took is part of its time.

        Raises
        ------
        OSError
            It cannot be read.
        """
        place = on_disk(path)
        found = place.stat()
        key = place, found.st_size, found.st_mtime_ns
        if key not in self._known:
            started_s = time.monotonic()
            try:
                self._known[key] = hash_of(place), time.monotonic() - started_s
            except OSError as error:
                self._known[key] = error
        known = self._known[key]
        if isinstance(known, OSError):
            raise known
        return InputFile(path, sha256=known[0], spent_s=known[1])

    def hashes_of(self, file: PlannedFile) -> tuple[str, str]:
        """Return the hashes of the bytes of a file and of its events table; "" for none."""
        events = file.events
        own = self.input_of(file.path).sha256
        return own, "" if events is None else self.input_of(events).sha256


class KnownRecordings:
    """Which recording is where in a study, by its keys; see :func:`keys_as`."""

    def __init__(self) -> None:
        """Begin without any."""
        self._keys: dict[tuple[str, str], tuple[str, str]] = {}
        self._places: dict[str, list[str]] = {}

    def note(self, kind: str, place: str, key: str, events_sha256: str) -> None:
        """Note that a recording is at a place."""
        self._keys[kind, place] = key, events_sha256
        if kind == "walk":
            self._places.setdefault(key, []).append(place)

    def forget(self, kind: str, place: str) -> None:
        """Take back a note."""
        key, _ = self._keys.pop((kind, place))
        if kind == "walk":
            self._places[key].remove(place)

    def keys_at(self, kind: str, place: str) -> tuple[str, str] | None:
        """Return the keys of what is at a place; None where nothing is."""
        return self._keys.get((kind, place))

    def places_of(self, key: str) -> list[str]:
        """Return where a walk is."""
        return self._places.get(key, [])


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
