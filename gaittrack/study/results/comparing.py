"""Compare conditions of a study from what is stored, without measuring again.

In come the rows of conditions of one person, of one visit or of several; out comes the same
comparison that files give. Which conditions there are to choose from is told here too.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from sqlalchemy import Connection, bindparam, func, select

from gaittrack.compare.comparison import Comparison, compare_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.judged.watch import SIGN_MEASURES
from gaittrack.compare.walked.questions import QUESTION_MEASURES, aimed_questions
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.errors import StudyError
from gaittrack.file_comparison import ComparedWalks
from gaittrack.study.checksums import DamagedResultError, damaged_results
from gaittrack.study.laboratory import (
    ANSWERED,
    curves_for,
    is_map,
    laboratory_curves_of,
    laboratory_errors_of,
    laboratory_typical_of,
    typical_for,
)
from gaittrack.study.people.documents import unfolded
from gaittrack.study.people.enrolled import condition_of
from gaittrack.study.people.things import aims_of
from gaittrack.study.people.visit_days import in_time
from gaittrack.study.results.measuring_again import MeasuresAgain
from gaittrack.study.results.packing import stored_walks
from gaittrack.study.store import Study
from gaittrack.study.tables import AIM, CONDITION, PERSON, RESULT, SETTING, TRIAL, VISIT
from gaittrack.vocabulary import Joint


@dataclass(frozen=True, slots=True)
class StoredCondition:
    """One condition of one visit.

    Attributes
    ----------
    id, visit_id, person_id : int
        Row numbers.
    n_walks : int
        Recordings of walking that were measured and not refused.
    """

    id: int
    visit_id: int
    person_id: int
    visit: str
    code: str
    worn: Condition
    n_walks: int


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class StoredComparison(ComparedWalks):
    """A comparison made from stored results.

    Attributes
    ----------
    records : tuple of WalkRecord
        The walks in it.
    names : mapping of int to str
        What each condition's row is called in the comparison.
    person : str
        Code.
    trial_ids : mapping of str to int
        Row number of the recording of each walk, by the walk's id.
    damaged : frozenset of int
        Row numbers of the recordings whose stored result is damaged, and not in it.
    """

    comparison: Comparison
    records: tuple[WalkRecord, ...]
    names: Mapping[int, str]
    person: str
    trial_ids: Mapping[str, int]
    damaged: frozenset[int]

    def _facts(self) -> Mapping[str, object]:
        return {"person": self.person, **self.comparison._facts(), "walks": len(self.records)}


def conditions_of(study: Study, person_id: int) -> list[StoredCondition]:
    """Return every condition of a person.

    Parameters
    ----------
    person_id : int
        Row number.

    Returns
    -------
    list of StoredCondition
        Visits in the order of time, conditions in the order they were walked, else by name.
    """
    with study.read() as connection:
        return _conditions(connection, CONDITION.c.visit_id.in_(_visits_of(person_id)))


def _visits_of(person_id: int) -> Any:
    return select(VISIT.c.id).where(VISIT.c.person_id == person_id)


_N_WALKS: Final = (
    select(func.count())
    .select_from(TRIAL.join(RESULT))
    .where(TRIAL.c.condition_id == CONDITION.c.id, TRIAL.c.kind == "walk")
    .where(RESULT.c.refusal == "")
    .scalar_subquery()
)
_CONDITIONS: Final = select(
    *(CONDITION, VISIT.c.code.label("visit"), VISIT.c.person_id, VISIT.c.number),
    *(VISIT.c.date, VISIT.c.days_since_first_visit, _N_WALKS.label("n_walks")),
).join_from(CONDITION, VISIT)


def _conditions(connection: Connection, wanted: Any) -> list[StoredCondition]:
    query = _CONDITIONS.where(wanted)
    rows = [dict(row) for row in connection.execute(query).mappings()]
    rows.sort(key=lambda row: in_time(row | {"code": row["visit"]}))
    found = [
        StoredCondition(
            worn=condition_of(row),
            **{
                name: row[name]
                for name in ("id", "visit_id", "person_id", "visit", "code", "n_walks")
            },
        )
        for row in rows
    ]
    visits = list(dict.fromkeys(each.visit_id for each in found))
    found.sort(key=lambda one: (visits.index(one.visit_id), one.worn.order or 99, one.code))
    return found


def compare_stored(
    study: Study,
    condition_ids: Sequence[int],
    *,
    reference: int,
    measures: Collection[str] | None = None,
    with_curves: bool = True,
    joints: Collection[Joint] | None = None,
) -> StoredComparison:
    """Compare conditions of a person; the person's aims come first.

    Parameters
    ----------
    condition_ids : sequence of int
        Row numbers, of one visit or of several.
    reference : int
        The one of them that the others are compared with.
    measures : collection of str, optional
        Only these and those that verdicts and signs are made from; all without it.
    joints : collection of Joint, optional
        Whose curves to compare along the cycle; all without it.

    Raises
    ------
    StudyError
        A row is not there, the rows belong to two people, or stored results are damaged and those
        that are left cannot be compared. One that is damaged is not used.
    ComparisonError
        Fewer than two conditions have walks, or the reference has none.
    """
    with study.read() as connection:
        found = _conditions(connection, CONDITION.c.id.in_(list(condition_ids)))
        _refuse_wrong_rows(found, {*condition_ids, reference})
        names = _names(found)
        wanted = None if measures is None else {*measures, *QUESTION_MEASURES, *SIGN_MEASURES}
        # A row outside the questions is judged with all such rows: they are all there.
        records, trial_ids, damaged = _records(connection, found, names, with_curves)
        about = _about(connection, reference)
        of_laboratory = _of_laboratory(connection, about)
    with_walks = {record.condition for record in records}
    if damaged and (names[reference] not in with_walks or len(with_walks) < 2):
        raise next(iter(damaged.values()))
    comparison = compare_walks(
        records,
        reference=names[reference],
        conditions={
            names[each.id]: each.worn.known_as(names[each.id])
            for each in found
            if names[each.id] in with_walks
        },
        affected=about["affected_side"],
        **of_laboratory,
        joints=joints,
        aims=aimed_questions(about["aims"]),
        again=MeasuresAgain(study, trial_ids),
    )
    rows = tuple(row for row in comparison.rows if wanted is None or row.measure in wanted)
    settings = {**comparison.settings, "cause": about["cause"]}
    comparison = replace(comparison, rows=rows, settings=settings)
    code, left_out = about["code"], frozenset(damaged)
    return StoredComparison(comparison, tuple(records), names, code, trial_ids, left_out)


def _of_laboratory(connection: Connection, about: Mapping[str, Any]) -> dict[str, Any]:
    """Return the laboratory's own numbers to compare a person of an age with."""
    age = about.get("age_band"), about.get("age_years")
    return {
        "own_errors": laboratory_errors_of(connection),
        "typical": typical_for(laboratory_typical_of(connection), *age),
        "typical_curves": curves_for(laboratory_curves_of(connection), *age),
    }


