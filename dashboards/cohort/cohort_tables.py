"""Rows and statistics of a cohort as the screen shows them: words, decimals, columns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd
from dash import html
from dash.development.base_component import Component

from dashboards.cohort.filters import Wanted, plain_codes
from dashboards.parts.controls import table
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import pressing
from dashboards.shell.bars import address_of
from gaittrack.answer.sentences import CHIPS
from gaittrack.cohort.reason_cells import unpacked
from gaittrack.compare.row_words import (
    doubts,
    interval_words,
    label_words,
    number,
    signed,
    unit_words,
)
from gaittrack.compare.verdict import Verdict
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.figures.cohort_changes import drawn_rows
from gaittrack.measures.measure import Measure
from gaittrack.report.board import chip_html

FIRST_ROWS: Final = 25
MORE_ROWS: Final = 100
MORE: Final = "cohort-more"
"""``dcc.Store``: how many rows to show, and of what."""
BY_PERSON: Final = "person"
ORDERS: Final = {
    BY_PERSON: "by person",
    "smallest": "smallest change first",
    "largest": "largest change first",
    "said": "by what may be said",
}
_HEADS: Final = (
    *("Person", "Visit", "Side", "Reference", "Value", "Difference", "95 % interval", "Error"),
    *("What may be said", "Why, and what else to know"),
)
_VALUES: Final = ("reference_value", "value", "difference", "low", "high", "measurement_error")
_NUMBERS: Final = (1, 3, 4, 5, 6, 7)
"""Columns of numbers; error is measurement error."""


def in_order(changes: pd.DataFrame, order: str) -> pd.DataFrame:
    """Return the rows in one of ``ORDERS``; without a difference they come last."""
    if order == BY_PERSON or changes.empty:
        return changes
    if order == "said":
        place_of = list(CHIPS).index
        return changes.sort_values("verdict", kind="stable", key=lambda own: own.map(place_of))
    return changes.sort_values("difference", ascending=order == "smallest", kind="stable")


def rows_table(
    rows: pd.DataFrame, people: Mapping[str, int], n_all: int, shown_of: Any
) -> list[Component]:
    """Return rows of the table ``changes`` of one measure as they are shown.

    Parameters
    ----------
    people : mapping of person to int
        Their row numbers.
    n_all : int
        How many rows there are.
    shown_of
        Plain: what was chosen; more rows are asked for of that.
    """
    if rows.empty:
        return [html.P("No rows: nobody fits.")]
    measure = MEASURE_BY_NAME[str(rows["measure_id"].iloc[0])]
    rows = rows.astype(dict.fromkeys(_VALUES, float))
    cells = [_cells(row, measure, people) for row in rows.to_dict("records")]
    title = f"Rows: {len(rows):,} of {n_all:,}"
    shown = table(_HEADS, cells, caption=title, numbers=_NUMBERS)
    if len(rows) == n_all:
        return [shown]
    ways = (("show the next 100", len(rows) + MORE_ROWS), ("show all", n_all))
    buttons: list[Any] = []
    for words, n_rows in ways:
        wanted = pressing(MORE, {"rows": n_rows, "of": shown_of})
        buttons += [" · ", html.Button(words, className="plain no-print", **wanted)]
    return [shown, html.Div([title, *buttons], className="foot")]


def n_rows(more: Any, shown_of: Any) -> int:
    """Return how many rows to show: more were asked for of what is still chosen."""
    wanted = (more or {}).get("value", {})
    return int(wanted["rows"]) if wanted.get("of") == shown_of else FIRST_ROWS


def _cells(row: Mapping[Any, Any], measure: Measure, people: Mapping[str, int]) -> list[Any]:
    code, decimals = row["person"], measure.decimals
    link = html.A(code, href=address_of("/overview", people[code])) if code in people else code
    verdict = Verdict(row["verdict"], None, row["direction"], row["typical"]).say()
    return [
        *(link, str(row["visit_no"]), row["side"]),
        *(number(row[name], decimals) for name in ("reference_value", "value")),
        signed(row["difference"], decimals),
        interval_words(row["low"], row["high"], decimals),
        number(row["measurement_error"], decimals),
        Markup(chip_html("", row["verdict"], verdict)),
        _why(row["verdict_reason"], row["labels"]),
    ]


def _why(reason: str, labels: str) -> list[Any]:
    """Return why so much may be said, what makes the values doubtful, and the other labels."""
    own = unpacked(labels)
    doubtful = doubts(own)
    told = [*map(str, unpacked(reason)), *(f"! {each}" for each in doubtful)]
    others = [each for each in label_words(own) if each not in doubtful]
    small = [html.Small(plain_codes("; ".join(others)))] if others else []
    return [plain_codes("; ".join(told)), *small]


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
