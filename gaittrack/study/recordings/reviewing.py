"""What a person should look at in a walk, which walks of a person wait for it, and its history.

In comes a connection, out come the trials of one person with the reasons to look at them, one trial
by its number, or everything that was done to a trial. Nothing here looks at the files.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, Literal

from sqlalchemy import Connection, RowMapping, Select, select

from gaittrack.corrected import EXCLUDED, EXCLUDED_BECAUSE, ExcludeWalk, LookedAt
from gaittrack.cycles import PARTIAL
from gaittrack.errors import Problem, StudyError
from gaittrack.read.sheets.angle_signs import joint_in_doubt
from gaittrack.reasons import Reason, from_plain
from gaittrack.record.answered_warnings import warning_key
from gaittrack.study.checksums import DAMAGED, WORD_COLUMNS, words_hold
from gaittrack.study.correction_rows import KINDS
from gaittrack.study.corrections.looking import corrections_of
from gaittrack.study.history import entries
from gaittrack.study.laboratory import laboratory_answers
from gaittrack.study.people.enrolled import condition_of
from gaittrack.study.results.keeping import TRIAL_COLUMNS, KnownTrial
from gaittrack.study.tables import CONDITION, CORRECTION, PERSON, RESULT, TRIAL, VISIT

TrialKind = Literal["walk", "standing"]
NOT_MEASURABLE: Final = "not_measurable"
NOT_MEASURED_YET: Final = "not_measured_yet"
"""Codes of why there is nothing to look at."""
_CHANGES: Final = frozenset(KINDS.values())
_SETTLED: Final = (KINDS[LookedAt], KINDS[ExcludeWalk])
"""After these a walk no longer waits for a look."""


@dataclass(frozen=True, slots=True)
class ListedTrial:
    """One trial of a person, as a list shows it.

    Attributes
    ----------
    reasons : tuple of Reason
        Why a person should look; empty when nothing asks for it, or somebody has looked.
    n_counted, n_strides : int
        Strides that count, and all of them, when it was last measured.
    is_braced : bool or None
        Whether a brace was worn; None while nobody has said so.
    """

    trial: KnownTrial
    kind: TrialKind
    person_id: int
    visit_id: int
    condition_id: int
    reasons: tuple[Reason, ...]
    n_counted: int = 0
    n_strides: int = 0
    is_braced: bool | None = None


def reasons_to_look(
    refusal: str,
    problems: Iterable[Mapping[str, Any]],
    cycles: Iterable[Mapping[str, Any]],
    answered: Collection[str] = (),
) -> tuple[Reason, ...]:
    """Return why a person should look at a walk.

    Parameters
    ----------
    refusal : str
        As it is stored; empty when it was measured.
    problems, cycles : iterables of mapping
        As they are stored with a result.
    answered : collection of str
        Warnings that the laboratory has answered for all walks.

    Returns
    -------
    tuple of Reason
        The last stride of each foot, which no recording ends, and strides that a person left out
        are no reasons.
    """
    if refusal:
        return (Reason(NOT_MEASURABLE),)
    cycles = tuple(cycles)
    n_apart = sum(len(cycle["review_reasons"]) for cycle in cycles)
    n_rejected = sum(is_odd(one["code"] for one in cycle["reject_reasons"]) for cycle in cycles)
    warned = [problem for problem in problems if not _is_settled(problem, answered)]
    doubted = list(dict.fromkeys(filter(None, map(_joint_in_doubt, warned))))
    n_warnings = len(warned) - sum(_joint_in_doubt(problem) is not None for problem in warned)
    counts = (
        *((1, Reason("sign_in_doubt", angle=joint)) for joint in doubted),
        (n_apart, Reason("times_seen_differently", n=n_apart)),
        (n_rejected, Reason("strides_not_counted", n=n_rejected)),
        (n_warnings, Reason("warnings", n=n_warnings)),
    )
    return tuple(reason for n, reason in counts if n)


def _is_settled(stored: Mapping[str, Any], answered: Collection[str]) -> bool:
    """Tell whether nobody needs to look because of a problem."""
    if stored["level"] != "warning" or not answered or "reason" not in stored:
        return bool(stored["level"] == "info")
    return warning_key(from_plain(stored["reason"])) in answered


def _joint_in_doubt(stored: Mapping[str, Any]) -> str | None:
    """Return the angle whose sign a stored problem doubts."""
    if "reason" not in stored:
        return None
    return joint_in_doubt(Problem(stored["level"], from_plain(stored["reason"]), ""))


def is_odd(codes: Iterable[str]) -> bool:
    """Tell whether a stride is not counted for a reason that a person should judge."""
    return any(code not in (PARTIAL, EXCLUDED, EXCLUDED_BECAUSE) for code in codes)


def trials_of_person(connection: Connection, person_id: int) -> list[ListedTrial]:
    """Return every trial of a person: visits and conditions in order.

    Returns
    -------
    list of ListedTrial
        Within a condition walks that wait for a look come first, standing trials last.
    """
    return trials_of_people(connection, [person_id])[person_id]


def trials_of_people(connection: Connection, people: Sequence[int]) -> dict[int, list[ListedTrial]]:
    """Return :func:`trials_of_person` of several people, by their numbers."""
    query = (
        _trials(TRIAL.c.sha256, CONDITION.c.description, *WORD_COLUMNS)
        .where(PERSON.c.id.in_(people))
        .order_by(VISIT.c.number, VISIT.c.code, CONDITION.c.code, TRIAL.c.code)
    )
    mine = CONDITION.join(VISIT).select().with_only_columns(CONDITION.c.id)
    looked = set(
        connection.execute(
            select(CORRECTION.c.trial_id)
            .join(TRIAL)
            .where(TRIAL.c.condition_id.in_(mine.where(VISIT.c.person_id.in_(people))))
            .where(CORRECTION.c.kind.in_(_SETTLED), CORRECTION.c.is_undone.is_(False))
        ).scalars()
    )
    answered = laboratory_answers(connection)
    found: dict[int, list[ListedTrial]] = {person: [] for person in people}
    for row in connection.execute(query).mappings():
        found[row["person_id"]].append(_listed(row, row["id"] in looked, answered))
    return {person: _in_order(trials) for person, trials in found.items()}


def _in_order(found: Sequence[ListedTrial]) -> list[ListedTrial]:
    order = {key: place for place, key in enumerate(dict.fromkeys(map(_condition, found)))}
    return sorted(
        found, key=lambda one: (order[_condition(one)], one.kind != "walk", not one.reasons)
    )


def _condition(one: ListedTrial) -> int:
    return one.condition_id


def _trials(*more: Any) -> Select[Any]:
    return select(
        *TRIAL_COLUMNS,
        *(TRIAL.c.kind, PERSON.c.id.label("person_id"), VISIT.c.id.label("visit_id")),
        CONDITION.c.id.label("condition_id"),
        *more,
    ).select_from(PERSON.join(VISIT).join(CONDITION).join(TRIAL).outerjoin(RESULT))


def _listed(row: RowMapping, is_looked_at: bool, answered: Collection[str]) -> ListedTrial:
    reasons: tuple[Reason, ...] = ()
    kind, refusal = row["kind"], row["refusal"]
    is_whole = refusal is not None and words_hold(row)
    cycles = json.loads(row["cycles"]) if is_whole else []
    if kind == "walk" and refusal is None:
        reasons = (Reason(NOT_MEASURED_YET),)
    elif kind == "walk" and not is_whole:
        reasons = (DAMAGED,)
    elif kind == "walk" and not is_looked_at:
        reasons = reasons_to_look(refusal, json.loads(row["problems"]), cycles, answered)
    return ListedTrial(
        trial=KnownTrial.of(row),
        kind=kind,
        person_id=row["person_id"],
        visit_id=row["visit_id"],
        condition_id=row["condition_id"],
        reasons=reasons,
        n_counted=sum(not cycle["reject_reasons"] for cycle in cycles),
        n_strides=len(cycles),
        is_braced=_is_braced(row["condition"], row["description"]),
    )


@lru_cache(maxsize=4096)
def _is_braced(code: str, description: str) -> bool | None:
    return condition_of({"code": code, "description": description}).is_braced


def known_trial(connection: Connection, trial_id: int) -> tuple[KnownTrial, TrialKind]:
    """Return one trial by its number, and its kind.

    Raises
    ------
    StudyError
        It is no longer in the study.
    """
    row = connection.execute(_trials().where(TRIAL.c.id == trial_id)).first()
    if row is None:
        raise StudyError.of("trial_no_longer_in_study", where="trial")
    return KnownTrial.of(row._mapping), row.kind


def trial_history(connection: Connection, trial: KnownTrial) -> list[dict[str, Any]]:
    """Return everything that was done to a trial, in order.

    Returns
    -------
    list of dict
        As :func:`gaittrack.study.history.entries`, and ``correction``: the number of the correction
        that the entry made, while it counts; else None.
    """
    mine = [
        entry
        for entry in entries(connection, person=trial.person)
        if entry["after"].get("trial") == trial.place
    ]
    made = iter(corrections_of(connection, trial))
    for entry in mine:
        row = next(made, None) if entry["what"] in _CHANGES else None
        entry["correction"] = row["id"] if row is not None and not row["is_undone"] else None
    return mine
