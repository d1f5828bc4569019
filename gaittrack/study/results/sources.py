"""What a trial of a study is measured from, and the hash that is kept with its result.

In comes a trial, out comes its :class:`Recording`; or, for many trials at once, the hash that each
result would be stamped with if it were measured now, without looking at any file.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import asdict, replace
from functools import cache
from pathlib import Path
from typing import Any, Final, NamedTuple

from sqlalchemy import ColumnElement, Connection, Select, bindparam, select, true

from gaittrack.corrected import Change, MapLandmark, is_swapped
from gaittrack.lab_defaults import LabDefaults
from gaittrack.lab_map import LabMap
from gaittrack.map_fit import names_of
from gaittrack.measured_walk import RefusedFile, Result
from gaittrack.measures import MEASURES
from gaittrack.pipeline import InputFile, Recording
from gaittrack.study.correction_rows import (
    changes_of_rows,
    changes_of_trial,
    corrections_that_count,
    row_of,
)
from gaittrack.study.laboratory import laboratory_defaults, laboratory_maps
from gaittrack.study.map_stamps import N_OF_KEY, Names, key_of, map_words, stored_names
from gaittrack.study.originals import original_path, plain_suffix
from gaittrack.study.store import Study
from gaittrack.study.tables import (
    CONDITION,
    DOWN_TO_TRIAL,
    PERSON,
    RESULT,
    TRIAL,
)

_MEASURES: Final = json.dumps([measure.name for measure in MEASURES])


def recording_of(
    connection: Connection,
    study: Study,
    trial_id: int,
    *,
    maps: tuple[LabMap, ...] | None = None,
    usual: LabDefaults | None = None,
) -> Recording:
    """Return what a trial is measured from.

    Parameters
    ----------
    maps, usual : optional
        The laboratory's, when they are at hand.
    """
    query = (
        select(TRIAL, CONDITION.c.code.label("condition"))
        .select_from(CONDITION.join(TRIAL))
        .where(TRIAL.c.id == trial_id)
    )
    row = connection.execute(query).mappings().one()
    recording = Recording(
        _original(study, row["sha256"], row["suffix"], row["file_name"]),
        maps=laboratory_maps(connection) if maps is None else maps,
        usual=laboratory_defaults(connection) if usual is None else usual,
        condition=row["condition"],
        corrections=changes_of_trial(connection, trial_id),
    )
    if row["events_sha256"] is not None:
        name = row["events_file_name"]
        events = _original(study, row["events_sha256"], plain_suffix(Path(name)), name)
        recording = replace(recording, events=events)
    if row["standing_id"] is None:
        return recording
    other = recording_of(
        connection, study, row["standing_id"], maps=recording.maps, usual=recording.usual
    )
    return replace(recording, standing=other.file, standing_corrections=other.corrections)


def _original(study: Study, sha256: str, suffix: str, name: str) -> InputFile:
    return InputFile(original_path(study.folder, sha256, suffix), name, sha256)


def settings_hash(recording: Recording, names: Names | None = None) -> str:
    """Return the hash of everything but the file and the software that shapes the result.

    Parameters
    ----------
    recording : Recording
        Of the other files only the hashes and names count; the paths do not.
    names : Names, optional
        What the files hold; then only the maps that they take count, else every map.

    Returns
    -------
    str
        Hexadecimal, with the key of the names at its end; see :func:`stamps`.
    """
    return _settings(recording, map_words(recording, names)) + key_of(names)


def result_hash(recording: Recording, result: Result) -> str:
    """Return the hash that is kept with a result."""
    if isinstance(result, RefusedFile):
        return settings_hash(recording)
    return settings_hash(recording, (names_of(result.trial), result.standing_names))


def _settings(recording: Recording, maps: str) -> str:
    parts = {
        "condition": json.dumps(recording.condition),
        "corrections": _in_words(recording.corrections),
        "map": maps,
        "measures": _MEASURES,
        "standing": json.dumps(_standing_settings(recording)),
    }
    if recording.events is not None:
        parts["events"] = json.dumps(recording.events.sha256)
    if recording.usual != LabDefaults():
        parts["usual"] = json.dumps(asdict(recording.usual))
    words = ", ".join(f'"{name}": {part}' for name, part in parts.items())
    return hashlib.sha256(f"{{{words}}}".encode()).hexdigest()[:-N_OF_KEY]


def _in_words(corrections: tuple[Change, ...]) -> str:
    if not corrections:
        return "[]"
    return json.dumps([row_of(each) for each in corrections], sort_keys=True)


def _standing_settings(recording: Recording) -> list[Any]:
    corrections = recording.standing_corrections
    mapped = [[one.landmark, one.label] for one in corrections if isinstance(one, MapLandmark)]
    sha256 = recording.standing.sha256 if recording.standing is not None else ""
    return [sha256, is_swapped(corrections), *mapped]


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
    corrections_made, results, inputs = _stamp_queries(is_of_one=person is not None)
    given = {} if person is None else {"person": person}
    corrections = changes_of_rows(connection.execute(corrections_made, given))
    maps, usual = laboratory_maps(connection), laboratory_defaults(connection)
    found = {row[0]: (row[1], row[2]) for row in connection.execute(results, given)}
    endings = {stored[1][-N_OF_KEY:] for stored in found.values()} if maps else set()
    known = stored_names(connection, endings)
    says_files = any(each.fits.files for each in maps)
    words: dict[tuple[Any, ...], str] = {}
    hashes: dict[tuple[Any, ...], str] = {}
    for row in connection.execute(inputs, given):
        trial_id, standing_id = row[0], row[3]
        version, settings = found.get(trial_id, (None, None))
        ending = (settings or "")[-N_OF_KEY:]
        own, theirs = corrections.get(trial_id), corrections.get(standing_id)
        files = (row[5], row[6]) if says_files else ("", "")
        told = (known.get(ending), *files, row[4] is None)
        key = (row[1], row[2], row[4], own, theirs, told)
        if key not in hashes:
            recording = replace(_recording_like(key, maps), usual=usual)
            if told not in words:
                words[told] = map_words(recording, told[0])
            hashes[key] = _settings(recording, words[told])
        yield Stamp(trial_id, version, settings, hashes[key] + ending)


@cache
def _stamp_queries(*, is_of_one: bool) -> tuple[Select[Any], Select[Any], Select[Any]]:
    """Return what asks for corrections, results and what walks are measured from, made once.

    Versions and hashes of results are asked for apart: an index alone answers that.
    """
    wanted = PERSON.c.code == bindparam("person") if is_of_one else true()
    results = select(RESULT.c.trial_id, RESULT.c.software_version, RESULT.c.settings_hash)
    if is_of_one:
        mine = select(TRIAL.c.id).select_from(DOWN_TO_TRIAL).where(wanted)
        results = results.where(RESULT.c.trial_id.in_(mine))
    return corrections_that_count(wanted), results, _inputs_query(wanted)


def _inputs_query(wanted: ColumnElement[bool]) -> Select[Any]:
    standing = TRIAL.alias("standing")
    given = (
        *(CONDITION.c.code, TRIAL.c.events_sha256, TRIAL.c.standing_id, standing.c.sha256),
        *(TRIAL.c.file_name, standing.c.file_name),
    )
    tables = DOWN_TO_TRIAL.outerjoin(standing, TRIAL.c.standing_id == standing.c.id)
    return select(TRIAL.c.id, *given).select_from(tables).where(TRIAL.c.kind == "walk", wanted)


def _recording_like(key: tuple[Any, ...], maps: tuple[LabMap, ...]) -> Recording:
    condition, events_sha256, standing_sha256, corrections, of_standing, told = key
    _, name, their_name, _ = told
    nowhere = InputFile(Path(), name)
    standing = InputFile(Path(), their_name or "", standing_sha256) if standing_sha256 else None
    return Recording(
        nowhere,
        maps=maps,
        standing=standing,
        events=replace(nowhere, sha256=events_sha256) if events_sha256 else None,
        condition=condition,
        corrections=corrections or (),
        standing_corrections=of_standing or (),
    )
