"""Which recordings a sheet holds, so that each comes in as a walk of its own.

In come the path of a file and the laboratory's maps, out come paths, one per recording: what they
are called stands in ``part_names``. People are never taken apart unasked: whose walks are meant is
for a person to say.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from gaittrack.errors import GaitTrackError, LayoutError
from gaittrack.lab_map import LabMap
from gaittrack.part_names import on_disk, part_of, with_part
from gaittrack.read.in_child import WORKER
from gaittrack.read.marker_texts import marker_text
from gaittrack.read.sheets.angle_sheet import SUFFIXES, open_file
from gaittrack.read.sheets.curves_in_rows import is_in_rows
from gaittrack.read.sheets.several_recordings import MOST_LISTED, one_person, one_trial
from gaittrack.read.sheets.sheet_asking import KIND_OF
from gaittrack.read.sheets.sheet_columns import Sheet
from gaittrack.read.sheets.which_map import map_for_table


def recordings_in(path: Path, maps: Sequence[LabMap]) -> tuple[Path, ...]:
    """Return the path of each recording in a file.

    Returns
    -------
    tuple of Path
        The path itself where there is one, a map says which, or nothing tells them apart; what
        cannot be read is refused when it is read.

    Raises
    ------
    LayoutError
        It holds walks of several people, or not the one that its name says.
    """
    if path.suffix.lower() not in SUFFIXES or not on_disk(path).is_file():
        return (path,)
    told = {} if path.exists() else part_of(path.name)
    given = str(on_disk(path).absolute()), tuple(maps), told
    try:
        parts, n_people = WORKER.call(parts_here, *given, where=path.name)
    except GaitTrackError:
        return (path,)
    if n_people:
        raise _several_people(path, parts, n_people)
    if not all(told.items() <= part.items() for part in parts) or not parts:
        raise LayoutError.of("no_part_of_sheet", where=path.name, plain=on_disk(path).name)
    if path.exists() and part_of(path.name) and len(parts) > 1:
        raise LayoutError.of("name_means_a_part", where=path.name)
    return tuple(with_part(path, part) if part else path for part in parts)


def people_in(path: Path) -> tuple[Path, ...]:
    """Return the path of each person's share of a sheet; the path itself where it is of one."""
    if path.suffix.lower() not in SUFFIXES:
        return (path,)
    try:
        parts, n_people = WORKER.call(parts_here, str(path.absolute()), (), {}, where=path.name)
    except GaitTrackError:
        return (path,)
    return tuple(with_part(path, part) for part in parts) if n_people else (path,)


def _several_people(path: Path, parts: Sequence[Mapping[str, int]], n: int) -> LayoutError:
    shown = ", ".join(with_part(path, part).name for part in parts[:MOST_LISTED])
    names = f"{shown} …" if len(parts) > MOST_LISTED else shown
    return LayoutError.of("walks_of_several_people", where=path.name, n=n, names=names)


def parts_here(
    path: str, maps: Sequence[LabMap], told: Mapping[str, int]
) -> tuple[list[dict[str, int]], int]:
    """Return which recordings a file holds, in this process.

    Parameters
    ----------
    told : mapping of kind to int
        Only of these.

    Returns
    -------
    parts : list of mapping
        By kind, as their names say it; one empty for a file that is one recording.
    n_people : int
        How many people a person must choose from; 0 for one, or one that is told.
    """
    place = Path(path)
    content = place.read_bytes()
    if marker_text.looks_like(content, place.suffix.lower()):
        return [{}], 0
    lab_map = map_for_table(place, content, maps).lab_map

    def opened(part: Mapping[str, int]) -> Sheet:
        return open_file(with_part(Path(f"sheet{place.suffix}"), part), content, lab_map, None)

    found: list[dict[str, int]] = []
    waiting: list[dict[str, int]] = [{}]
    while waiting:
        part = waiting.pop(0)
        kind, n = _choice(opened(part))
        each = [{**part, kind: number} for number in range(1, n + 1)]
        if kind in ("sheet", "table") and len({opened(one).labels for one in each}) > 1:
            each = []  # different tables, not the same of several walks
        is_told = bool(each) and kind in told
        each = [one for one in each if not is_told or one[kind] == told[kind]]
        if kind == "person" and not is_told:
            return each, n
        if kind == "trial" or not (each or is_told):
            found += each or [part]
        else:
            waiting = [*each, *waiting]
    return found, 0


def _choice(sheet: Sheet) -> tuple[str, int]:
    """Return of what a person would have to choose one, and how many there are."""
    if not sheet.pending:
        one_person(sheet)
    if not sheet.pending and not is_in_rows(sheet):
        one_trial(sheet)
    key = next((key for key in sheet.pending if key in KIND_OF), None)
    return ("", 0) if key is None else (KIND_OF[key], len(sheet.words[key]))
