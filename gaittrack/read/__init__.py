"""From a file to a trial.

In comes a path; out goes a :class:`~gaittrack.trial.Trial` in SI units with its problems, or an
error that says what, where and what to do. ``FORMATS`` is the list of what is read: a format is
two functions in one file, ``looks_like`` and ``read``. No personal name leaves this room.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

from gaittrack.errors import BadFileError, EmptyFileError, UnknownFormatError
from gaittrack.lab_map import GivenMaps, LabMap, lab_maps_of
from gaittrack.map_fit import TakenMap
from gaittrack.part_names import on_disk
from gaittrack.plain_files import bytes_of
from gaittrack.read.c3d_files import c3d
from gaittrack.read.in_child import WORKER
from gaittrack.read.marker_texts import marker_text
from gaittrack.read.sheets import angle_sheet
from gaittrack.read.sheets.which_map import map_for_table
from gaittrack.trial import Trial

__all__ = ["FORMATS", "READABLE_SUFFIXES", "Format", "read_trial"]


class Format(NamedTuple):
    """One kind of file: its name, how its files end, whether bytes are of it, and its reader."""

    name: str
    suffixes: frozenset[str]
    looks_like: Callable[[bytes, str], bool]
    read: Callable[..., Trial]


FORMATS: tuple[Format, ...] = (
    Format("C3D", c3d.SUFFIXES, c3d.looks_like, c3d.read),
    Format(marker_text.FORMAT, marker_text.SUFFIXES, marker_text.looks_like, marker_text.read),
    Format(angle_sheet.FORMAT, angle_sheet.SUFFIXES, angle_sheet.looks_like, angle_sheet.read),
)
"""Every format, asked in this order."""
READABLE_SUFFIXES: Final = frozenset().union(*(kind.suffixes for kind in FORMATS))
"""How files end that folders, imports and screens take; a file that is named is tried anyway."""


_NO_MAP: Final = TakenMap()


def read_trial(
    path: os.PathLike[str] | str,
    *,
    lab_map: GivenMaps = None,
    rate_hz: float | None = None,
    in_child: bool = True,
    spent_s: float = 0.0,
) -> Trial:
    """Read one recording.

    Parameters
    ----------
    path : path
        A file of one of ``FORMATS``; recognised by its content, then by its ending.
    lab_map : LabMap or path, or several, optional
        The laboratory's own maps of columns and labels; of several the one that fits is used.
    rate_hz : float, optional
        Frames per second, in place of a rate in the file that is missing or plainly wrong.
    in_child : bool
        Read in the worker process, with limits of time and memory.
    spent_s : float
        Seconds of that time that were spent on the file before, as on its hash.

    Returns
    -------
    Trial
        In SI units and the axes of the file; what to know of it stands in ``problems``.

    Raises
    ------
    BadFileError
        One of its subclasses: the file is missing, empty, of no known format, cut short,
        contradicts itself, or killed its reader.
    LayoutError
        The map cannot be read.
    ValueError
        ``rate_hz`` is not a positive number.

    Examples
    --------
    >>> import gaittrack
    >>> trial = gaittrack.read_trial("sample_trials/P01/visit-1/with-brace/walk-1.c3d")
    >>> trial.rate_hz
    100.0
    """
    if rate_hz is not None and not 0.0 < rate_hz < float("inf"):
        raise ValueError(f"rate_hz must be a positive number, got {rate_hz}")
    place = Path(path)
    arguments = (str(place.absolute()), lab_maps_of(lab_map), rate_hz)
    _refuse_missing(place)
    if in_child:
        trial: Trial = WORKER.call(read_here, *arguments, where=place.name, spent_s=spent_s)
        return trial
    return read_here(*arguments)


def read_here(path: str, maps: Sequence[LabMap], rate_hz: float | None) -> Trial:
    """Read one recording in this process.

    Raises
    ------
    BadFileError
        As in :func:`read_trial`.
    """
    place = Path(path)
    try:
        content = bytes_of(on_disk(place))
    except OSError as error:
        raise BadFileError.of("file_cannot_opened", where=place.name, why=error.strerror) from error
    sha256 = hashlib.sha256(content).hexdigest()
    try:
        return _read_content(place, content, sha256, maps, rate_hz)
    except BadFileError as error:
        error.sha256 = sha256
        raise


def _read_content(
    place: Path, content: bytes, sha256: str, maps: Sequence[LabMap], rate_hz: float | None
) -> Trial:
    if not content.strip(b"\0 \t\r\n"):
        raise EmptyFileError.of("file_empty", where=place.name)
    for kind in FORMATS:
        if kind.looks_like(content, place.suffix.lower()):
            found = _NO_MAP if kind.name == "C3D" else map_for_table(place, content, maps)
            if kind.name == marker_text.FORMAT and found.lab_map.sheet.columns:
                continue  # somebody said that what looks like places of markers are angles
            given = {"lab_map": found.lab_map, "rate_hz": rate_hz}
            trial = kind.read(place, content, sha256, **given)
            return replace(trial, problems=(*trial.problems, *found.problems))
    raise UnknownFormatError.of(
        "none_kinds_file_read", where=place.name, formats=", ".join(kind.name for kind in FORMATS)
    )


def _refuse_missing(place: Path) -> None:
    if place.is_dir():
        raise BadFileError.of("is_a_folder", where=place.name)
    if not on_disk(place).exists():
        raise BadFileError.of("no_such_file", where=place)
