"""The recordings behind a comparison of stored results, and what became of each.

In comes a stored comparison, out come its trials with the strides that were not counted and whether
the result is of today's software and settings; and one hash of all that shaped the numbers.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import Connection, RowMapping, select

from gaittrack.part_names import recording_key
from gaittrack.reasons import Reason, from_plain
from gaittrack.study.checksums import DAMAGED
from gaittrack.study.results.comparing import StoredComparison
from gaittrack.study.results.keeping import TRIAL_COLUMNS, KnownTrial, stale_trials
from gaittrack.study.results.packing import said_refusal
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, DOWN_TO_TRIAL, RESULT, TRIAL, VISIT

NOT_MEASURED = "not measured yet"


@dataclass(frozen=True, slots=True)
class ComparedTrial:
    """One recording of walking in a compared condition.

    Attributes
    ----------
    condition : str
        As it is called in the comparison.
    why_not : str
        Why no number comes from it; empty when it was measured.
    why_stale : str
        Why its result is not of today's software and settings; empty when it is.
    n_strides : int
        Found, counted or not.
    not_counted : tuple of (str, str, str)
        Strides that were left out: their names, sides, and why.
    stamp : tuple of str
        Hash of the file, software version and hash of the settings.
    """

    trial: KnownTrial
    visit_id: int
    condition: str
    why_not: str
    why_stale: str
    n_strides: int
    not_counted: tuple[tuple[str, str, str], ...]
    stamp: tuple[str, ...]


def compared_trials(study: Study, found: StoredComparison) -> tuple[ComparedTrial, ...]:
    """Return the recordings of every compared condition.

    Returns
    -------
    tuple of ComparedTrial
        By condition as compared, then by code.
    """
    told = stale_trials(study, person=found.person, damaged=found.damaged)
    stale = {trial.id: why for trial, why in told}
    with study.read() as connection:
        rows = _rows(connection, found.names)
    trials = [_compared(row, found, stale.get(row["id"])) for row in rows]
    order = list(found.names.values())
    return tuple(sorted(trials, key=lambda one: (order.index(one.condition), one.trial.code)))


def _rows(connection: Connection, condition_ids: Iterable[int]) -> list[RowMapping]:
    query = (
        select(
            *TRIAL_COLUMNS,
            *(CONDITION.c.visit_id, TRIAL.c.condition_id, TRIAL.c.sha256),
            *(RESULT.c.refusal, RESULT.c.cycles, RESULT.c.software_version, RESULT.c.settings_hash),
        )
        .select_from(DOWN_TO_TRIAL.outerjoin(RESULT))
        .where(TRIAL.c.kind == "walk", TRIAL.c.condition_id.in_(list(condition_ids)))
    )
    return list(connection.execute(query).mappings())


def _compared(row: RowMapping, found: StoredComparison, stale: Reason | None) -> ComparedTrial:
    is_damaged = stale == DAMAGED
    cycles = [] if is_damaged else json.loads(row["cycles"] or "[]")
    if is_damaged:
        why_not = str(DAMAGED)
    else:
        why_not = NOT_MEASURED if row["refusal"] is None else said_refusal(row["refusal"])
    file = recording_key(row["sha256"], row["file_name"])
    stamp = (file, row["software_version"] or "", row["settings_hash"] or "")
    return ComparedTrial(
        KnownTrial.of(row),
        row["visit_id"],
        found.names[row["condition_id"]],
        why_not,
        "" if why_not else str(stale or ""),
        len(cycles),
        tuple(
            (
                cycle["id"],
                cycle["side"],
                "; ".join(map(str, map(from_plain, cycle["reject_reasons"]))),
            )
            for cycle in cycles
            if cycle["reject_reasons"]
        ),
        stamp,
    )


def hash_of_settings(found: StoredComparison, trials: Iterable[ComparedTrial]) -> str:
    """Return one hash of everything that shaped the numbers of a comparison.

    Returns
    -------
    str
        SHA-256, hexadecimal, of files, software, settings, and what was chosen to compare.
    """
    settings = {k: v for k, v in found.comparison.settings.items() if k != "walks"}
    stamps_used = sorted(each.stamp for each in trials if not each.why_not)
    words = json.dumps([settings, stamps_used], sort_keys=True)
    return hashlib.sha256(words.encode()).hexdigest()


def visits_of(study: Study, found: StoredComparison) -> dict[str, str]:
    """Return the visits in a comparison, each with its day in words.

    Returns
    -------
    dict of str to str
        ``visit-2``: ``2026-03-01, day 42``.
    """
    query = (
        select(VISIT.c.code, VISIT.c.date, VISIT.c.days_since_first_visit)
        .join_from(VISIT, CONDITION)
        .where(CONDITION.c.id.in_(found.names))
        .order_by(VISIT.c.days_since_first_visit, VISIT.c.date, VISIT.c.code)
    )
    with study.read() as connection:
        rows = connection.execute(query).all()
    return {row.code: _day_words(row.date, row.days_since_first_visit) for row in rows}


def _day_words(date: str | None, days: float | None) -> str:
    told = [date or "", "" if days is None else f"day {days:g}"]
    return ", ".join(filter(None, told)) or "day not recorded"
