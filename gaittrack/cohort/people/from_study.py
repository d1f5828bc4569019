"""Take everything an export needs out of a study.

In comes an open study, out comes a :class:`CohortSource` with the study's own names, and afterwards
an entry in the study's history that says what was exported and why.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import pandas as pd
from sqlalchemy import Connection, func, select

from gaittrack.cohort.people.source import (
    EXCLUSION_COLUMNS,
    PEOPLE_COLUMNS,
    VISIT_COLUMNS,
    CohortSource,
    CohortWalk,
    LeftOut,
    PlaceKey,
)
from gaittrack.cohort.people.tracking import Track, untracked
from gaittrack.compare.fair.condition import Condition
from gaittrack.errors import StudyError
from gaittrack.reasons import Reason, from_plain
from gaittrack.record.aims import Aims
from gaittrack.record.braces import Brace
from gaittrack.study.checksums import DamagedResultError
from gaittrack.study.history import record
from gaittrack.study.laboratory import laboratory_errors_of, laboratory_typical_of
from gaittrack.study.people.documents import facts_in, unfolded
from gaittrack.study.people.enrolled import condition_of
from gaittrack.study.results.measuring_again import MeasuresAgain
from gaittrack.study.results.packing import stored_walks
from gaittrack.study.store import Study
from gaittrack.study.tables import (
    AIM,
    BRACE,
    BRACE_SETTING,
    CONDITION,
    CORRECTION,
    DOWN_TO_TRIAL,
    PERSON,
    RESULT,
    TRIAL,
    VISIT,
)

_PLACE: Final = (
    PERSON.c.code.label("person"),
    VISIT.c.code.label("visit"),
    CONDITION.c.code.label("condition"),
)
_DAMAGED: Final = Reason("damaged_result")
_REFUSED: Final = Reason("recording_refused")


def cohort_source(
    study: Study,
    *,
    people: Sequence[str] | None = None,
    with_walks: bool = True,
    track: Track = untracked,
) -> CohortSource:
    """Return a study as the source of an export.

    Parameters
    ----------
    people : sequence of str, optional
        Codes; everybody by default.
    with_walks : bool
        False leaves out the walks and their rejected cycles, which are slow to load.

    Returns
    -------
    CohortSource
        Refused recordings give no walk, nor do damaged results.

    Raises
    ------
    StudyError
        The study cannot be read, or a result is packed by a newer version.
    """
    with study.read() as connection:
        walks = _walks(connection, people, track) if with_walks else _Walks()
        again = MeasuresAgain(study, walks.trial_ids)
        return _source(connection, people, walks, again)


def source_at(
    study: Study, connection: Connection, people: Sequence[str] | None, *, with_walks: bool
) -> CohortSource:
    """Return a study as a connection sees it; else as :func:`cohort_source`."""
    walks = _walks(connection, people, untracked) if with_walks else _Walks()
    again = MeasuresAgain(study, walks.trial_ids, connection)
    return _source(connection, people, walks, again)


def _source(
    connection: Connection, people: Sequence[str] | None, walks: _Walks, again: MeasuresAgain
) -> CohortSource:
    return CohortSource(
        people=_people(connection, people),
        visits=_visits(connection, people),
        conditions=_conditions(connection, people),
        walks=tuple(walks.found),
        rejected=walks.rejected,
        damaged=walks.damaged,
        exclusions=_exclusions(connection, people),
        own_errors=laboratory_errors_of(connection),
        typical=laboratory_typical_of(connection),
        again=again,
        aims=_aims(connection, people),
        braces=_braces(connection, people),
    )


def _table(rows: Iterable[Mapping[str, Any]], columns: tuple[str, ...]) -> pd.DataFrame:
    cells = [tuple(row[name] for name in columns) for row in rows]
    return pd.DataFrame(cells, columns=list(columns), dtype=object)


def _of(query: Any, people: Sequence[str] | None) -> Any:
    return query if people is None else query.where(PERSON.c.code.in_(people))


def _people(connection: Connection, people: Sequence[str] | None) -> pd.DataFrame:
    query = _of(select(PERSON), people).order_by(PERSON.c.code)
    found = [unfolded("person", row) for row in connection.execute(query).mappings()]
    return _table([row | {"person": row["code"]} for row in found], PEOPLE_COLUMNS)


def _visits(connection: Connection, people: Sequence[str] | None) -> pd.DataFrame:
    """Return the visits of each person in the order of the days, else of their numbers."""
    query = (
        select(PERSON.c.code.label("person"), VISIT)
        .select_from(PERSON.join(VISIT))
        .order_by(
            PERSON.c.code,
            VISIT.c.days_since_first_visit.nulls_last(),
            VISIT.c.date.nulls_last(),
            VISIT.c.number.nulls_last(),
            VISIT.c.code,
        )
    )
    rows = connection.execute(_of(query, people)).mappings()
    found = [unfolded("visit", row) for row in rows]
    return _table([row | {"visit": row["code"]} for row in found], VISIT_COLUMNS)


def _described() -> Any:
    query = select(*_PLACE, CONDITION.c.code, CONDITION.c.description)
    joined = query.select_from(PERSON.join(VISIT).join(CONDITION))
    return joined.order_by(*_PLACE)


def _conditions(connection: Connection, people: Sequence[str] | None) -> dict[PlaceKey, Condition]:
    return {
        (row["person"], row["visit"], row["condition"]): condition_of(dict(row))
        for row in connection.execute(_of(_described(), people)).mappings()
    }


def _aimed() -> Any:
    query = select(PERSON.c.code.label("person"), AIM.c.code, AIM.c.facts)
    return query.select_from(PERSON.join(AIM)).order_by(PERSON.c.code, AIM.c.id)


def _aims(connection: Connection, people: Sequence[str] | None) -> dict[str, Aims]:
    found: dict[str, dict[str, Any]] = {}
    for row in connection.execute(_of(_aimed(), people)).mappings():
        found.setdefault(row["person"], {})[row["code"]] = facts_in("aim", row)
    return dict(found)


def _braces(connection: Connection, people: Sequence[str] | None) -> dict[str, dict[str, Brace]]:
    whose = PERSON.c.code.label("person")
    query = select(whose, BRACE.c.code, BRACE.c.facts).select_from(PERSON.join(BRACE))
    of_setting = (BRACE_SETTING.c.code, BRACE_SETTING.c.facts)
    settings: dict[tuple[str, str], dict[str, Any]] = {}
    joined = select(whose, BRACE.c.code.label("brace"), *of_setting).select_from(
        PERSON.join(BRACE).join(BRACE_SETTING)
    )
    for row in connection.execute(_of(joined, people).order_by(BRACE_SETTING.c.id)).mappings():
        own = settings.setdefault((row["person"], row["brace"]), {})
        own[row["code"]] = facts_in("setting", row)
    found: dict[str, dict[str, Brace]] = {}
    for row in connection.execute(_of(query, people).order_by(BRACE.c.id)).mappings():
        key = (row["person"], row["code"])
        brace = Brace(facts_in("brace", row), settings.get(key, {}))
        found.setdefault(row["person"], {})[row["code"]] = brace
    return found


@dataclass(slots=True)
class _Walks:
    """Walks in a fixed order, the cycles that were not kept, and how many results are damaged.

    Attributes
    ----------
    trial_ids : dict of str to int
        Row number of the recording of each walk, by the walk's id.
    """

    found: list[CohortWalk] = field(default_factory=list)
    rejected: dict[PlaceKey, tuple[LeftOut, ...]] = field(default_factory=dict)
    damaged: dict[PlaceKey, int] = field(default_factory=dict)
    trial_ids: dict[str, int] = field(default_factory=dict)

    def leave_out(self, place: PlaceKey, found: Iterable[LeftOut]) -> None:
        """Note what was not kept."""
        self.rejected[place] = (*self.rejected.get(place, ()), *found)


def _walks(connection: Connection, people: Sequence[str] | None, track: Track) -> _Walks:
    wanted = _of(select(TRIAL.c.code, TRIAL.c.sha256, TRIAL.c.file_name, RESULT, *_PLACE), people)
    query = wanted.select_from(DOWN_TO_TRIAL.join(RESULT)).where(TRIAL.c.kind == "walk")
    n_rows = connection.execute(select(func.count()).select_from(query.subquery())).scalar_one()
    found = connection.execute(query.order_by(*_PLACE, TRIAL.c.code)).mappings()
    walks = _Walks()
    for each in track("Reading walks", found, n_rows):
        row = dict(each)
        place = (row["person"], row["visit"], row["condition"])
        try:
            records = stored_walks(row, row, condition=place[2], session=place[1])
        except DamagedResultError:
            walks.damaged[place] = walks.damaged.get(place, 0) + 1
            walks.leave_out(place, [LeftOut(None, (_DAMAGED,), row["sha256"])])
            continue
        walks.leave_out(place, _left_out(row))
        for walk in records:
            name = f"{row['trial_id']} {walk.part}"
            walks.trial_ids[name] = row["trial_id"]
            own = walk.known_as(walk_id=name)
            walks.found.append(CohortWalk(*place[:2], own, row["software_version"]))
    return walks


def _left_out(row: Mapping[str, Any]) -> list[LeftOut]:
    """Return the strides of a recording that were not kept, or the recording that was refused."""
    if row["refusal"]:
        code = json.loads(row["refusal"]).get("code") or _REFUSED.code
        return [LeftOut(None, (Reason(code),), row["sha256"])]
    found, numbers = [], Counter[str]()
    for cycle in json.loads(row["cycles"]):
        side = cycle["side"]
        numbers[side] += 1
        if cycle["reject_reasons"]:
            why = tuple(map(from_plain, cycle["reject_reasons"]))
            found.append(LeftOut(side, why, row["sha256"], numbers[side]))
    return found


def _exclusions(connection: Connection, people: Sequence[str] | None) -> pd.DataFrame:
    query = (
        select(*_PLACE, CORRECTION.c.side, CORRECTION.c.kind, CORRECTION.c.is_undone)
        .select_from(DOWN_TO_TRIAL.join(CORRECTION))
        .order_by(*_PLACE, CORRECTION.c.id)
    )
    rows = connection.execute(_of(query, people)).mappings()
    return _table([dict(row) for row in rows], EXCLUSION_COLUMNS)


def record_export(
    study: Study, facts: Mapping[str, Any], *, who: str, why: str, people: Sequence[str] = ()
) -> None:
    """Put an export into the history of the study.

    Parameters
    ----------
    facts : mapping
        Plain values: release, numbers of people, the folder's name.
    why : str
        The reason to export although groups were too small; empty when none was.
    people : sequence of str
        Codes of those who are in it.

    Raises
    ------
    StudyError
        The study cannot be written, or somebody who is in it was erased meanwhile.
    """
    with study.write() as connection:
        there = {*connection.execute(select(PERSON.c.code)).scalars()}
        if gone := len({*people} - there):
            raise StudyError.of("erased_while_exported", where="export", n_people=gone)
        record(connection, "export", who=who, after=facts, why=why)
