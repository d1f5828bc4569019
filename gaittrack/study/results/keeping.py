"""Measure the trials of a study and keep what comes out.

In come trials, out come their stored results, stamped with software version and settings; a result
whose stamp is not today's is stale, is shown as stale, and is measured again on request, as is one
that is damaged.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import accumulate, groupby, islice
from typing import Final

from sqlalchemy import Connection, RowMapping, delete, select, update

from gaittrack import __version__
from gaittrack.errors import StudyError
from gaittrack.pipeline import Recording
from gaittrack.reasons import Reason
from gaittrack.study.checksums import DAMAGED, EVENT_COLUMNS, MEAN_COLUMNS, damaged_results
from gaittrack.study.history import record_alike
from gaittrack.study.laboratory import laboratory_defaults, laboratory_maps
from gaittrack.study.many_rows import insert_rows
from gaittrack.study.people.enrolled import person_codes
from gaittrack.study.results.kept_walk import KeptWalk, measure_to_keep
from gaittrack.study.results.sources import Stamp, recording_of, stamps
from gaittrack.study.store import Study
from gaittrack.study.tables import (
    CONDITION,
    DOWN_TO_TRIAL,
    EVENT,
    PERSON,
    RESULT,
    TRIAL,
    TRIAL_MEAN,
    VISIT,
)

MeasureAll = Callable[[Iterable[Recording]], Iterable[KeptWalk]]
"""Measures recordings, here or elsewhere, and gives what is kept of them in the same order."""
_STORED_AT_ONCE: Final = 10
"""Trials measured again that are stored at once; own choice: fewer take longer to store, and with
more, more is lost that was measured when it is broken off."""
_OF_RESULT: Final = tuple(RESULT.c.keys())
_OF_EVENT: Final = ("trial_id", *EVENT_COLUMNS)
_OF_MEAN: Final = ("trial_id", *MEAN_COLUMNS)


@dataclass(frozen=True, slots=True)
class KnownTrial:
    """One trial and where it stands."""

    id: int
    version: int
    person: str
    visit: str
    condition: str
    code: str
    file_name: str

    @classmethod
    def of(cls, row: RowMapping) -> KnownTrial:
        """Return the trial of a row of :data:`TRIAL_COLUMNS`."""
        return cls(*map(row.__getitem__, cls.__slots__))

    @property
    def place(self) -> str:
        """Its full name: ``P01/visit-1/with-brace/walk-1``."""
        return f"{self.person}/{self.visit}/{self.condition}/{self.code}"


TRIAL_COLUMNS: Final = (
    *(TRIAL.c.id, TRIAL.c.version, TRIAL.c.code, TRIAL.c.file_name, PERSON.c.code.label("person")),
    *(VISIT.c.code.label("visit"), CONDITION.c.code.label("condition")),
)
"""What a :class:`KnownTrial` is made of."""


def known_trials(
    connection: Connection, *, kind: str = "walk", person: str | None = None
) -> list[KnownTrial]:
    """Return every trial of one kind, person by person.

    Parameters
    ----------
    person : str, optional
        Only the trials of this person.
    """
    query = (
        select(*TRIAL_COLUMNS)
        .select_from(DOWN_TO_TRIAL)
        .where(TRIAL.c.kind == kind)
        .order_by(PERSON.c.code, VISIT.c.number, VISIT.c.code, CONDITION.c.code, TRIAL.c.code)
    )
    if person is not None:
        query = query.where(PERSON.c.code == person)
    return [KnownTrial.of(row) for row in connection.execute(query).mappings()]


def places_of_bytes(connection: Connection, hashes: Collection[str]) -> dict[str, str]:
    """Return where bytes already stand in the study, by their hash; the first place of several."""
    query = (
        select(*TRIAL_COLUMNS, TRIAL.c.sha256)
        .select_from(DOWN_TO_TRIAL)
        .where(TRIAL.c.sha256.in_(list(hashes)))
        .order_by(TRIAL.c.id.desc())
    )
    rows = connection.execute(query).all()
    return {row.sha256: f"{row.person}/{row.visit}/{row.condition}/{row.code}" for row in rows}


def find_trial(connection: Connection, place: str) -> KnownTrial:
    """Return the walk or standing trial called ``PERSON/VISIT/CONDITION/TRIAL``.

    Raises
    ------
    StudyError
        There is none; the message names those that come closest.
    """
    wanted = place.strip("/")
    # A code may hold a slash, so the person may be more than what stands before the first one.
    starts = accumulate(wanted.split("/"), lambda start, part: f"{start}/{part}")
    known = [
        trial
        for person in starts
        for kind in ("walk", "standing")
        for trial in known_trials(connection, kind=kind, person=person)
    ]
    for trial in known:
        if trial.place == wanted:
            return trial
    near = [trial.place for trial in known]
    shown = near or person_codes(connection)
    raise StudyError.of(
        "no_trial",
        where="trial",
        wanted=wanted,
        shown=", ".join(shown[:12]),
        more=" …" if len(shown) > 12 else "",
    )


def keep_results(connection: Connection, kept: Mapping[int, KeptWalk]) -> None:
    """Put results into a study, by the row numbers of their trials, which have none."""
    results = [{"trial_id": trial_id, **one.row} for trial_id, one in kept.items()]
    rows = [tuple(map(row.__getitem__, _OF_RESULT)) for row in results]
    insert_rows(connection, RESULT, _OF_RESULT, rows)
    events = [(trial_id, *row) for trial_id, one in kept.items() for row in one.events]
    insert_rows(connection, EVENT, _OF_EVENT, events)
    means = [(trial_id, *row) for trial_id, one in kept.items() for row in one.means]
    insert_rows(connection, TRIAL_MEAN, _OF_MEAN, means)


def replace_results(connection: Connection, kept: Mapping[int, KeptWalk]) -> None:
    """Put results in the place of the last ones of their trials."""
    for table in (RESULT, EVENT, TRIAL_MEAN):
        connection.execute(delete(table).where(table.c.trial_id.in_(list(kept))))
    keep_results(connection, kept)


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
        raise StudyError.of("trial_changed_meanwhile", where=trial.place)


def stale_trials(
    study: Study,
    *,
    person: str | None = None,
    is_thorough: bool = False,
    damaged: Collection[int] | None = None,
) -> list[tuple[KnownTrial, Reason]]:
    """Return the walks whose result is damaged or not of today's software and settings, and why.

    Parameters
    ----------
    person : str, optional
        Only the walks of this person.
    is_thorough : bool
        As for :func:`gaittrack.study.checksums.damaged_results`.
    damaged : collection of int, optional
        Row numbers of those that are, where all that matter were looked at just now.

    Returns
    -------
    list of (KnownTrial, Reason)
        Person by person.
    """
    with study.read() as connection:
        reasons = {each.trial_id: _why_stale(each) for each in stamps(connection, person=person)}
        wanted = TRIAL.c.kind == "walk"
        if person is not None:
            wanted &= PERSON.c.code == person
        if damaged is None:
            damaged = damaged_results(connection, wanted, is_thorough=is_thorough)
        reasons |= dict.fromkeys(damaged, DAMAGED)
        if not any(reasons.values()):
            return []
        trials = known_trials(connection, person=person)
    told = ((trial, reasons[trial.id]) for trial in trials)
    return [(trial, why) for trial, why in told if why is not None]


def is_stale(connection: Connection, trial: KnownTrial) -> bool:
    """Tell whether a walk has no result of today's software and settings."""
    mine = (each for each in stamps(connection, person=trial.person) if each.trial_id == trial.id)
    return any(_why_stale(stamp) is not None for stamp in mine)


