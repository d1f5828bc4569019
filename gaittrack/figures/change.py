"""The change plot: difference, its interval, and the band of measurement error.

In come rows of a comparison in one unit, out comes a figure with one line per row.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from gaittrack.compare.row_words import unit_words
from gaittrack.compare.rows import ComparisonRow
from gaittrack.compare.verdict import NOT_COMPARABLE
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.figures.condition_styles import Figure, condition_styles, plain_layout

FLOOR_FILL: Final = "rgba(128,128,128,0.25)"
_HALF_HEIGHT: Final = 0.36
_LINE_PX: Final = 54


def is_drawn(row: ComparisonRow) -> bool:
    """Tell whether a row has a difference that may be compared with measurement error."""
    return math.isfinite(row.difference) and row.verdict != NOT_COMPARABLE


def draw_changes(rows: Sequence[ComparisonRow]) -> Figure:
    """Draw the changes of several rows.

    Parameters
    ----------
    rows : sequence of ComparisonRow
        All in one unit and against one reference; the first is drawn on top. Rows that
        ``is_drawn`` refuses are left out.

    Returns
    -------
    Figure

    Raises
    ------
    ValueError
        No rows, or rows of several units.
    """
    units = {row.unit for row in rows}
    if len(units) != 1:
        raise ValueError(f"rows must have one unit, got {sorted(units)}")
    drawn = [row for row in rows if is_drawn(row)]
    styles = condition_styles([row.condition for row in rows], rows[0].reference)
    names = list(dict.fromkeys(row.condition for row in drawn))
    places = {id(row): len(drawn) - 1 - number for number, row in enumerate(drawn)}
    unit = unit_words(rows[0].unit)
    traces = [
        _trace(name, [row for row in drawn if row.condition == name], places, styles[name].colour)
        for name in names
    ]
    return {
        "data": traces,
        "layout": plain_layout(
            title={"text": f"Change against {rows[0].reference} ({unit})"},
            xaxis={"title": {"text": f"Difference ({unit})"}, "zeroline": True},
            yaxis={
                "tickvals": [places[id(row)] for row in drawn],
                "ticktext": [_row_name(row, several=len(names) > 1) for row in drawn],
                "range": [-0.6, len(drawn) - 0.4],
                "title": {"text": ""},
            },
            shapes=[_floor(row, places[id(row)]) for row in drawn if math.isfinite(row.floor)],
            height=120 + _LINE_PX * len(drawn),
            showlegend=len(names) > 1,
        ),
    }


def _row_name(row: ComparisonRow, *, several: bool) -> str:
    name = f"{MEASURE_BY_NAME[row.measure].title}, {row.side}"
    counts = f"{row.n_walks_reference}+{row.n_walks} walks"
    return f"{name}, {row.condition} ({counts})" if several else f"{name} ({counts})"


def _trace(name: str, rows: Sequence[ComparisonRow], places: dict[int, int], colour: str) -> Figure:
    return {
        "type": "scatter",
        "mode": "markers",
        "name": name,
        "x": [round(row.difference, 4) for row in rows],
        "y": [places[id(row)] for row in rows],
        "error_x": {
            "type": "data",
            "symmetric": False,
            "array": [_reach(row.high, row.difference) for row in rows],
            "arrayminus": [_reach(row.difference, row.low) for row in rows],
            "color": colour,
        },
        "marker": {"color": colour, "size": 10},
        "text": [row.verdict for row in rows],
        "hovertemplate": "%{x} (%{text})",
    }


def _reach(far: float, near: float) -> float | None:
    reach = far - near
    return round(reach, 4) if math.isfinite(reach) else None


def _floor(row: ComparisonRow, place: int) -> Figure:
    return {
        "type": "rect",
        "xref": "x",
        "yref": "y",
        "x0": round(-row.floor, 4),
        "x1": round(row.floor, 4),
        "y0": place - _HALF_HEIGHT,
        "y1": place + _HALF_HEIGHT,
        "fillcolor": FLOOR_FILL,
        "line": {"width": 0},
        "layer": "below",
        "name": "measurement error",
    }
