"""Which maps a stored result depends on, told without looking at its file.

In come the names that were in the files of a result, and the laboratory's maps; out come the words
of those maps that these files take now. A result keeps the names, and its hash ends in their key,
so that of thousands of results the names are read once per set of labels.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import asdict
from typing import Any, Final

from sqlalchemy import Connection, func, select

from gaittrack.errors import LayoutError
from gaittrack.lab_map import Fits, LabMap
from gaittrack.map_fit import TakenMap, map_for_landmarks, map_for_sheet, sheet_fit
from gaittrack.pipeline import Recording
from gaittrack.reasons import as_plain
from gaittrack.study.tables import RESULT

N_OF_KEY: Final = 16
"""Letters of the key at the end of a hash."""
_MARK: Final = "n"
"""Begins the key of names, as no number does: results of earlier versions kept none."""
Names = tuple[tuple[str, ...], tuple[str, ...]]
"""Labels or columns of a walk, and of its standing trial."""
_READ: Final[dict[str, Names]] = {}
"""Names by their key, which is made of them: the same in every study."""


def key_of(names: Names | None) -> str:
    """Return the key of names; zeros where nobody knows them, as of a file that was refused."""
    if names is None:
        return "0" * N_OF_KEY
    return _MARK + hashlib.sha256(json.dumps(names).encode()).hexdigest()[: N_OF_KEY - 1]


def stored_names(connection: Connection, keys: Iterable[str]) -> dict[str, Names]:
    """Return the names that results keep, by their key; keys that tell none are left out."""
    wanted = {key for key in keys if key.startswith(_MARK)}
    if unread := wanted - _READ.keys():
        key = func.substr(RESULT.c.settings_hash, 65 - N_OF_KEY)
        one_each = select(func.min(RESULT.c.trial_id)).where(key.in_(unread)).group_by(key)
        query = select(RESULT.c.facts).where(RESULT.c.trial_id.in_(one_each))
        for (facts,) in connection.execute(query):
            walk, standing = json.loads(facts).get("names", ((), ()))
            _READ[key_of((tuple(walk), tuple(standing)))] = tuple(walk), tuple(standing)
    return {key: _READ[key] for key in wanted & _READ.keys()}


def map_words(recording: Recording, names: Names | None) -> str:
    """Return all that the maps say for the files of a recording, as JSON.

    Parameters
    ----------
    names : Names or None
        What the files hold; None: every map counts.
    """
    if names is None:
        several = [_words_of(each) for each in recording.maps]
        return several[0] if len(several) == 1 else f"[{', '.join(several)}]" if several else _NONE
    files = [(recording.file.name, names[0])]
    if recording.standing is not None:
        files.append((recording.standing.name, names[1]))
    said = [_taken(recording.maps, *each) for each in files]
    return json.dumps(said, sort_keys=True) if any(map(any, said)) else _NONE


def _taken(maps: tuple[LabMap, ...], file_name: str, names: tuple[str, ...]) -> list[Any]:
    """Return what is said of landmarks and of the sheet by the maps that a file takes."""

    def of_landmarks() -> Any:
        found = map_for_landmarks(names, maps, file_name=file_name)
        one = found.lab_map
        return _warnings(found) if one == LabMap() else [one.landmarks, sorted(one.standing_only)]

    def of_sheet() -> Any:
        fits = (sheet_fit(each, names, file_name) for each in maps)
        found = map_for_sheet(fits, file_name=file_name)
        return _warnings(found) if found.lab_map == LabMap() else asdict(found.lab_map.sheet)

    return [_or_tie(of_landmarks), _or_tie(of_sheet)]


def _warnings(found: TakenMap) -> list[Any]:
    return [as_plain(each.reason) for each in found.problems if each.level != "info"]


def _or_tie(find: Callable[[], Any]) -> Any:
    try:
        return find() or None
    except LayoutError as error:
        return str(error)


def _words_of(lab_map: LabMap) -> str:
    """Return a map in words: its name and place do not count, what it does not say is left out."""
    said: dict[str, Any] = {
        "landmarks": dict(lab_map.landmarks),
        "path": "",
        "sheet": asdict(lab_map.sheet),
    }
    if lab_map.fits != Fits():
        said["fits"] = asdict(lab_map.fits)
    if lab_map.standing_only:
        said["standing_only"] = sorted(lab_map.standing_only)
    return json.dumps(said, sort_keys=True)


_NONE: Final = _words_of(LabMap())
