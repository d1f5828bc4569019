"""What a person should look at in a walk, which walks of a person wait for it, and its history.

In comes a connection, out come the trials of one person with the reasons to look at them, one trial
by its number, or everything that was done to a trial. Nothing here looks at the files.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal, get_args

from sqlalchemy import Connection, Row, Select, select

from gaittrack.cycles import PARTIAL
from gaittrack.errors import StudyError
from gaittrack.study.corrections.applying import EXCLUDED, CorrectionKind
from gaittrack.study.corrections.making import corrections_of
from gaittrack.study.history import entries
from gaittrack.study.results.checksums import WORD_COLUMNS, words_hold
from gaittrack.study.results.keeping import KnownTrial
from gaittrack.study.tables import CONDITION, CORRECTION, PERSON, RESULT, TRIAL, VISIT

TrialKind = Literal["walk", "standing"]
DAMAGED_WORDS: Final = ("stored result damaged: measure it again",)
_CHANGES: Final = frozenset(get_args(CorrectionKind))


@dataclass(frozen=True, slots=True)
class ListedTrial:
    """One trial of a person, as a list shows it.

    Attributes
    ----------
    reasons : tuple of str
        Why a person should look; empty when nothing asks for it, or somebody has looked.
    """

    trial: KnownTrial
    kind: TrialKind
    person_id: int
    visit_id: int
    condition_id: int
    reasons: tuple[str, ...]


def reasons_to_look(
    refusal: str, problems: Iterable[Mapping[str, Any]], cycles: Iterable[Mapping[str, Any]]
) -> tuple[str, ...]:
    """Return why a person should look at a walk, in words.

    Parameters
    ----------
    refusal : str
        Why it could not be measured; empty when it was.
    problems, cycles : iterables of mapping
        As they are stored with a result.

    Returns
    -------
    tuple of str
        The last stride of each foot, which no recording ends, and strides that a person left out
        are no reasons.
    """
    if refusal:
        return ("could not be measured",)
    cycles = tuple(cycles)
    n_apart = sum(len(cycle["review_reasons"]) for cycle in cycles)
    n_rejected = sum(_is_odd(cycle["reject_reasons"]) for cycle in cycles)
    n_warnings = sum(problem["level"] != "info" for problem in problems)
    counts = (
        (n_apart, "time seen differently by two sources", "times seen differently by two sources"),
        (n_rejected, "stride not counted", "strides not counted"),
        (n_warnings, "warning", "warnings"),
    )
    return tuple(f"{n} {one if n == 1 else many}" for n, one, many in counts if n)


def _is_odd(reject_reasons: Iterable[str]) -> bool:
    return any(each != PARTIAL and not each.startswith(EXCLUDED) for each in reject_reasons)


def trials_of_person(connection: Connection, person_id: int) -> list[ListedTrial]:
    """Return every trial of a person: visits and conditions in order.

    Returns
    -------
    list of ListedTrial
        Within a condition walks that wait for a look come first, standing trials last.
    """
    query = (
        _trials(TRIAL.c.sha256, *WORD_COLUMNS)
        .where(PERSON.c.id == person_id)
        .order_by(VISIT.c.number, VISIT.c.code, CONDITION.c.code, TRIAL.c.code)
    )
    mine = CONDITION.join(VISIT).select().with_only_columns(CONDITION.c.id)
    looked = set(
        connection.execute(
            select(CORRECTION.c.trial_id)
            .join(TRIAL)
            .where(TRIAL.c.condition_id.in_(mine.where(VISIT.c.person_id == person_id)))
            .where(CORRECTION.c.kind == "looked_at", CORRECTION.c.is_undone.is_(False))
        ).scalars()
    )
    found = [_listed(row, row.id in looked) for row in connection.execute(query)]
    order = {key: place for place, key in enumerate(dict.fromkeys(map(_condition, found)))}
    return sorted(
        found, key=lambda one: (order[_condition(one)], one.kind != "walk", not one.reasons)
    )


def _condition(one: ListedTrial) -> int:
    return one.condition_id


def _trials(*more: Any) -> Select[Any]:
    return select(
        *(TRIAL.c.id, TRIAL.c.version, TRIAL.c.code, TRIAL.c.file_name, TRIAL.c.kind),
        *(PERSON.c.code.label("person"), PERSON.c.id.label("person_id")),
        *(VISIT.c.code.label("visit"), VISIT.c.id.label("visit_id")),
        *(CONDITION.c.code.label("condition"), CONDITION.c.id.label("condition_id")),
        *more,
    ).select_from(PERSON.join(VISIT).join(CONDITION).join(TRIAL).outerjoin(RESULT))


def _known(row: Row[Any]) -> KnownTrial:
    return KnownTrial(
        row.id, row.version, row.person, row.visit, row.condition, row.code, row.file_name
    )


def _listed(row: Row[Any], is_looked_at: bool) -> ListedTrial:
    reasons: tuple[str, ...] = ()
    if row.kind == "walk" and row.refusal is None:
        reasons = ("not measured yet",)
    elif row.kind == "walk" and not words_hold(row._mapping):
        reasons = DAMAGED_WORDS
    elif row.kind == "walk" and not is_looked_at:
        reasons = reasons_to_look(row.refusal, json.loads(row.problems), json.loads(row.cycles))
    return ListedTrial(
        _known(row), row.kind, row.person_id, row.visit_id, row.condition_id, reasons
    )


def known_trial(connection: Connection, trial_id: int) -> tuple[KnownTrial, TrialKind]:
    """Return one trial by its number, and its kind.

    Raises
    ------
    StudyError
        It is no longer in the study.
    """
    row = connection.execute(_trials().where(TRIAL.c.id == trial_id)).first()
    if row is None:
        raise StudyError(
            "The trial is no longer in the study.", where="trial", action="Choose another one."
        )
    return _known(row), row.kind


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