def _why_stale(stamp: Stamp) -> Reason | None:
    if stamp.software_version is None:
        return Reason("not_measured_yet")
    if stamp.software_version != __version__:
        return Reason("measured_by_version", version=stamp.software_version)
    if stamp.settings_hash != stamp.settings_now:
        return Reason("measured_with_other_settings")
    return None


def measure_here(recordings: Iterable[Recording]) -> Iterator[KeptWalk]:
    """Measure recordings one by one, as the results are asked for."""
    return map(measure_to_keep, recordings)


def recompute(
    study: Study,
    trials: list[KnownTrial],
    *,
    who: str,
    measure_all: MeasureAll = measure_here,
) -> Iterator[tuple[KnownTrial, KeptWalk]]:
    """Measure trials again, as the results are asked for; a few of a person are stored at once.

    Parameters
    ----------
    trials : list of KnownTrial
        For example from :func:`stale_trials`.
    measure_all : MeasureAll
        Where to measure; see :mod:`gaittrack.study.results.cluster`.

    Yields
    ------
    (KnownTrial, KeptWalk)
        Each is stored when it is yielded.

    Raises
    ------
    StudyError
        Somebody changed a trial meanwhile, then none of its few is stored; or the study cannot be
        written.
    """
    with study.read() as connection:
        maps, usual = laboratory_maps(connection), laboratory_defaults(connection)
        recordings = [
            recording_of(connection, study, trial.id, maps=maps, usual=usual) for trial in trials
        ]
    measured = zip(trials, measure_all(recordings), strict=True)
    for person, own in groupby(measured, key=lambda pair: pair[0].person):
        while few := dict(islice(own, _STORED_AT_ONCE)):
            _store_again(study, person, few, who=who)
            yield from few.items()


def _store_again(
    study: Study, person: str, measured: Mapping[KnownTrial, KeptWalk], *, who: str
) -> None:
    told = [
        {
            "trial": trial.place,
            "software_version": __version__,
            "refused": "" if kept.error is None else str(kept.error),
        }
        for trial, kept in measured.items()
    ]
    with study.write() as connection:
        for trial in measured:
            bump_version(connection, trial)
        replace_results(connection, {trial.id: kept for trial, kept in measured.items()})
        record_alike(connection, "measure again", who=who, person=person, after=told)
