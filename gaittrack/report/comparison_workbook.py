"""A comparison as a workbook: its answer, every change, the walks' values and their strides.

In comes a comparison, out come the bytes of an XLSX file. It names no file, whose name may hold a
person's; no cell begins a formula.
"""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO
from typing import Any, Final

import pandas as pd

from gaittrack.answer import Answer, answers
from gaittrack.answer.outcome_words import outcome_title
from gaittrack.answer.outcomes import Outcome, outcomes
from gaittrack.answer.sentences import chip_of_finding
from gaittrack.file_comparison import FileComparison
from gaittrack.notice import NOTICE
from gaittrack.reasons import Reason
from gaittrack.study.results.comparing import StoredComparison

XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
"""Media type of what is made here."""
_PLAIN: Final[Mapping[str, Any]] = {"strings_to_formulas": False, "strings_to_urls": False}
_NOT_TOLD: Final = ["file"]
_EVERYDAY: Final = (
    *("outcome", "condition", "reference", "reference value", "value", "reference repeats"),
    *("repeats", "change", "low", "high", "error", "whose error", "what may be said"),
)


def comparison_workbook(found: StoredComparison | FileComparison) -> bytes:
    """Return a comparison as an XLSX file: answer, everyday, changes, walks and strides."""
    told = [line for answer in answers(found.comparison) for line in _lines(answer)]
    told.append(("", "", "", NOTICE))
    sheets = {
        "answer": pd.DataFrame(told, columns=["condition", "question", "side", "what may be said"]),
        "everyday": pd.DataFrame(
            map(_outcome, outcomes(found.comparison)), columns=list(_EVERYDAY)
        ),
        "changes": found.changes(),
        "walks": found.values().drop(columns=_NOT_TOLD),
        "strides": found.strides().drop(columns=_NOT_TOLD),
    }
    content = BytesIO()
    with pd.ExcelWriter(
        content, engine="xlsxwriter", engine_kwargs={"options": dict(_PLAIN)}
    ) as book:
        for name, sheet in sheets.items():
            sheet.to_excel(book, sheet_name=name, index=False, freeze_panes=(1, 0))
    return content.getvalue()


def _lines(answer: Answer) -> list[tuple[str, str, str, str]]:
    sentences = [(answer.condition, "", "", each) for each in answer.sentences()]
    questions = [
        (
            answer.condition,
            str(Reason(each.question)),
            "" if each.is_of_both_legs else each.side,
            str(chip_of_finding(each)),
        )
        for each in (*answer.findings, *answer.other_leg)
    ]
    return [*sentences, *questions]


def _outcome(told: Outcome) -> tuple[object, ...]:
    own, other = told.own, told.reference
    repeats = ["; ".join(f"{n:g}" for n in each.repeats) or each.answer for each in (other, own)]
    return (
        *(outcome_title(told), own.condition, other.condition, other.value, own.value, *repeats),
        *(told.difference, told.low, told.high, told.error),
        *("" if told.error_source is None else str(told.error_source), told.verdict.say()),
    )
