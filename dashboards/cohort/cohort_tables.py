"""Rows of a cohort as the screen shows them: links, chips, so many at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import pandas as pd
from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import table
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import pressing
from dashboards.shell.bars import address_of
from gaittrack.answer.sentences import CHIPS
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.report.board import chip_html
from gaittrack.report.cohort_rows import SAID, heads_of, texts_of, why_of

FIRST_ROWS: Final = 10
MORE_ROWS: Final = 100
MORE: Final = "cohort-more"
"""``dcc.Store``: how many rows to show, and of what."""
SAVE_ROWS: Final = "cohort-save"
"""``dcc.Store``: all rows were asked for as a file."""
BY_PERSON: Final = "person"
ORDERS: Final = {
    BY_PERSON: "by person",
    "smallest": "smallest change first",
    "largest": "largest change first",
    "said": "by what may be said",
}
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
        How many rows there are; the file that is saved has them all.
    shown_of
        Plain: what was chosen; more rows are asked for of that.
    """
    if rows.empty:
        return [html.P("No rows: nobody fits.")]
    measure = MEASURE_BY_NAME[str(rows["measure_id"].iloc[0])]
    told = zip(rows.to_dict("records"), texts_of(rows), strict=True)
    cells = [_cells(row, texts, people) for row, texts in told]
    title = f"Rows: {len(rows):,} of {n_all:,}"
    shown = table(
        heads_of(measure), cells, caption=title, numbers=_NUMBERS, saves_through=SAVE_ROWS
    )
    if len(rows) == n_all:
        return [shown]
    ways = (("show the next 100", len(rows) + MORE_ROWS), ("show all", n_all))
    buttons: list[Any] = []
    for words, n_rows in ways:
        wanted = pressing(MORE, {"rows": n_rows, "of": shown_of})
        buttons += [" · ", html.Button(words, className="plain", **wanted)]
    more = html.Span(buttons, className="no-print")
    return [shown, html.Div([title, more], className="foot")]


def n_rows(more: Any, shown_of: Any) -> int:
    """Return how many rows to show: more were asked for of what is still chosen."""
    wanted = (more or {}).get("value", {})
    return int(wanted["rows"]) if wanted.get("of") == shown_of else FIRST_ROWS


def _cells(row: Mapping[Any, Any], texts: Sequence[str], people: Mapping[str, int]) -> list[Any]:
    code = texts[0]
    link = html.A(code, href=address_of("/overview", people[code])) if code in people else code
    why, others = why_of(row)
    return [
        link,
        *map(with_minus, texts[1:SAID]),
        Markup(chip_html("", row["verdict"], texts[SAID])),
        [why, html.Small(others)] if others else [why],
    ]
