"""Measure many files, and find them in folders.

In come paths and options, out comes one result per file, in order. One bad file never stops the
others.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import chain, pairwise
from pathlib import Path
from typing import Final, cast

from gaittrack.errors import Problem
from gaittrack.lab_map import LabMap
from gaittrack.measured_walk import TABLE_COLUMNS, MeasuredWalk, Result
from gaittrack.part_names import recording_key
from gaittrack.pipeline.chain import (
    InputFile,
    Recording,
    measure_recording,
    read_recording,
    read_standing,
)
from gaittrack.plain_files import open_plain
from gaittrack.read import READABLE_SUFFIXES
from gaittrack.readable_names import readable
from gaittrack.reasons import Reason
from gaittrack.trial import Trial

_ABOUT_THE_FOLDER: Final = ("readme", "license", "licence", "attribution")


@dataclass(frozen=True, slots=True)
class MeasureOptions:
    """What holds for every file of a batch.

    Attributes
    ----------
    maps : tuple of LabMap
        The laboratory's own names: each file takes the map that fits it.
    standing : Path or None
        Quiet standing with the same markers, for the foot's neutral.
    events_csv : Path or None
        Events of one file; then only one file can be measured.
    rate_hz : float or None
        Frames per second in place of what the files say, also for the standing trial.
    """

    maps: tuple[LabMap, ...] = ()
    standing: Path | None = None
    events_csv: Path | None = None
    rate_hz: float | None = None

    def recording(self, path: Path) -> Recording:
        """Return what one of the files is measured with."""
        return Recording(
            InputFile(path),
            maps=self.maps,
            standing=None if self.standing is None else InputFile(self.standing),
            events=None if self.events_csv is None else InputFile(self.events_csv),
            rate_hz=self.rate_hz,
        )


def files_in(paths: Iterable[Path], *, leave_out: Iterable[Path | None] = ()) -> list[Path]:
    """Return the files meant by paths.

    Parameters
    ----------
    paths : iterable of Path
        A file means itself; a folder means every readable file in it and in its folders, sorted by
        path. Hidden files and folders, read-me and licence texts, tables that this program wrote,
        and files of other kinds are passed over.
    leave_out : iterable of Path or None
        Files that are not walks though they lie in a folder: a standing trial, an events table.

    Returns
    -------
    list of Path
        Each file once, where it first occurs.
    """
    unwanted = {path.resolve() for path in leave_out if path is not None}
    found: dict[Path, Path] = {}
    for path in paths:
        for file in _readable_under(path) if path.is_dir() else (path,):
            if path == file or file.resolve() not in unwanted:
                found.setdefault(file.resolve(), file)
    return list(found.values())


def passed_over_in(paths: Iterable[Path]) -> list[Path]:
    """Return the visible files in folders that :func:`files_in` does not take for recordings."""
    folders = [path for path in paths if path.is_dir()]
    taken = set(files_in(folders))
    return [file for folder in folders for file in _visible_under(folder) if file not in taken]


def _readable_under(folder: Path) -> list[Path]:
    return [
        file
        for file in _visible_under(folder)
        if file.suffix.lower() in READABLE_SUFFIXES
        and not file.stem.lower().startswith(_ABOUT_THE_FOLDER)
        and not _is_own_table(file)
    ]


def _visible_under(folder: Path) -> list[Path]:
    return sorted(
        file
        for file in folder.rglob("*")
        if file.is_file()
        and not any(part.startswith((".", "~$")) for part in file.relative_to(folder).parts)
    )


def _is_own_table(file: Path) -> bool:
    """Tell whether the file is an earlier result, not a recording."""
    if file.suffix.lower() != ".csv":
        return False
    header = ",".join(TABLE_COLUMNS).encode()
    try:
        with open_plain(file) as stream:
            return stream.read(len(header)) == header
    except OSError:
        return False


def measure_file(path: Path, options: MeasureOptions | None = None) -> Result:
    """Measure one file; see :func:`measure_files`."""
    return next(measure_files([path], options))


def measure_files(paths: Sequence[Path], options: MeasureOptions | None = None) -> Iterator[Result]:
    """Measure files one by one, as the results are asked for; the next is read meanwhile.

    Parameters
    ----------
    paths : sequence of Path
        Files; see :func:`files_in` for folders.

    Yields
    ------
    MeasuredWalk or RefusedFile
        One per path, in order. A file with the same content as an earlier one says so in its
        problems.

    Raises
    ------
    ValueError
        An events table is given for more than one file, or the rate is not above 0. Raised by
        the call itself, before any file is read.
    GaitTrackError
        The standing trial cannot be used. Raised by the call itself.
    """
    options = options or MeasureOptions()
    if options.events_csv is not None and len(paths) > 1:
        raise ValueError(f"an events table belongs to one file, got {len(paths)} files")
    if options.rate_hz is not None and not (math.isfinite(options.rate_hz) and options.rate_hz > 0):
        raise ValueError(f"rate_hz must be above 0, got {options.rate_hz}")
    recordings = list(map(options.recording, paths))
    return _measure_each(recordings, read_standing(recordings[0]) if recordings else None)


def _measure_each(recordings: Sequence[Recording], standing: Trial | None) -> Iterator[Result]:
    seen: dict[str, Path] = {}
    for recording, reading in zip(recordings, _read_ahead(recordings), strict=True):
        path = recording.file.path
        result = measure_recording(recording, trial=reading.result, standing=standing)
        if isinstance(result, MeasuredWalk):
            sha256 = result.trial.provenance.sha256
            earlier = seen.setdefault(recording_key(sha256, path.name), path)
            if earlier is not path:
                problem = _same_content(path, earlier)
                result = replace(result, problems=(*result.problems, problem))
        yield result


def _read_ahead(recordings: Iterable[Recording]) -> Iterator[Future[Trial]]:
    """Give each file's trial to come; the next file is being read while one is measured."""
    with ThreadPoolExecutor(max_workers=1) as reader:
        readings = (reader.submit(read_recording, recording) for recording in recordings)
        for reading, _ in pairwise(chain(readings, [None])):
            yield cast("Future[Trial]", reading)


def _same_content(path: Path, earlier: Path) -> Problem:
    return Problem("warning", Reason("same_content", earlier=readable(earlier)), path.name)
