"""What a trial of a study is measured from, and the hash that is kept with its result.

In comes a trial, out comes its :class:`Recording`; or, for many trials at once, the hash that each
result would be stamped with if it were measured now, without looking at any file.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Final, NamedTuple

from sqlalchemy import ColumnElement, Connection, Select, True_, select, true

from gaittrack.lab_map import LabMap
from gaittrack.measures import MEASURES
from gaittrack.study.corrections.applying import Correction, is_swapped
from gaittrack.study.laboratory import laboratory_map
from gaittrack.study.originals import original_path, plain_suffix
from gaittrack.study.results.measuring import Recording
from gaittrack.study.store import Study
from gaittrack.study.tables import (
    CONDITION,
    CORRECTION,
    PERSON,
    RESULT,
    TRIAL,
    VISIT,
)

_PEOPLE_TO_TRIALS: Final = PERSON.join(VISIT).join(CONDITION).join(TRIAL)
_MEASURES: Final = json.dumps([measure.name for measure in MEASURES])
_CORRECTION_FIELDS: Final = (
    *("kind", "side", "event_kind", "time_s", "new_time_s", "cycle", "reason", "landmark", "label"),
)


def active_corrections(connection: Connection, trial_id: int) -> tuple[Correction, ...]:
    """Return the corrections of a trial that count, in the order they were made."""
    return _corrections(connection, TRIAL.c.id == trial_id).get(trial_id, ())


def _corrections(
    connection: Connection, wanted: ColumnElement[bool]
) -> dict[int, tuple[Correction, ...]]:
    """Return the corrections that count, in order, of the trials that are wanted."""
    query = (
        select(CORRECTION.c.trial_id, *(CORRECTION.c[name] for name in _CORRECTION_FIELDS))
        .select_from(_PEOPLE_TO_TRIALS.join(CORRECTION))
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
    lab_map : LabMap, optional
        The laboratory's, when it is at hand.
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
    if row["events_sha256"] is not None:
        recording = replace(recording, **_events_of(study, dict(row)))
    if row["standing_id"] is None:
        return recording
    other = recording_of(connection, study, row["standing_id"], lab_map=recording.lab_map)
    return replace(
        recording,
        standing=other.path,
        standing_sha256=other.path.stem,
        standing_corrections=other.corrections,
    )


def _events_of(study: Study, row: Mapping[str, Any]) -> dict[str, Any]:
    name, sha256 = row["events_file_name"], row["events_sha256"]
    path = original_path(study.folder, sha256, plain_suffix(Path(name)))
    return {"events": path, "events_name": name, "events_sha256": sha256}


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
        "corrections": _in_words(recording.corrections),
        "map": map_words or _words_of(recording.lab_map),
        "measures": _MEASURES,
        "standing": json.dumps(_standing_settings(recording)),
    }
    if recording.events_sha256:
        parts["events"] = json.dumps(recording.events_sha256)
    words = ", ".join(f'"{name}": {part}' for name, part in parts.items())
    return hashlib.sha256(f"{{{words}}}".encode()).hexdigest()


def _in_words(corrections: tuple[Correction, ...]) -> str:
    if not corrections:
        return "[]"
    return json.dumps([asdict(each) for each in corrections], sort_keys=True)


def _standing_settings(recording: Recording) -> list[Any]:
    corrections = recording.standing_corrections
    mapped = [[each.landmark, each.label] for each in corrections if each.kind == "map_landmark"]
    return [recording.standing_sha256, is_swapped(corrections), *mapped]


def _words_of(lab_map: LabMap) -> str:
    return json.dumps({**asdict(lab_map), "path": ""}, sort_keys=True)


class Stamp(NamedTuple):
    """What a walk was last measured with, and what it would be measured with now.

    Attributes
    ----------
    software_version, settings_hash : str or None
        Of the stored result; None without one.
    """

    trial_id: int
    software_version: str | None
    settings_hash: str | None
    settings_now: str


def stamps(connection: Connection, *, person: str | None = None) -> Iterator[Stamp]:
    """Return the stamp of every walk.

    Parameters
    ----------
    person : str, optional
        Only the walks of this person.
    """
    wanted = true() if person is None else PERSON.c.code == person
    corrections = _corrections(connection, wanted)
    map_words = _words_of(laboratory_map(connection))
    hashes: dict[tuple[Any, ...], str] = {}
    found = _stored_stamps(connection, wanted)
    for row in connection.execute(_inputs_query(wanted)):
        trial_id, standing_id = row[0], row[3]
        own, theirs = corrections.get(trial_id), corrections.get(standing_id)
        key = (row[1], row[2], row[4], own, theirs)
        now = hashes.get(key)
        if now is None:
            now = hashes[key] = _settings_now(key, map_words)
        version, settings = found.get(trial_id, (None, None))
        yield Stamp(trial_id, version, settings, now)


def _stored_stamps(
    connection: Connection, wanted: ColumnElement[bool]
) -> dict[int, tuple[str, str]]:
    """Return versions and hashes of results; apart from the rest, an index alone answers it."""
    query = select(RESULT.c.trial_id, RESULT.c.software_version, RESULT.c.settings_hash)
    mine = select(TRIAL.c.id).select_from(_PEOPLE_TO_TRIALS).where(wanted)
    if not isinstance(wanted, True_):
        query = query.where(RESULT.c.trial_id.in_(mine))
    return {row[0]: (row[1], row[2]) for row in connection.execute(query)}


def _inputs_query(wanted: ColumnElement[bool]) -> Select[Any]:
    standing = TRIAL.alias("standing")
    given = (CONDITION.c.code, TRIAL.c.events_sha256, TRIAL.c.standing_id, standing.c.sha256)
    tables = _PEOPLE_TO_TRIALS.outerjoin(standing, TRIAL.c.standing_id == standing.c.id)
    return select(TRIAL.c.id, *given).select_from(tables).where(TRIAL.c.kind == "walk", wanted)


def _settings_now(key: tuple[Any, ...], map_words: str) -> str:
    condition, events_sha256, standing_sha256, corrections, of_standing = key
    recording = Recording(
        Path(),
        "",
        condition,
        standing_sha256=standing_sha256 or "",
        corrections=corrections or (),
        standing_corrections=of_standing or (),
        events_sha256=events_sha256 or "",
    )
    return settings_hash(recording, map_words=map_words)
