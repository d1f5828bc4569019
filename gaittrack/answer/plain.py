"""An answer as plain values, for JSON and other programs.

In comes an :class:`Answer`, out come dicts and lists: sentences, the questions with the measures
that answer them, signs, and what was not told. NaN is None.
"""

from __future__ import annotations

from typing import Any, Final

from gaittrack.answer.answers import Answer
from gaittrack.answer.findings import Finding
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.judged.watch import WatchItem
from gaittrack.compare.walked.plain import plain_value
from gaittrack.reasons import Reason, as_json

_OF_ROW: Final = (
    *("measure", "unit", "reference_value", "value", "difference", "walks_low", "walks_high"),
    *("low", "high", "measurement_error", "adjusted_p", "verdict"),
)


def as_plain_answer(answer: Answer) -> dict[str, Any]:
    """Return an answer as plain values."""
    return {
        "condition": answer.condition,
        "reference": answer.reference,
        "legs": list(answer.legs),
        "sentences": answer.sentences(),
        "questions": [_plain_finding(each) for each in answer.findings],
        "other_leg": [_plain_finding(each) for each in answer.other_leg],
        "signs": {
            "new": [_plain_sign(item) for item in answer.new_signs],
            "without_too": [_plain_sign(item) for item in answer.signs_without_too],
            "in_some_steps": [_plain_sign(item) for item in answer.seen_in_some],
            "not_looked_for": list(answer.not_looked_for),
        },
    }


def _plain_finding(finding: Finding) -> dict[str, Any]:
    counts = None if finding.heel is None else finding.heel.counts
    return {
        "question": finding.question,
        "words": str(Reason(finding.question)),
        "side": "both" if finding.is_of_both_legs else finding.side,
        "is_aim": finding.is_aim,
        "kind": finding.kind,
        "verdict": finding.verdict,
        "measures": [_plain_row(row) for row in finding.rows],
        "heel_first_steps": None
        if counts is None
        else {
            "n": counts.own.n_kind,
            "n_steps": counts.own.n_steps,
            "n_reference": counts.reference.n_kind,
            "n_steps_reference": counts.reference.n_steps,
        },
    }


def _plain_row(row: ComparisonRow) -> dict[str, Any]:
    return {name: plain_value(getattr(row, name)) for name in (*_OF_ROW, "verdict_reason")}


def _plain_sign(item: WatchItem) -> dict[str, Any]:
    return {"sign": item.sign, "side": item.side, "reason": as_json(item.reason)}
