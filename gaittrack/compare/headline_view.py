"""The headline changes of a comparison as a small table for a notebook.

In comes a comparison, out come its first rows in the words of every other output, the signs that
were seen, what to know of fairness, and the caution that goes with results.
"""

from __future__ import annotations

from typing import Final

from gaittrack.compare.comparison import Comparison
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.row_words import (
    affected_first,
    fairness_points,
    first_rows,
    interval_words,
    number,
    sign_words,
    signed,
    unit_words,
    verdict_words,
)
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.notebook_view import SmallTable
from gaittrack.notice import NOTICE

_HEADS: Final = (
    *("measure", "unit", "side", "condition", "reference", "here", "change", "95 % interval"),
    *("measurement error", "verdict"),
)


def headline_changes(comparison: Comparison) -> SmallTable:
    """Return the headline rows of a comparison, and what stands above and below them elsewhere."""
    rows = affected_first(first_rows(comparison), comparison)
    signs = [sign_words(item) for item in comparison.watch if item.status == "fires"]
    fairness = [f"{head} {' '.join(said)}" for head, said in fairness_points(comparison).items()]
    notes = [*([f"Watch list: {'; '.join(signs)}."] if signs else []), *fairness]
    words = [comparison.settings[key] for key in ("cannot_show", "caution")]
    return SmallTable(_HEADS, tuple(map(_cells, rows)), (*notes, *words, NOTICE))


def _cells(row: ComparisonRow) -> tuple[str, ...]:
    measure = MEASURE_BY_NAME[row.measure]
    places = measure.decimals
    return (
        *(measure.title, unit_words(measure.unit), row.side, row.condition),
        *(number(row.reference_value, places), number(row.value, places)),
        *(signed(row.difference, places), interval_words(row.low, row.high, places)),
        number(row.measurement_error, places),
        verdict_words(row),
    )
