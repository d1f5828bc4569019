"""The laboratory's maps by their names: kept, renamed, removed, and how many walks take each.

In come names and maps as TOML text, out come settings of the study with their history. Which map a
walk takes is told from the names that its result keeps.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any, Final

from sqlalchemy import Connection, func, select

from gaittrack.compare.row_words import count_words
from gaittrack.errors import LayoutError, StudyError
from gaittrack.lab_map import LabMap
from gaittrack.map_fit import map_for_landmarks, map_for_sheet, sheet_fit
from gaittrack.study.laboratory import (
    MAP,
    is_map,
    kind_of,
    laboratory_maps,
    map_name,
    map_setting,
    put_setting,
    said_by,
)
from gaittrack.study.laboratory_history import LaboratoryChange, put_back, setting_changes
from gaittrack.study.map_stamps import N_OF_KEY, stored_names
from gaittrack.study.store import Study
from gaittrack.study.tables import RESULT, SETTING

_NO_ROW: Final[Mapping[str, str]] = {}


def map_texts(connection: Connection) -> dict[str, str]:
    """Return the maps of the laboratory as TOML text, by name."""
    query = select(SETTING.c.name, SETTING.c.content).where(is_map()).order_by(SETTING.c.name)
    return {map_name(row.name): row.content for row in connection.execute(query)}


def keep_map(study: Study, name: str, text: str, *, who: str, why: str) -> None:
    """Keep a map under a name, in the place of the one that had it.

    Raises
    ------
    StudyError
        Nothing can be called so.
    LayoutError
        The text is no map.
    """
    setting = map_setting(name)
    said_by(setting, text, "map.toml")
    row = {"file_name": f"{map_name(setting)}.toml", "content": text}
    with study.write() as connection:
        put_setting(connection, setting, row, who=who, why=why)


def rename_map(study: Study, old: str, new: str, *, who: str, why: str) -> None:
    """Call a map otherwise; no result changes by it.

    Raises
    ------
    StudyError
        There is no such map, another has the new name, or nothing can be called so.
    """
    setting = map_setting(new)
    with study.write() as connection:
        if map_name(setting) in map_texts(connection):
            raise StudyError.of("map_name_taken", where="map", name=map_name(setting))
        row = _row_of(connection, old)
        put_setting(connection, map_setting(old), _NO_ROW, who=who, why=why)
        put_setting(connection, setting, row, who=who, why=why)


def remove_map(study: Study, name: str, *, who: str, why: str) -> None:
    """Remove a map; what it was stays in the history.

    Raises
    ------
    StudyError
        There is no such map.
    """
    with study.write() as connection:
        _row_of(connection, name)
        put_setting(connection, map_setting(name), _NO_ROW, who=who, why=why)


def _row_of(connection: Connection, name: str) -> dict[str, str]:
    query = select(SETTING.c.file_name, SETTING.c.content)
    row = connection.execute(query.where(SETTING.c.name == map_setting(name))).mappings().first()
    if row is None:
        known = ", ".join(map_texts(connection)) or "none"
        raise StudyError.of("no_such_map", where="map", name=name, known=known)
    return dict(row)


def walks_by_map(connection: Connection) -> Counter[str]:
    """Return how many measured walks take each map, by name.

    A walk may take two: one for its markers, one for how its table is read.
    """
    maps = laboratory_maps(connection)
    key: Any = func.substr(RESULT.c.settings_hash, 65 - N_OF_KEY)
    rows = connection.execute(select(key, func.count()).group_by(key)).all() if maps else ()
    names = stored_names(connection, [row[0] for row in rows])
    found: Counter[str] = Counter()
    for one, n in rows:
        for name in _names_taken(maps, names[one][0] if one in names else ()):
            found[name] += n
    return found


def _names_taken(maps: tuple[LabMap, ...], names: tuple[str, ...]) -> set[str]:
    try:
        one = map_for_landmarks(names, maps, file_name="").lab_map
        other = map_for_sheet((sheet_fit(each, names, "") for each in maps), file_name="").lab_map
    except LayoutError:
        return set()
    return {one.name, other.name} - {""}


def what_it_names(lab_map: LabMap) -> str:
    """Return in words what a map names and which files it says it is for."""
    sheet = lab_map.sheet
    said = [
        (len(lab_map.landmarks), "label"),
        (len(sheet.columns) + len(sheet.event_columns), "column"),
    ]
    parts = [count_words(n, word) for n, word in said if n] or ["no label or column"]
    if lab_map.standing_only:
        parts.append(f"{len(lab_map.standing_only)} worn only standing")
    if lab_map.fits.labels:
        parts.append(f"only for files with {', '.join(lab_map.fits.labels)}")
    if lab_map.fits.files:
        parts.append(f"only for files called {', '.join(lab_map.fits.files)}")
    return ", ".join(parts)


def undo_map(study: Study, name: str, *, who: str, why: str) -> str:
    """Take the last change of a map back: a text, a removal, a new name, or that it was added.

    Returns
    -------
    str
        The name it had before; "" where there was no such map before.

    Raises
    ------
    StudyError
        No map had that name.
    """
    setting = map_setting(name)
    with study.read() as connection:
        changes = setting_changes(connection)
        known = ", ".join(map_texts(connection)) or "none"
    last = next((each for each in changes if each.name == setting), None)
    if last is None:
        raise StudyError.of("no_such_map", where="map", name=name, known=known)
    moved = [each for each in changes if _is_the_other_half(each, last)]
    for each in (last, *moved):
        put_back(study, each.number, who=who, why=why)
    return next((map_name(each.name) for each in (*moved, last) if each.before), "")


def gone_maps(connection: Connection) -> list[str]:
    """Return the names that maps had and none has now, the newest first."""
    known = map_texts(connection)
    names = (each.name for each in setting_changes(connection) if kind_of(each.name) == MAP)
    return [name for name in dict.fromkeys(map(map_name, names)) if name not in known]


def _is_the_other_half(each: LaboratoryChange, last: LaboratoryChange) -> bool:
    """Tell whether a change took a map away as the other gave it a new name."""
    is_beside = each.number in (last.number - 1, last.number + 1) and each.name != last.name
    return (
        is_beside
        and each.why == last.why
        and (each.before, each.after) == (last.after, last.before)
    )
