"""Rows and statistics of a cohort as the screen shows them: words, decimals, columns."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import pandas as pd
from dash import html
from dash.development.base_component import Component

from dashboards.cohort.filters import Wanted, plain_codes
from dashboards.parts.controls import table
from gaittrack.cohort.reason_cells import unpacked
from gaittrack.compare.row_words import doubts, interval_words, number, signed, unit_words
from gaittrack.compare.verdict import Verdict
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.figures.cohort_changes import drawn_rows
from gaittrack.measures.measure import Measure

_NUMBERS: Final = (
    ("reference_value", "Reference"),
    ("value", "Value"),
    ("difference", "Difference"),
    ("low", "Low"),
    ("high", "High"),
    ("measurement_error", "Error"),
)


def _column(field: str, name: str, **more: Any) -> dict[str, Any]:
    return {"field": field, "headerName": name, **more}


COLUMNS: Final = [
    _column("person", "Person", minWidth=80, maxWidth=130),
    _column("visit_no", "Visit", minWidth=70, maxWidth=90),
    _column("side", "Side", minWidth=70, maxWidth=90),
    *(_column(field, name, type="numericColumn", minWidth=105) for field, name in _NUMBERS),
    _column("verdict", "What may be said", minWidth=170, wrapText=True, autoHeight=True),
    _column("why", "Why", minWidth=300, wrapText=True, autoHeight=True),
    _column("n_labels", "Labels", maxWidth=90, tooltipField="labels"),
]
"""Low and high are the ends of the 95 % interval; error is measurement error. What makes a value
doubtful stands in the column why; all labels are counted, and said when the pointer is on the
number, and on paper."""
MOST_ON_PAPER: Final = 200
"""About five sheets; own choice."""


def grid_rows(changes: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of the grid, numbers with the decimals worth printing.

    Parameters
    ----------
    changes : DataFrame
        Of one measure.
    """
    if changes.empty:
        return []
    measure = MEASURE_BY_NAME[str(changes["measure_id"].iloc[0])]
    columns: dict[str, list[Any]] = {
        name: changes[name].tolist() for name in ("person", "visit_no", "side")
    }
    for field, _ in _NUMBERS:
        rounded = changes[field].astype(float).round(measure.decimals)
        columns[field] = [None if math.isnan(value) else value for value in rounded.tolist()]
    columns["verdict"] = _said(changes, ("verdict", "direction", "typical"), _verdict_words)
    columns["why"] = _said(changes, ("verdict_reason", "labels"), _why)
    columns["labels"] = _said(changes, ("labels",), _reasons)
    columns["n_labels"] = [len(unpacked(cell)) or "" for cell in changes["labels"].tolist()]
    lines = zip(*columns.values(), strict=True)
    return [dict(zip(columns, line, strict=True)) for line in lines]


def _said(changes: pd.DataFrame, names: Sequence[str], say: Callable[..., str]) -> list[str]:
    """Return what some columns say together, row by row; each different row is said once."""
    rows = list(zip(*(changes[name].tolist() for name in names), strict=True))
    words = {row: say(*row) for row in set(rows)}
    return [words[row] for row in rows]


def _verdict_words(code: str, direction: str, typical: str) -> str:
    return Verdict(code, None, direction, typical).say()


def _why(reason: str, labels: str) -> str:
    """Return why so much may be said, and what makes the values doubtful."""
    told = [_reasons(reason), *(f"! {plain_codes(each)}" for each in doubts(unpacked(labels)))]
    return "; ".join(filter(None, told))


def _reasons(cell: str) -> str:
    return plain_codes("; ".join(map(str, unpacked(cell))))


