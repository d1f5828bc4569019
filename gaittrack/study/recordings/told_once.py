"""Warnings that every walk of a laboratory has: told once, answered once.

In comes a study, out come the warnings that all of its newest walks share, with the answer where
there is one; in comes an answer, and no walk waits for that warning any more.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, select

from gaittrack.reasons import Reason, from_plain
from gaittrack.record.answered_warnings import refuse_unanswerable, warning_key
from gaittrack.study.checksums import WORD_COLUMNS, words_hold
from gaittrack.study.laboratory import keep_answers, laboratory_answers
from gaittrack.study.store import Study
from gaittrack.study.tables import RESULT, TRIAL

NEWEST: Final = 20
"""Walks that are looked at; own choice: some two visits."""
LEAST_WALKS: Final = 6
"""Fewer tell nothing of a laboratory: one visit of three walks in each condition; own choice."""


@dataclass(frozen=True, slots=True)
class HeldWarning:
    """A warning of the laboratory.

    Attributes
    ----------
    key : str
        As it is answered; see :func:`gaittrack.record.answered_warnings.warning_key`.
    reason : Reason or None
        Its words; None for one that was answered and is in no walk any more.
    n_walks : int
        Newest walks that have it.
    answer : str
        Empty while nobody has answered.
    """

    key: str
    reason: Reason | None
    n_walks: int
    answer: str = ""


def held_warnings(connection: Connection) -> list[HeldWarning]:
    """Return the warnings that all of the newest walks have, and all that were answered."""
    answers = laboratory_answers(connection)
    walks = [_warnings(row) for row in _newest(connection)]
    told = {key: reason for walk in walks for key, reason in walk.items()}
    counts = {key: sum(key in walk for walk in walks) for key in told}
    every = [key for key, n in counts.items() if n == len(walks) >= LEAST_WALKS]
    return [
        HeldWarning(key, told.get(key), counts.get(key, 0), answers.get(key, ""))
        for key in dict.fromkeys([*every, *answers])
    ]


def answer_warning(study: Study, key: str, answer: str, *, who: str, why: str = "") -> None:
    """Answer a warning for every walk; an empty answer takes it back.

    Raises
    ------
    LayoutError
        It may not be answered for all walks at once.
    """
    refuse_unanswerable(key, "answer")
    with study.write() as connection:
        answers = {**laboratory_answers(connection), key: answer.strip()}
        kept = {each: words for each, words in answers.items() if words}
        keep_answers(connection, kept, who=who, why=why or answer)


def _newest(connection: Connection) -> list[Any]:
    query = (
        select(TRIAL.c.sha256, *WORD_COLUMNS)
        .join_from(TRIAL, RESULT)
        .where(TRIAL.c.kind == "walk", RESULT.c.refusal == "")
        .order_by(TRIAL.c.id.desc())
        .limit(NEWEST)
    )
    return [row for row in connection.execute(query).mappings() if words_hold(row)]


def _warnings(row: Any) -> dict[str, Reason]:
    warned = (each for each in json.loads(row["problems"]) if each["level"] == "warning")
    reasons = [from_plain(each["reason"]) for each in warned if "reason" in each]
    keys = ((warning_key(reason), reason) for reason in reasons)
    return {key: reason for key, reason in keys if key is not None}
