"""A cohort in two pictures: each person's pair of values, and everybody's change in order.

In come rows of the table ``changes`` of one measure and one pair of conditions, out come figures.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import pandas as pd

from gaittrack.compare.row_words import unit_words
from gaittrack.compare.verdict import NOT_COMPARABLE
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.figures.condition_styles import (
    OTHER_STYLES,
    REFERENCE_STYLE,
    Figure,
    plain_layout,
)
from gaittrack.figures.pieces import axis, outline
from gaittrack.figures.plain_numbers import plain_numbers
from gaittrack.reasons import Reason

_ERROR_FILL: Final = "rgba(128,128,128,0.25)"
_PAIR_LINE: Final = "rgba(128,128,128,0.55)"
_MARKER_PX: Final = 7
_DECIMALS: Final = 3
MOST_MARKERS: Final = 200
"""People beyond whom points are the ends and bends of lines: a mark each takes seconds to draw, and
they cover each other. Own choice."""
_BAR_SHARE: Final = 0.002
"""Half of an interval's width, of the width of the picture: it is about two pixels wide."""
_QUIET: Final = {"hovertemplate": "%{text}: %{y}<extra></extra>", "showlegend": False}


def drawn_rows(changes: pd.DataFrame) -> pd.DataFrame:
    """Return the rows that may be drawn: both values, and comparable."""
    fits = changes["difference"].notna() & (changes["verdict"] != NOT_COMPARABLE)
    return changes[fits.to_numpy(dtype=bool)]


def draw_pairs(changes: pd.DataFrame, *, names: tuple[str, str]) -> Figure:
    """Draw each person's value in the reference and in the condition, joined, beside box plots.

    Parameters
    ----------
    changes : DataFrame
        Columns of ``changes`` in ``dictionary.csv``, with ``person``; one measure, one pair of
        conditions.
    names : (reference, condition)
        As labelled.

    Returns
    -------
    Figure
        Rows that ``drawn_rows`` refuses are left out.
    """
    rows = drawn_rows(changes)
    before, after = _numbers(rows, "reference_value"), _numbers(rows, "value")
    people = [str(person) for person in rows["person"]]
    unit = unit_words(_only(changes, "unit"))
    title = MEASURE_BY_NAME[_only(changes, "measure_id")].title
    pairs = zip(before, after, strict=True)
    lines: Figure = {
        "type": "scatter",
        "mode": "lines",
        "x": [x for n in range(len(rows)) for x in _turned((0.25, 0.75), n)],
        "y": [y for n, pair in enumerate(pairs) for y in _turned(pair, n)],
        "text": [person for person in people for _ in range(2)],
        "line": {"color": _PAIR_LINE, "width": 1},
        **_QUIET,
    }
    sides = (
        (before, 0.25, 0.0, names[0], REFERENCE_STYLE.colour),
        (after, 0.75, 1.0, names[1], OTHER_STYLES[0].colour),
    )
    boxes = [_box(values, box, name, colour) for values, _, box, name, colour in sides]
    points = [_points(values, place, people, colour) for values, place, *_, colour in sides]
    return {
        "data": [lines, *boxes, *(points if len(rows) <= MOST_MARKERS else [])],
        "layout": plain_layout(
            title={"text": f"{title},<br>each person"},
            xaxis={"tickvals": [0.125, 0.875], "ticktext": list(names), "range": [-0.3, 1.3]},
            yaxis=axis(unit),
            showlegend=False,
        ),
    }


def _turned(pair: tuple[float, float], n: int) -> tuple[float, float]:
    """Turn every second pair, so that all are one line there and back: a thousand take too long."""
    return pair if n % 2 == 0 else pair[::-1]


def _points(values: list[float], place: float, people: list[str], colour: str) -> Figure:
    return {
        "type": "scatter",
        "mode": "markers",
        "x": [place] * len(values),
        "y": values,
        "text": people,
        "marker": {"color": colour, "size": _MARKER_PX},
        **_QUIET,
    }


