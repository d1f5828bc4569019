"""The main job as one call: from files to measures.

In come paths and options, out comes one result per file, in order: a :class:`MeasuredWalk`, or a
:class:`RefusedFile` that says why. One bad file never stops the others. Commands, studies and
screens all measure through here.
"""

from __future__ import annotations

import hashlib
import math
import traceback
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from itertools import chain, pairwise
from pathlib import Path
from typing import Final, cast

from gaittrack.cycles import cut_cycles
from gaittrack.errors import GaitTrackError, Problem
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.lab_map import LabMap
from gaittrack.measured_walk import (
    TABLE_COLUMNS,
    MeasuredWalk,
    RefusedFile,
    Result,
    as_json_dict,
)
from gaittrack.measures import measure_cycles
from gaittrack.plausibility import doubts
from gaittrack.read import angle_sheet, read_trial
from gaittrack.read.given_events import given_events
from gaittrack.trial import Event, Trial

__all__ = [
    "MeasureOptions",
    "MeasuredWalk",
    "RefusedFile",
    "Result",
    "as_json_dict",
    "files_in",
    "measure_file",
    "measure_files",
    "passed_over_in",
]

READABLE_SUFFIXES: Final = angle_sheet.SUFFIXES | {".c3d"}
"""What is taken from a folder; a file that is named itself is tried whatever its suffix."""
_ABOUT_THE_FOLDER: Final = ("readme", "license", "licence", "attribution")

_UNFORESEEN = (ArithmeticError, LookupError, MemoryError, OSError, TypeError, ValueError)
"""What a fault of this program, or of the disk, looks like: it costs one file, not the batch."""


@dataclass(frozen=True, slots=True)
class MeasureOptions:
    """What holds for every file of a batch.

    Attributes
    ----------
    lab_map : LabMap
        The laboratory's own names; also used for the standing trial.
    standing : Path or None
        Quiet standing with the same markers, for the foot's neutral.
    events_csv : Path or None
        Events of one file; then only one file can be measured.
    rate_hz : float or None
        Frames per second in place of what the files say, also for the standing trial.
    """

    lab_map: LabMap = field(default_factory=LabMap)
    standing: Path | None = None
    events_csv: Path | None = None
    rate_hz: float | None = None


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
        with file.open("rb") as stream:
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
    standing = None if options.standing is None else _read(options.standing, options)
    return _measure_each(paths, options, standing)


def _measure_each(
    paths: Sequence[Path], options: MeasureOptions, standing: Trial | None
) -> Iterator[Result]:
    seen: dict[str, Path] = {}
    for path, reading in zip(paths, _read_ahead(paths, options), strict=True):
        result = _measure_or_refuse(path, reading, options, standing)
        if isinstance(result, MeasuredWalk):
            sha256 = result.trial.provenance.sha256
            earlier = seen.setdefault(sha256, path)
            if earlier is not path:
                problem = _same_content(path, earlier)
                result = replace(result, problems=(*result.problems, problem))
        yield result


def _read_ahead(paths: Sequence[Path], options: MeasureOptions) -> Iterator[Future[Trial]]:
    """Give each file's trial to come; the next file is being read while one is measured."""
    with ThreadPoolExecutor(max_workers=1) as reader:
        readings = (reader.submit(_read, path, options) for path in paths)
        for reading, _ in pairwise(chain(readings, [None])):
            yield cast("Future[Trial]", reading)


def _same_content(path: Path, earlier: Path) -> Problem:
    return Problem(
        "warning",
        f"The same bytes as {earlier.as_posix()}.",
        path.name,
        "Measured again; count it once.",
    )


def _measure_or_refuse(
    path: Path, reading: Future[Trial], options: MeasureOptions, standing: Trial | None
) -> Result:
    try:
        return _measure(path, reading.result(), options, standing)
    except GaitTrackError as error:
        return RefusedFile(path, _sha256(path), error)
    except _UNFORESEEN as error:
        return RefusedFile(path, _sha256(path), _unforeseen(error, path))


def _unforeseen(error: Exception, path: Path) -> GaitTrackError:
    """Turn a fault of the program into a refusal that names it."""
    place = traceback.extract_tb(error.__traceback__)[-1]
    line = f"{Path(place.filename).name} line {place.lineno}"
    refusal = GaitTrackError(
        f"The program failed on this file ({type(error).__name__} in {line}: {error}).",
        where=path.name,
        action="The file was not measured; please report this line.",
    )
    refusal.__cause__ = error
    return refusal


def _measure(
    path: Path, trial: Trial, options: MeasureOptions, standing: Trial | None
) -> MeasuredWalk:
    given, given_problems = _given_events(trial, options)
    motion = describe_motion(trial, lab_map=options.lab_map, standing=standing)
    events = detect_events(motion, given=given)
    cycles = cut_cycles(motion, events)
    rows = tuple(measure_cycles(motion, cycles))
    problems = (
        *trial.problems,
        *given_problems,
        *motion.problems,
        *events.problems,
        *doubts(cycles, path.name),
    )
    return MeasuredWalk(path, trial, motion, events, cycles, rows, tuple(dict.fromkeys(problems)))


def _given_events(
    trial: Trial, options: MeasureOptions
) -> tuple[tuple[Event, ...], tuple[Problem, ...]]:
    return ((), ()) if options.events_csv is None else given_events(options.events_csv, trial)


def _read(path: Path, options: MeasureOptions) -> Trial:
    return read_trial(path, lab_map=options.lab_map, rate_hz=options.rate_hz)


def _sha256(path: Path) -> str | None:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None
