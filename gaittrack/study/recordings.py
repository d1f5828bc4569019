"""What a trial of a study is measured from, and the hash that is kept with its result.

In comes a trial, out comes its :class:`Recording`; or, for many trials at once, the hash that each
result would be stamped with if it were measured now, without looking at any file.
"""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Final, NamedTuple

from sqlalchemy import ColumnElement, Connection, Select, select, true

from gaittrack.lab_map import LabMap, read_lab_map
from gaittrack.measures import MEASURES
from gaittrack.study.measuring import Correction, Recording, is_swapped
from gaittrack.study.originals import original_path
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, CORRECTION, PERSON, RESULT, SETTING, TRIAL, VISIT

MAP: Final = "map"
FLOORS: Final = "floors"
_CORRECTION_FIELDS: Final = (
    *("kind", "side", "event_kind", "time_s", "new_time_s", "cycle", "reason"),
)


def laboratory_map(connection: Connection) -> LabMap:
    """Return the laboratory's map; an empty one when none is set."""
    row = connection.execute(select(SETTING).where(SETTING.c.name == MAP)).mappings().first()
    if row is None:
        return LabMap()
    with tempfile.TemporaryDirectory(prefix="gaittrack-") as folder:
        path = Path(folder) / "map.toml"
        path.write_text(row["content"], encoding="utf-8")
        return replace(read_lab_map(path), path=row["file_name"])


def active_corrections(connection: Connection, trial_id: int) -> tuple[Correction, ...]:
    """Return the corrections of a trial that count, in the order they were made."""
    return _corrections(connection, TRIAL.c.id == trial_id).get(trial_id, ())


def _corrections(
    connection: Connection, wanted: ColumnElement[bool]
) -> dict[int, tuple[Correction, ...]]:
    """Return the corrections that count, in order, of the trials that are wanted."""
    query = (
        select(CORRECTION.c.trial_id, *(CORRECTION.c[name] for name in _CORRECTION_FIELDS))
        .select_from(PERSON.join(VISIT).join(CONDITION).join(TRIAL).join(CORRECTION))
        .where(CORRECTION.c.is_undone.is_(False), wanted)
        .order_by(CORRECTION.c.id)
    )
    found: dict[int, tuple[Correction, ...]] = {}
    for trial_id, *values in connection.execute(query):
        correction = Correction(**dict(zip(_CORRECTION_FIELDS, values, strict=True)))
        found[trial_id] = (*found.get(trial_id, ()), correction)
    return found


def recording_of(
    connection: Connection, study: Study, trial_id: int, *, lab_map: LabMap | None = None
) -> Recording:
    """Return what a trial is measured from.

    Parameters
    ----------
    connection : Connection
    study : Study
    trial_id : int
    lab_map : LabMap, optional
        The laboratory's, when it is at hand.

    Returns
    -------
    Recording
    """
    query = (
        select(TRIAL, CONDITION.c.code.label("condition"))
        .select_from(CONDITION.join(TRIAL))
        .where(TRIAL.c.id == trial_id)
    )
    row = connection.execute(query).mappings().one()
    recording = Recording(
        path=original_path(study.folder, row["sha256"], row["suffix"]),
        file_name=row["file_name"],
        condition=row["condition"],
        lab_map=lab_map or laboratory_map(connection),
        corrections=active_corrections(connection, trial_id),
    )
    if row["standing_id"] is None:
        return recording
    other = recording_of(connection, study, row["standing_id"], lab_map=recording.lab_map)
    return replace(
        recording,
        standing=other.path,
        standing_sha256=other.path.stem,
        is_standing_swapped=other.is_swapped,
    )


def settings_hash(recording: Recording, *, map_words: str | None = None) -> str:
    """Return the hash of everything but the file and the software that shapes the result.

    Parameters
    ----------
    recording : Recording
        Of the two files only the standing trial's hash counts; the paths do not.
    map_words : str, optional
        The map in words, where it is the same for many recordings; see :func:`stamps`.

    Returns
    -------
    str
        SHA-256, hexadecimal.
    """
    parts = {
        "condition": json.dumps(recording.condition),
        "corrections": json.dumps([asdict(each) for each in recording.corrections], sort_keys=True),
        "map": map_words or _words_of(recording.lab_map),
        "measures": json.dumps([measure.name for measure in MEASURES]),
        "standing": json.dumps([recording.standing_sha256, recording.is_standing_swapped]),
    }
    words = ", ".join(f'"{name}": {part}' for name, part in parts.items())
    return hashlib.sha256(f"{{{words}}}".encode()).hexdigest()


def _words_of(lab_map: LabMap) -> str:
    return json.dumps({**asdict(lab_map), "path": ""}, sort_keys=True)


class Stamp(NamedTuple):
    """What a walk was last measured with, and what it would be measured with now.

    Attributes
    ----------
    trial_id : int
    software_version, settings_hash : str or None
        Of the stored result; None without one.
    settings_now : str
    """

    trial_id: int
    software_version: str | None
    settings_hash: str | None
    settings_now: str


def stamps(connection: Connection, *, person: str | None = None) -> Iterator[Stamp]:
    """Return the stamp of every walk.

    Parameters
    ----------
    connection : Connection
    person : str, optional
        Only the walks of this person.

    Yields
    ------
    Stamp
    """
    wanted = true() if person is None else PERSON.c.code == person
    corrections = _corrections(connection, wanted)
    map_words = _words_of(laboratory_map(connection))
    hashes: dict[tuple[Any, ...], str] = {}
    for trial_id, version, found, *given in connection.execute(_stamps_query(wanted)):
        standing_id = given[1]
        key = (*given, corrections.get(trial_id), corrections.get(standing_id))
        if key not in hashes:
            hashes[key] = _settings_now(*key, map_words)
        yield Stamp(trial_id, version, found, hashes[key])


def _stamps_query(wanted: ColumnElement[bool]) -> Select[Any]:
    standing = TRIAL.alias("standing")
    columns = (
        *(TRIAL.c.id, RESULT.c.software_version, RESULT.c.settings_hash),
        *(CONDITION.c.code, TRIAL.c.standing_id, standing.c.sha256),
    )
    tables = PERSON.join(VISIT).join(CONDITION).join(TRIAL).outerjoin(RESULT)
    return (
        select(*columns)
        .select_from(tables.outerjoin(standing, TRIAL.c.standing_id == standing.c.id))
        .where(TRIAL.c.kind == "walk", wanted)
    )


def _settings_now(
    condition: str,
    _standing_id: int | None,
    standing_sha256: str | None,
    corrections: tuple[Correction, ...] | None,
    of_standing: tuple[Correction, ...] | None,
    map_words: str,
) -> str:
    recording = Recording(
        Path(),
        "",
        condition,
        standing_sha256=standing_sha256 or "",
        corrections=corrections or (),
        is_standing_swapped=is_swapped(of_standing or ()),
    )
    return settings_hash(recording, map_words=map_words)
