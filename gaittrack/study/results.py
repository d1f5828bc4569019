"""Measure the trials of a study and keep what comes out.

In come trials, out come their stored results, stamped with software version and settings; a result
whose stamp is not today's is stale, is shown as stale, and is measured again on request.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from gaittrack import __version__
from gaittrack.errors import StudyError
from gaittrack.lab_map import LabMap, read_lab_map
from gaittrack.measured_walk import RefusedFile, Result
from gaittrack.study.history import record
from gaittrack.study.measuring import (
    Correction,
    Recording,
    measure_recording,
    settings_hash,
)
from gaittrack.study.originals import original_path
from gaittrack.study.packing import event_rows, mean_rows, result_row
from gaittrack.study.store import Study
from gaittrack.study.tables import (
    CONDITION,
    CORRECTION,
    EVENT,
    PERSON,
    RESULT,
    SETTING,
    TRIAL,
    TRIAL_MEAN,
    VISIT,
)

MAP, FLOORS = "map", "floors"
MeasureAll = Callable[[Iterable[Recording]], Iterable[Result]]
"""Measures recordings, here or elsewhere, and gives the results in the same order."""


@dataclass(frozen=True, slots=True)
class KnownTrial:
    """One trial and where it stands.

    Attributes
    ----------
    id, version : int
    person, visit, condition, code, file_name : str
    """

    id: int
    version: int
    person: str
    visit: str
    condition: str
    code: str
    file_name: str

    @property
    def place(self) -> str:
        """Its full name: ``P01/visit-1/with-brace/walk-1``."""
        return f"{self.person}/{self.visit}/{self.condition}/{self.code}"


def known_trials(connection: Connection, *, kind: str = "walk") -> list[KnownTrial]:
    """Return every trial of one kind, person by person.

    Parameters
    ----------
    connection : Connection
    kind : {"walk", "standing"}

    Returns
    -------
    list of KnownTrial
    """
    names = (PERSON.c.code, VISIT.c.code, CONDITION.c.code, TRIAL.c.code)
    query = (
        select(TRIAL.c.id, TRIAL.c.version, *names, TRIAL.c.file_name)
        .select_from(PERSON.join(VISIT).join(CONDITION).join(TRIAL))
        .where(TRIAL.c.kind == kind)
        .order_by(PERSON.c.code, VISIT.c.number, *names[1:])
    )
    return [KnownTrial(*row) for row in connection.execute(query)]


def find_trial(connection: Connection, place: str) -> KnownTrial:
    """Return the walk or standing trial called ``PERSON/VISIT/CONDITION/TRIAL``.

    Raises
    ------
    StudyError
        There is none; the message names those that come closest.
    """
    known = [*known_trials(connection), *known_trials(connection, kind="standing")]
    wanted = place.strip("/")
    for trial in known:
        if trial.place == wanted:
            return trial
    person = wanted.partition("/")[0]
    near = [trial.place for trial in known if trial.person == person]
    people = list(dict.fromkeys(trial.person for trial in known))
    shown = near or people
    raise StudyError(
        f"There is no trial {wanted!r}.",
        where="trial",
        action=f"The study has: {', '.join(shown[:12])}{' …' if len(shown) > 12 else ''}.",
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
    names = ("kind", "side", "event_kind", "time_s", "new_time_s", "cycle", "reason")
    query = (
        select(*(CORRECTION.c[name] for name in names))
        .where(CORRECTION.c.trial_id == trial_id, CORRECTION.c.is_undone.is_(False))
        .order_by(CORRECTION.c.id)
    )
    return tuple(Correction(**row) for row in connection.execute(query).mappings())


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


def keep_result(
    connection: Connection, trial_id: int, result: Result, recording: Recording
) -> None:
    """Put a result in the place of the trial's last one, stamped with what it was made from."""
    for table in (RESULT, EVENT, TRIAL_MEAN):
        connection.execute(delete(table).where(table.c.trial_id == trial_id))
    key = {"trial_id": trial_id}
    settings, condition = settings_hash(recording), recording.condition
    row = result_row(result, settings, condition=condition) | key
    connection.execute(insert(RESULT).values(row))
    for table, rows in ((EVENT, event_rows(result)), (TRIAL_MEAN, mean_rows(result))):
        if rows:
            connection.execute(insert(table), [row | key for row in rows])


def bump_version(connection: Connection, trial: KnownTrial) -> None:
    """Mark a trial as changed.

    Raises
    ------
    StudyError
        Somebody else changed it since ``trial`` was looked up.
    """
    done = connection.execute(
        update(TRIAL)
        .where(TRIAL.c.id == trial.id, TRIAL.c.version == trial.version)
        .values(version=trial.version + 1)
    )
    if done.rowcount != 1:
        raise StudyError(
            "The trial was changed by somebody else meanwhile.",
            where=trial.place,
            action="Look at it again, then repeat your change; theirs was kept.",
        )


def stale_trials(study: Study) -> list[tuple[KnownTrial, str]]:
    """Return the walks whose result is not of today's software and settings, and why."""
    found = []
    with study.read() as connection:
        lab_map = laboratory_map(connection)
        stamps: dict[int, Any] = {
            row.trial_id: row
            for row in connection.execute(
                select(RESULT.c.trial_id, RESULT.c.software_version, RESULT.c.settings_hash)
            )
        }
        for trial in known_trials(connection):
            recording = recording_of(connection, study, trial.id, lab_map=lab_map)
            reason = _why_stale(stamps.get(trial.id), recording)
            if reason:
                found.append((trial, reason))
    return found


def _why_stale(stamp: Any, recording: Recording) -> str:
    if stamp is None:
        return "not measured yet"
    if stamp.software_version != __version__:
        return f"measured by version {stamp.software_version}"
    if stamp.settings_hash != settings_hash(recording):
        return "measured with other settings or corrections"
    return ""


def measure_here(recordings: Iterable[Recording]) -> Iterator[Result]:
    """Measure recordings one by one, as the results are asked for."""
    return map(measure_recording, recordings)


def recompute(
    study: Study,
    trials: list[KnownTrial],
    *,
    who: str,
    measure_all: MeasureAll = measure_here,
) -> Iterator[tuple[KnownTrial, Result]]:
    """Measure trials again, one by one, as the results are asked for.

    Parameters
    ----------
    study : Study
    trials : list of KnownTrial
        For example from :func:`stale_trials`.
    who : str
    measure_all : MeasureAll
        Where to measure; see :mod:`gaittrack.study.cluster`.

    Yields
    ------
    (KnownTrial, Result)
        Each is stored when it is yielded.

    Raises
    ------
    StudyError
        Somebody changed the trial meanwhile, or the study cannot be written.
    """
    with study.read() as connection:
        recordings = [recording_of(connection, study, trial.id) for trial in trials]
    measured = zip(trials, recordings, measure_all(recordings), strict=True)
    for trial, recording, result in measured:
        with study.write() as connection:
            bump_version(connection, trial)
            keep_result(connection, trial.id, result, recording)
            after = {"trial": trial.place, "software_version": __version__}
            after["refused"] = str(result.error) if isinstance(result, RefusedFile) else ""
            record(connection, "measure again", who=who, person=trial.person, after=after)
        yield trial, result
