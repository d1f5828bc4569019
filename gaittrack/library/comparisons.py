"""From the paths of walks in several conditions to a comparison.

In come paths and what else is known, out comes a :class:`FileComparison` whose settings name every
file that was read. What lies beside the walks is used as if it had been given.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.judged.family import Affected
from gaittrack.compare.measurement_error.repeat_visits import own_errors, read_errors
from gaittrack.compare.typical_values.typical import POPULATIONS, Population
from gaittrack.compare.typical_values.typical_curves import (
    OwnTypical,
    TypicalCurve,
    read_own_typical,
)
from gaittrack.compare.walked.questions import QuestionCode
from gaittrack.compare_files import compare_files
from gaittrack.errors import ComparisonError
from gaittrack.file_comparison import FileComparison
from gaittrack.lab_map import GivenMaps, LabMap, lab_maps_of
from gaittrack.part_names import on_disk
from gaittrack.pipeline import MeasureOptions
from gaittrack.plain_files import bytes_of, hash_of
from gaittrack.readable_names import readable
from gaittrack.walk_folders import (
    BesideWalks,
    Place,
    Places,
    affected_beside,
    age_bands_beside,
    aims_beside,
    conditions_in,
    path_of_file,
    paths_of,
    population_beside,
    read_beside,
    walks_in,
)
from gaittrack.walk_records import match_name

WITHOUT: Final = "without brace"
WITH: Final = "with brace"
"""Names of the two conditions where nobody gives others."""
_POPULATIONS: Final[dict[str, Population]] = {each: each for each in POPULATIONS}


def compare(
    conditions: Mapping[str, Places] | Place,
    *,
    reference: str | None = None,
    standing: Mapping[str, Place] | None = None,
    events: Mapping[Place, Place] | None = None,
    lab_map: GivenMaps = None,
    conditions_file: Place | None = None,
    affected: Affected | None = None,
    aims: Sequence[QuestionCode] = (),
    errors: Place | None = None,
    typical: Place | None = None,
    rate_hz: float | None = None,
) -> FileComparison:
    """Compare walks of several conditions, as ``gaittrack compare`` does.

    Parameters
    ----------
    conditions : mapping of name to path, or path of a visit
        Files, folders or patterns of each condition. Of a visit's folder, the folders in it that
        its ``conditions.toml`` describes.
    reference : str, optional
        Name of the condition the others are compared with. By default ``without brace``, else the
        only one that is described as worn without an orthosis.
    standing : mapping of name to path, optional
        Quiet standing of a condition. By default the one named in ``conditions.toml``, else the
        only file of the condition whose name begins with ``standing``.
    events : mapping of path to path, optional
        Events tables, by the walk they belong to.
    lab_map : LabMap or path, or several, optional
        The laboratory's own names; of several each file takes the map that fits it.
    conditions_file : path, optional
        What was worn. By default ``conditions.toml`` in or beside the folders.
    affected : {"left", "right", "both"}, optional
        By default as ``conditions.toml`` says.
    aims : sequence of str, optional
        Questions that were recorded as aims before the first comparison, by the codes of
        ``gaittrack.compare.walked.questions``: they share most of the error of the family; by
        default those of the conditions file.
    errors : path, optional
        The laboratory's own measurement errors, from ``gaittrack errors``.
    typical : population of ``compare.typical`` or path, optional
        Typical ranges, of a file typical curves too. By default by the age band in
        ``conditions.toml``, else of adults.
    rate_hz : float, optional
        Frames per second, where what the files say is wrong.

    Returns
    -------
    FileComparison
        With its tables ``changes()``, ``values()``, ``strides()`` and ``files()``. A refused file
        costs itself only and stands in ``files()``.

    Raises
    ------
    ComparisonError
        A condition has no walk left, a walk is given twice, names do not fit, or nothing says which
        condition is the reference.
    GaitTrackError
        A file that goes with the walks cannot be used.

    Examples
    --------
    >>> import gaittrack
    >>> result = gaittrack.compare("sample_trials/P04/visit-1")
    >>> changes = result.changes().set_index(["measure", "side"])
    >>> row = changes.loc[("peak_swing_dorsiflexion_deg", "right")]
    >>> [round(float(row[name]), 1) for name in ("difference", "low", "high")]
    [1.9, -1.3, 5.1]

    The same walks, named by hand:

    >>> visit = "sample_trials/P04/visit-1"
    >>> result = gaittrack.compare(
    ...     {"without brace": f"{visit}/without-brace", "with brace": f"{visit}/with-brace"}
    ... )
    >>> len(result.records)
    8
    """
    paths = _paths(conditions)
    beside = read_beside(paths, conditions_file=_file(conditions_file, "conditions"))
    chosen = _reference(reference, paths, beside.worn)
    trials = {**beside.standing, **_by_condition(standing or {}, paths)}
    tables = _tables(events or {})
    unwanted = [*trials.values(), *tables.values()]
    maps = _maps(lab_map)
    files = {name: walks_in(own, leave_out=unwanted, maps=maps) for name, own in paths.items()}
    _refuse_strange_walks(tables, files)
    read = _files_read(errors, typical)
    own = OwnTypical({}, ()) if read.typical_file is None else read_own_typical(read.typical_file)
    found = compare_files(
        files,
        reference=chosen,
        options=MeasureOptions(maps, rate_hz=rate_hz),
        standing=trials,
        events=tables,
        worn=beside.worn,
        affected=affected or affected_beside(beside),
        aims=aims or aims_beside(beside),
        own_errors=own_errors(read_errors(read.errors_file)) if read.errors_file else None,
        typical=own.ranges or _population(typical, beside),
        typical_curves=_of_age(own.curves, beside),
    )
    return _with_what_was_read(found, read, beside, maps=_maps_named(maps), given_rate_hz=rate_hz)


class _FilesRead(NamedTuple):
    errors_file: Path | None
    typical_file: Path | None


def _files_read(errors: Place | None, typical: Place | None) -> _FilesRead:
    return _FilesRead(
        _file(errors, "measurement errors"),
        None if typical in _POPULATIONS else _file(typical, "typical ranges"),
    )


def _paths(conditions: Mapping[str, Places] | Place) -> dict[str, list[Path]]:
    if isinstance(conditions, Mapping):
        found = {name: paths_of(places) for name, places in conditions.items()}
    else:
        found = conditions_in(Path(conditions))
    if len(found) < 2:
        raise ComparisonError.of(
            "conditions_too_few", where=", ".join(found) or "conditions", n=len(found)
        )
    return found


def _file(place: Place | None, what: str) -> Path | None:
    return None if place is None else path_of_file(place, what=what)


def _reference(
    reference: str | None, paths: Mapping[str, object], worn: Mapping[str, Condition]
) -> str:
    if reference is not None:
        return _known(reference, paths, "reference")
    unbraced = [name for name, one in worn.items() if one.is_braced is False]
    if WITHOUT in paths or len(unbraced) == 1:
        return WITHOUT if WITHOUT in paths else unbraced[0]
    raise ComparisonError.of("no_reference_named", where="reference", paths=", ".join(paths))


def _known(name: str, paths: Mapping[str, object], where: str) -> str:
    found = match_name(name, paths)
    if found is None:
        raise ComparisonError.of("no_condition", where=where, name=name, paths=", ".join(paths))
    return found


def _by_condition(places: Mapping[str, Place], paths: Mapping[str, object]) -> dict[str, Path]:
    return {
        _known(name, paths, "standing"): path_of_file(place, what="standing trial")
        for name, place in places.items()
    }


def _tables(events: Mapping[Place, Place]) -> dict[Path, Path]:
    return {Path(walk): path_of_file(table, what="events table") for walk, table in events.items()}


def _refuse_strange_walks(tables: Mapping[Path, Path], files: Mapping[str, Sequence[Path]]) -> None:
    walks = {file.resolve() for each in files.values() for file in each}
    for walk in tables:
        if walk.resolve() not in walks:
            raise ComparisonError.of("no_walk_of_events", where="events", walk=walk)


def _population(typical: Place | None, beside: BesideWalks) -> Population:
    return _POPULATIONS.get(str(typical)) or population_beside(beside)


def _of_age(curves: Sequence[TypicalCurve], beside: BesideWalks) -> tuple[TypicalCurve, ...]:
    bands = age_bands_beside(beside)
    return tuple(each for each in curves if all(map(each.holds_for, bands)))


def _with_what_was_read(
    found: FileComparison,
    read: _FilesRead,
    beside: BesideWalks,
    *,
    maps: Mapping[str, str] | None,
    given_rate_hz: float | None,
) -> FileComparison:
    """Return the comparison with the files beside the walks in its settings and problems."""
    paths = {key: [path] if path is not None else [] for key, path in read._asdict().items()}
    paths["conditions_file"] = list(beside.files)
    named = {key: _named(files) for key, files in paths.items()}
    told = {"map": maps, **named, "given_rate_hz": given_rate_hz}
    settings = {**found.comparison.settings, **told}
    return replace(
        found,
        comparison=replace(found.comparison, settings=settings),
        problems=(*beside.problems, *found.problems),
        conditions_files=beside.files,
    )


def _maps(lab_map: GivenMaps) -> tuple[LabMap, ...]:
    given = [lab_map] if isinstance(lab_map, LabMap | os.PathLike | str) else list(lab_map or ())
    return lab_maps_of(
        each if isinstance(each, LabMap) else path_of_file(each, what="map") for each in given
    )


def _maps_named(maps: Sequence[LabMap]) -> dict[str, str] | None:
    """Return how settings name maps; one that was made in Python lies in no file."""
    given = [each for each in maps if each.path or each != LabMap()]
    if not given:
        return None
    content = (bytes_of(Path(each.path)) if each.path else repr(each).encode() for each in given)
    return {
        "file": ", ".join(readable(Path(each.path).name) for each in given),
        "sha256": ", ".join(hashlib.sha256(each).hexdigest() for each in content),
    }


def _named(paths: Sequence[Path]) -> dict[str, str] | None:
    if not paths:
        return None
    return {
        "file": ", ".join(readable(path.name) for path in paths),
        "sha256": ", ".join(hash_of(on_disk(path)) for path in paths),
    }
