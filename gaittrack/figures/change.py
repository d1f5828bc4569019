"""The change plot: differences with their intervals, in units of measurement error.

In come rows of a comparison, out comes one figure with one line per row. Divided by its own
measurement error every measure fits on one axis, and one band of error serves all of them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

from gaittrack.compare.row_words import signed, unit_words
from gaittrack.compare.rows import ComparisonRow
from gaittrack.compare.verdict import NOT_COMPARABLE
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.figures.condition_styles import Figure, Style, plain_layout
from gaittrack.figures.pieces import axis, box, spread
from gaittrack.reasons import Reason

ERROR_FILL: Final = "rgba(128,128,128,0.25)"
_LINE_PX: Final = 50


def is_drawn(row: ComparisonRow) -> bool:
    """Tell whether a row has a difference that may be compared with measurement error."""
    numbers = (row.difference, row.measurement_error)
    return (
        all(map(math.isfinite, numbers))
        and row.measurement_error > 0
        and row.verdict != NOT_COMPARABLE
    )


def draw_changes(rows: Sequence[ComparisonRow], styles: Mapping[str, Style]) -> Figure:
    """Draw the changes of several rows.

    Parameters
    ----------
    rows : sequence of ComparisonRow
        All against one reference; the first is drawn on top. Rows that ``is_drawn`` refuses are
        left out.
    styles : mapping of condition name to Style
        Of every condition of the comparison, the reference among them.

    Returns
    -------
    Figure
        A change of 1 is as large as measurement error; the label says it in the measure's unit.

    Raises
    ------
    ValueError
        No rows.
    """
    if not rows:
        raise ValueError("rows must not be empty")
    drawn = [row for row in rows if is_drawn(row)]
    several = len(styles) > 2
    names = list(dict.fromkeys(row.condition for row in drawn))
    places = {id(row): len(drawn) - 1 - number for number, row in enumerate(drawn)}
    traces = [
        _trace(name, [row for row in drawn if row.condition == name], places, styles[name].colour)
        for name in names
    ]
    return {
        "data": traces,
        "layout": plain_layout(
            title={"text": f"Change against {rows[0].reference}"},
            xaxis=axis("Change in units of measurement error", zeroline=True),
            yaxis=axis(
                "",
                tickvals=[places[id(row)] for row in drawn],
                ticktext=[_row_name(row, several=several) for row in drawn],
                range=[-0.6, len(drawn) - 0.2],
                showgrid=False,
                zeroline=False,
            ),
            shapes=[box(-1, 1, (0, 1), ERROR_FILL, "measurement error")],
            height=120 + _LINE_PX * len(drawn),
            margin={"l": 12, "r": 12, "t": 44, "b": 44},
            showlegend=several,
            legend={"orientation": "h", "x": 1, "xanchor": "right", "y": 1.06},
        ),
    }


def _row_name(row: ComparisonRow, *, several: bool) -> str:
    measure = MEASURE_BY_NAME[row.measure]
    change = f"{signed(row.difference, measure.decimals)} {unit_words(row.unit)}"
    condition = f", {row.condition}" if several else ""
    return f"{measure.title}, {row.side}{condition}: {change}"


def _trace(name: str, rows: Sequence[ComparisonRow], places: dict[int, int], colour: str) -> Figure:
    return {
        "type": "scatter",
        "mode": "markers",
        "name": name,
        "x": [round(row.difference / row.measurement_error, 4) for row in rows],
        "y": [places[id(row)] for row in rows],
        "error_x": spread(
            [_reach(row.high - row.difference, row) for row in rows],
            [_reach(row.difference - row.low, row) for row in rows],
            colour,
        ),
        "marker": {"color": colour, "size": 10},
        "text": [str(Reason(row.verdict)) for row in rows],
        "hovertemplate": "%{x:.2f} times measurement error (%{text})",
    }


def _reach(reach: float, row: ComparisonRow) -> float | None:
    return round(reach / row.measurement_error, 4) if math.isfinite(reach) else None
