"""Everyday outcomes of a cohort: what changed between the conditions of each visit.

In comes a de-identified :class:`CohortSource`, out comes one row per person, visit, pair of
conditions and outcome, judged as everywhere else.
"""

from __future__ import annotations

from typing import Any

import pandas as pd

from gaittrack.answer.outcomes import Outcome, Told, outcomes_of_pair
from gaittrack.cohort.people.source import CohortSource
from gaittrack.cohort.tables.changes import pairs_of_visits
from gaittrack.cohort.tables.reason_cells import packed


def outcomes_table(source: CohortSource) -> pd.DataFrame:
    """Return the outcomes of all people; pairs are those of the table of changes."""
    causes = dict(zip(source.people["person"], source.people["cause"], strict=True))
    rows = [
        {"export_id": person, "visit_no": int(visit)} | _row(outcome)
        for (person, visit), reference, own in pairs_of_visits(source)
        for outcome in outcomes_of_pair(own, reference, cause=causes[person])
    ]
    return pd.DataFrame(rows)


def _row(outcome: Outcome) -> dict[str, Any]:
    return {
        "condition_code": outcome.own.condition,
        "reference_code": outcome.reference.condition,
        "outcome_id": outcome.fact.name,
        "unit": outcome.unit or "1",
        **_told(outcome.own, ""),
        **_told(outcome.reference, "reference_"),
        "difference": outcome.difference,
        "low": outcome.low,
        "high": outcome.high,
        "measurement_error": outcome.error,
        "measurement_error_source": packed(outcome.error_source),
        "p": outcome.p,
        "adjusted_p": outcome.adjusted_p,
        "verdict": outcome.verdict.code,
        "verdict_reason": packed(outcome.verdict.reason),
        "direction": outcome.verdict.direction,
    }


def _told(told: Told, start: str) -> dict[str, Any]:
    return {
        f"{start}value": told.value,
        f"{start}repeats": len(told.repeats),
        f"{start}answer": told.answer or "done",
    }