def _box(values: list[float], place: float, name: str, colour: str) -> Figure:
    return {
        "type": "box",
        "y": values,
        "x0": place,
        "name": name,
        "width": 0.28,
        "boxpoints": False,
        "line": {"color": colour},
        "fillcolor": "rgba(0,0,0,0)",
        "hoverinfo": "y",
    }


def draw_everybodys_change(changes: pd.DataFrame) -> Figure:
    """Draw every person's change with its interval, from the lowest to the highest.

    Parameters
    ----------
    changes : DataFrame
        As for :func:`draw_pairs`.

    Returns
    -------
    Figure
        The band is measurement error, of each row its own.
    """
    rows = drawn_rows(changes).sort_values("difference", kind="stable")
    places = list(range(1, len(rows) + 1))
    unit = unit_words(_only(changes, "unit"))
    errors = _numbers(rows, "measurement_error")
    return {
        "data": [_band(places, errors), _bars(rows, places), _changes_trace(rows, places)],
        "layout": plain_layout(
            title={"text": f"Change of each person ({unit})"},
            xaxis=axis(
                "People, from the lowest change to the highest",
                range=[0.3, len(rows) + 0.7],
                showgrid=False,
                tickformat="d",
            ),
            yaxis=axis(f"Difference ({unit})", zeroline=True),
            showlegend=False,
        ),
    }


def _changes_trace(rows: pd.DataFrame, places: Sequence[int]) -> Figure:
    colour = OTHER_STYLES[0].colour
    said = {code: str(Reason(code)) for code in set(rows["verdict"])}
    return {
        "type": "scatter",
        "mode": "markers" if len(rows) <= MOST_MARKERS else "lines",
        "x": list(places),
        "y": _numbers(rows, "difference"),
        "text": [f"{p}: {said[v]}" for p, v in zip(rows["person"], rows["verdict"], strict=True)],
        "hovertemplate": "%{text}, %{y}<extra></extra>",
        "marker": {"color": colour, "size": _MARKER_PX},
        "line": {"color": colour},
    }


def _bars(rows: pd.DataFrame, places: Sequence[int]) -> Figure:
    """Return everybody's interval as a narrow box, all of them one shape."""
    half = min(_BAR_SHARE * len(rows), 0.25)
    known = [
        (place, low, high)
        for place, low, high in zip(
            places, _numbers(rows, "low"), _numbers(rows, "high"), strict=True
        )
        if low is not None and high is not None
    ]
    sides = [(round(p - half, _DECIMALS), round(p + half, _DECIMALS)) for p, *_ in known]
    boxes = [(left, left, right, right, None) for left, right in sides]
    return {
        "type": "scatter",
        "mode": "none",
        "x": [x for box in boxes for x in box],
        "y": [y for _, low, high in known for y in (low, high, high, low, None)],
        "fill": "toself",
        "fillcolor": OTHER_STYLES[0].colour,
        "hoverinfo": "skip",
    }


def _band(places: Sequence[int], errors: Sequence[float | None]) -> Figure:
    """Return one filled outline: up along the errors, back along their negatives."""
    known = [(p, f) for p, f in zip(places, errors, strict=True) if f is not None]
    upper = [(x, f) for p, f in known for x in (p - 0.5, p + 0.5)]
    lower = [(x, -f) for x, f in reversed(upper)]
    x, y = ([point[place] for point in (*upper, *lower)] for place in range(2))
    return outline(x, y, _ERROR_FILL, name="measurement error")


def _numbers(rows: pd.DataFrame, name: str) -> list[Any]:
    return plain_numbers(rows[name].to_numpy(dtype=float), _DECIMALS)


def _only(changes: pd.DataFrame, name: str) -> str:
    """Return the one word of a column.

    Raises
    ------
    ValueError
        There are several, or none.
    """
    words = set(changes[name])
    if len(words) != 1:
        raise ValueError(f"rows must have one {name}, got {sorted(map(str, words))}")
    return str(words.pop())