def _about(connection: Connection, reference: int) -> dict[str, Any]:
    """Return what is known of the person, as old as at the reference's visit, and the aims."""
    columns = (PERSON.c.id, PERSON.c.code, PERSON.c.facts, VISIT.c.facts.label("of_visit"))
    query = select(*columns).select_from(PERSON.join(VISIT).join(CONDITION))
    row = connection.execute(query.where(CONDITION.c.id == reference)).mappings().one()
    found: dict[str, Any] = json.loads(row["of_visit"])
    own = unfolded("person", row)
    return found | own | {"aims": aims_of(connection, own["id"])}


_CHOSEN: Final = CONDITION.c.id.in_(bindparam("chosen", expanding=True))
_MADE_FROM: Final = (
    select(PERSON, VISIT, CONDITION.c.id, CONDITION.c.code, CONDITION.c.description)
    .select_from(PERSON.join(VISIT).join(CONDITION))
    .where(_CHOSEN)
    .order_by(CONDITION.c.id),
    select(
        *(TRIAL.c.id, TRIAL.c.code, RESULT.c.refusal, RESULT.c.software_version),
        *(RESULT.c.settings_hash, RESULT.c.measured_utc),
    )
    .select_from(CONDITION.join(TRIAL).outerjoin(RESULT))
    .where(_CHOSEN)
    .order_by(TRIAL.c.id),
    select(SETTING).where(SETTING.c.name != ANSWERED, ~is_map()).order_by(SETTING.c.name),
    select(AIM.c.id, AIM.c.facts)
    .where(AIM.c.person_id.in_(select(VISIT.c.person_id).join(CONDITION).where(_CHOSEN)))
    .order_by(AIM.c.id),
)


def state_of(study: Study, condition_ids: Sequence[int]) -> Hashable:
    """Return what a comparison of stored results depends on, to know whether one still holds.

    Returns
    -------
    hashable
        Equal as long as nothing was done that would change a number or a word. Damage is done by
        nobody: that of today is ``damaged_of``.
    """
    given = {"chosen": list(condition_ids)}
    with study.read() as connection:
        return tuple(tuple(map(tuple, connection.execute(query, given))) for query in _MADE_FROM)


def damaged_of(study: Study, condition_ids: Sequence[int]) -> frozenset[int]:
    """Return the row numbers of walks of conditions whose stored result is damaged."""
    walks = CONDITION.c.id.in_(list(condition_ids)) & (TRIAL.c.kind == "walk")
    with study.read() as connection:
        return damaged_results(connection, walks)


def _refuse_wrong_rows(found: Sequence[StoredCondition], wanted: set[int]) -> None:
    if {each.id for each in found} != wanted or len({each.person_id for each in found}) != 1:
        raise StudyError.of("conditions_gone_or_mixed", where="conditions")


def _names(found: Sequence[StoredCondition]) -> dict[int, str]:
    """Name conditions by what tells them apart: the code, the visit, or both."""
    if len({each.visit_id for each in found}) == 1:
        return {each.id: each.code for each in found}
    if len({each.code for each in found}) == 1:
        return {each.id: each.visit for each in found}
    return {each.id: f"{each.code}, {each.visit}" for each in found}


def _records(
    connection: Connection,
    found: Sequence[StoredCondition],
    names: Mapping[int, str],
    with_curves: bool,
) -> tuple[list[WalkRecord], dict[str, int], dict[int, DamagedResultError]]:
    query = (
        select(TRIAL, RESULT)
        .join_from(TRIAL, RESULT)
        .where(TRIAL.c.condition_id.in_(names), TRIAL.c.kind == "walk")
        .order_by(TRIAL.c.code)
    )
    by_condition: dict[int, list[WalkRecord]] = {each.id: [] for each in found}
    visits = {each.id: each.visit for each in found}
    trial_ids: dict[str, int] = {}
    damaged: dict[int, DamagedResultError] = {}
    for row in connection.execute(query).mappings():
        own = row["condition_id"]
        try:
            walks = stored_walks(
                dict(row),
                dict(row),
                condition=names[own],
                session=visits[own],
                with_curves=with_curves,
            )
        except DamagedResultError as error:
            damaged[row["id"]] = error
            continue
        by_condition[own] += walks
        trial_ids |= {walk.walk_id: row["id"] for walk in walks}
    records = [record for records in by_condition.values() for record in records]
    return records, trial_ids, damaged