def paper_table(rows: Sequence[Mapping[str, Any]], decimals: int) -> list[Component]:
    """Return the rows of the grid as a plain table, for paper only.

    Parameters
    ----------
    rows : sequence of dict
        From :func:`grid_rows`.

    Returns
    -------
    list of Component
        At most ``MOST_ON_PAPER`` rows; the number of the others is said.
    """
    if not rows:
        return []
    heads = [column["headerName"] for column in COLUMNS]
    fields = [str(column["field"]).removeprefix("n_") for column in COLUMNS]  # labels in words
    numbers = [place for place, field in enumerate(fields) if field in dict(_NUMBERS)]
    cells = [
        [_number_cell(row[f], decimals) if f in dict(_NUMBERS) else str(row[f]) for f in fields]
        for row in rows[:MOST_ON_PAPER]
    ]
    parts: list[Component] = [table(heads, cells, caption="Rows", numbers=numbers)]
    if len(rows) > MOST_ON_PAPER:
        parts.append(html.P(f"{len(rows) - MOST_ON_PAPER} rows more are on the screen only."))
    return parts


def _number_cell(value: float | None, decimals: int) -> str:
    return number(math.nan if value is None else value, decimals)


def counts_words(changes: pd.DataFrame) -> str:
    """Return how many rows and people fit, and how many of them have a comparable difference."""
    n_people = changes["person"].nunique()
    n_comparable = len(drawn_rows(changes))
    return (
        f"Rows: {len(changes)}, of {n_people} {'person' if n_people == 1 else 'people'}; "
        f"{n_comparable} with a comparable difference. "
        "What is not defined or not comparable stays in the table, with the reason."
    )


def statistics_parts(statistics: pd.DataFrame, wanted: Wanted) -> list[Component]:
    """Return the statistics of what was chosen.

    Parameters
    ----------
    statistics : DataFrame
        Columns of ``statistics`` in ``dictionary.csv``; of one measure, side and pair.
    """
    if statistics.empty:
        return [html.P("No statistics: nobody fits.")]
    row = statistics.iloc[0]
    measure = MEASURE_BY_NAME[wanted.measure]
    unit = unit_words(measure.unit)
    return [
        table(
            ("", f"Difference ({unit})", "95 % interval", "From"),
            [_mean_row(row, measure), _model_row(row, measure)],
            caption=f"{measure.title}: {wanted.names[0]} minus {wanted.names[1]}",
            numbers=(1, 2),
        ),
        table(
            ("People whose change is", "Number"),
            [(words, str(int(row[name]))) for name, words in _COUNTS],
            caption="At the first visit with both conditions, of those chosen",
            numbers=(1,),
        ),
    ]


_COUNTS: Final = (
    ("n_toward", "larger than measurement error, toward typical"),
    ("n_away", "larger than measurement error, away from typical"),
    ("n_larger_without_direction", "larger than measurement error, neither toward nor away"),
    (
        "n_change_in_these_walks",
        "in these walks, which measuring error or chance can make",
    ),
    ("n_no_change_larger", "none larger than measurement error"),
    ("n_not_shown", "not shown"),
    ("n_no_error_figure", "without a known measurement error"),
    ("n_not_comparable", "not comparable"),
    ("n_not_trusted", "not trusted"),
    ("n_not_defined", "not defined"),
    ("n_missing", "missing"),
)


def _mean_row(row: pd.Series[Any], measure: Measure) -> tuple[str, ...]:
    return (
        "Mean over people",
        signed(row["mean_difference"], measure.decimals),
        interval_words(row["low"], row["high"], measure.decimals),
        f"{int(row['n_people'])} people, one difference each",
    )


def _model_row(row: pd.Series[Any], measure: Measure) -> tuple[str, ...]:
    counts = f"{int(row['mixed_n_differences'])} differences of {int(row['mixed_n_people'])} people"
    return (
        "Mixed model over all visits, people may differ in the effect",
        signed(row["mixed_difference"], measure.decimals),
        interval_words(row["mixed_low"], row["mixed_high"], measure.decimals),
        "; ".join(map(str, unpacked(row["mixed_reason"]))) or counts,
    )
