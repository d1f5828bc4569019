"""One hash per person of all that is compared of them: whether what was kept would be the same.

In comes a connection to a study, out come stamps. Rows go in as they are stored, more of them than
matters: a stamp too many costs a comparison, one too few shows what does not hold any more.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Sequence
from dataclasses import asdict
from functools import cache
from itertools import chain
from typing import Any, Final

from sqlalchemy import Connection, Select, bindparam, select

from gaittrack import __version__
from gaittrack.cohort.release.dictionary import TABLES
from gaittrack.compare.rules import stamp_of_rules
from gaittrack.study.laboratory import ANSWERED, OUTCOMES
from gaittrack.study.tables import AIM, CONDITION, CORRECTION, PERSON, RESULT, SETTING, TRIAL, VISIT

_DOWN_TO_TRIAL: Final = VISIT.join(CONDITION).join(TRIAL)
_OF_A_PERSON: Final = (
    select(
        *(VISIT.c.person_id, VISIT.c.id, VISIT.c.code, VISIT.c.number, VISIT.c.date),
        *(VISIT.c.days_since_first_visit, VISIT.c.facts),
    ).order_by(VISIT.c.id),
    select(VISIT.c.person_id, VISIT.c.id, *(CONDITION.c[n] for n in ("id", "code", "description")))
    .join_from(VISIT, CONDITION)
    .order_by(CONDITION.c.id),
    select(VISIT.c.person_id, CORRECTION.c.id, CORRECTION.c.is_undone)
    .select_from(_DOWN_TO_TRIAL.join(CORRECTION))
    .order_by(CORRECTION.c.id),
)
_AIMS: Final = select(AIM.c.person_id, AIM.c.code, AIM.c.facts).order_by(AIM.c.id)
_EVERYBODY: Final = select(PERSON.c.id, PERSON.c.code, PERSON.c.facts)
_SETTINGS: Final = (
    select(SETTING.c.name, SETTING.c.content)
    .where(SETTING.c.name.not_in((ANSWERED, OUTCOMES)))
    .order_by(SETTING.c.name)
)
_TRIALS: Final = (
    select(
        *(VISIT.c.person_id, TRIAL.c.id, TRIAL.c.condition_id, TRIAL.c.code, TRIAL.c.kind),
        *(TRIAL.c.sha256, TRIAL.c.standing_id),
    )
    .select_from(_DOWN_TO_TRIAL)
    .order_by(TRIAL.c.id)
)
_RESULTS: Final = select(
    RESULT.c.trial_id, RESULT.c.software_version, RESULT.c.settings_hash, RESULT.c.numbers_checksum
)
"""The checksum is over all words and numbers. Apart from the rest: an index alone answers it."""


def person_stamps(connection: Connection, people: Collection[int] | None = None) -> dict[str, str]:
    """Return for each person a hash of all that their answers and changes are made from.

    Parameters
    ----------
    people : collection of int, optional
        Row numbers; everybody by default.

    Returns
    -------
    dict of person to str
        By code. Another one after a new walk, a correction, another description, other errors, or
        with other rules or another version of gaittrack.
    """
    found = _only(connection, _EVERYBODY, PERSON.c.id, people)
    whole = hashlib.sha256(repr(_everywhere(connection)).encode())
    stamps = {row[0]: whole.copy() for row in found}
    for row in chain(found, _rows(connection, people)):
        stamps[row[0]].update(repr(tuple(row)).encode())
    return {row[1]: stamps[row[0]].hexdigest() for row in found}


def _only(
    connection: Connection, query: Select[Any], column: Any, wanted: Collection[int] | None
) -> Sequence[Any]:
    if wanted is None:
        return connection.execute(query).all()
    return connection.execute(_wanted(query, column), {"wanted": list(wanted)}).all()


@cache
def _wanted(query: Select[Any], column: Any) -> Select[Any]:
    """Return a query with its condition, made once: that takes as long as to ask it."""
    return query.where(column.in_(bindparam("wanted", expanding=True)))


def _rows(connection: Connection, people: Collection[int] | None) -> Iterator[Sequence[Any]]:
    """Yield what is stored of people, each row after its person's number, in a fixed order."""
    for query in _OF_A_PERSON:
        yield from _only(connection, query, VISIT.c.person_id, people)
    yield from _only(connection, _AIMS, AIM.c.person_id, people)
    trials = _only(connection, _TRIALS, VISIT.c.person_id, people)
    of_trials = None if people is None else [row[1] for row in trials]
    results = _only(connection, _RESULTS, RESULT.c.trial_id, of_trials)
    measured = {row[0]: tuple(row) for row in results}
    yield from ((*row, measured.get(row[1])) for row in trials)


def _everywhere(connection: Connection) -> list[Any]:
    """Return what is the same for everybody."""
    columns = [asdict(field) for field in TABLES["changes"]]
    return [
        __version__,
        stamp_of_rules(),
        columns,
        *map(tuple, connection.execute(_SETTINGS)),
    ]
