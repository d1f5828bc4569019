"""The rows of a cohort in texts: the same on the screen, in a file and in a terminal.

In come rows of the table ``changes`` of one measure, out come texts, one list a row.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

from gaittrack.cohort.asking.question import plain_codes
from gaittrack.cohort.tables.reason_cells import unpacked
from gaittrack.compare.intervals.verdict import Verdict
from gaittrack.compare.row_words import (
    doubts,
    interval_words,
    label_words,
    number,
    signed,
    unit_words,
)
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.measures.measure import Measure

_VALUES: Final = ("reference_value", "value", "difference", "low", "high", "measurement_error")
SAID: Final = 8
"""Column of what may be said."""


def heads_of(measure: Measure) -> tuple[str, ...]:
    """Return the heads of the columns."""
    unit = unit_words(measure.unit)
    values = (f"Reference, {unit}", f"Condition, {unit}", "Change", "Whole 95 %", "Error")
    return ("Person", "Visit", "Side", *values, "What may be said", "Why, and what else to know")


def texts_of(changes: pd.DataFrame) -> list[list[str]]:
    """Return the cells of each row; the last one holds several texts, ``why_of``, in one."""
    if changes.empty:
        return []
    measure = MEASURE_BY_NAME[str(changes["measure_id"].iloc[0])]
    rows = changes.astype(dict.fromkeys(_VALUES, float)).to_dict("records")
    return [[*_cells(row, measure), " ".join(filter(None, why_of(row)))] for row in rows]


def _cells(row: Mapping[Any, Any], measure: Measure) -> list[str]:
    decimals = measure.decimals
    return [
        *(row["person"], str(row["visit_no"]), row["side"]),
        *(number(row[name], decimals) for name in ("reference_value", "value")),
        signed(row["difference"], decimals),
        interval_words(row["low"], row["high"], decimals),
        number(row["measurement_error"], decimals),
        Verdict(row["verdict"], None, row["direction"], row["typical"]).say(),
    ]


def why_of(row: Mapping[Any, Any]) -> tuple[str, str]:
    """Return why so much may be said with what makes the values doubtful, and the other labels."""
    own = unpacked(row["labels"])
    doubtful = doubts(own)
    told = [*map(str, unpacked(row["verdict_reason"])), *(f"! {each}" for each in doubtful)]
    others = [each for each in label_words(own) if each not in doubtful]
    return plain_codes("; ".join(told)), plain_codes("; ".join(others))
