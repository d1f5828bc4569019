"""A measure over visits: one line per condition, its intervals, and the band of measurement error.

In come the rows of one measure and side, out comes a figure. Visits are the marks of the time axis;
changes of brace, footwear or aid stand as upright lines with their names.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from gaittrack.compare.row_words import count_words, unit_words
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.figures import pieces
from gaittrack.figures.condition_styles import Figure, Style, condition_styles, plain_layout
from gaittrack.reasons import Reason
from gaittrack.study.people.worn_changes import WornChange
from gaittrack.study.results.over_visits import Progress, VisitMark

DAYS_PER_MONTH: Final = 30.44
LEAST_DAYS_FOR_MONTHS: Final = 90.0
"""Shorter spans are shown in days; own choice."""
BAND: Final = "band"
_BAND_OPACITY: Final = 0.10
_APART: Final = 0.012
"""How far conditions are drawn apart, so that their intervals do not cover each other; share of the
time axis."""


@dataclass(frozen=True, slots=True)
class TimeAxis:
    """Where visits stand.

    Attributes
    ----------
    texts : mapping of visit to str
        The mark of each visit: its code and time.
    note : str
        What a reader must know of the axis; empty for true time.
    """

    title: str
    places: Mapping[str, float]
    texts: Mapping[str, str]
    note: str = ""


def time_axis(visits: Sequence[VisitMark]) -> TimeAxis:
    """Return the axis for a person's visits.

    Parameters
    ----------
    visits : sequence of VisitMark
        In the order of time.

    Returns
    -------
    TimeAxis
        In months, in days below three months, or one place per visit where a day is not recorded.
    """
    days = [each.days_since_first_visit for each in visits]
    if not all(math.isfinite(day) for day in days):
        return TimeAxis(
            "Visit",
            {each.visit: float(place) for place, each in enumerate(visits)},
            {each.visit: each.visit for each in visits},
            "Days between visits are not recorded for all of them: visits stand in their order, "
            "and the distance between them means nothing.",
        )
    in_months = max(days, default=0) >= LEAST_DAYS_FOR_MONTHS
    unit, length, decimals = ("months", DAYS_PER_MONTH, 1) if in_months else ("days", 1.0, 0)
    places = {each.visit: each.days_since_first_visit / length for each in visits}
    return TimeAxis(
        f"Time since the first visit ({unit})",
        places,
        {visit: f"{visit}<br>{place:.{decimals}f}" for visit, place in places.items()},
    )


def draw_progress(
    rows: Sequence[Progress],
    axis: TimeAxis,
    *,
    reference: str,
    changes: Sequence[WornChange] = (),
) -> Figure:
    """Draw one measure of one side over visits.

    Parameters
    ----------
    rows : sequence of Progress
        Of one measure and side, in the order of time.
    reference : str
        The condition drawn as without brace.

    Returns
    -------
    Figure
        Values that are not defined are gaps in the lines.

    Raises
    ------
    ValueError
        Rows of several measures or sides.
    """
    kinds = {(row.measure, row.side) for row in rows}
    if len(kinds) != 1:
        raise ValueError(f"rows must be of one measure and side, got {sorted(kinds)}")
    measure = MEASURE_BY_NAME[rows[0].measure]
    names = sorted(dict.fromkeys(row.condition for row in rows), key=lambda n: n != reference)
    styles = condition_styles(names, reference)
    span = max(axis.places.values(), default=0.0) or 1.0
    traces: list[Figure] = []
    lines: list[Figure] = []
    for place, name in enumerate(names):
        own = [row for row in rows if row.condition == name]
        shift = (place - (len(names) - 1) / 2) * _APART * span
        traces += _band(own, axis, styles[name])
        lines.append(_line(own, axis, styles[name], shift))
    return {
        "data": [*traces, *lines],
        "layout": plain_layout(
            title={"text": f"{measure.title}, {rows[0].side}"},
            xaxis=pieces.axis(
                axis.title,
                tickvals=list(axis.places.values()),
                ticktext=[axis.texts[visit] for visit in axis.places],
                range=[-0.06 * span, 1.06 * span],
                zeroline=False,
            ),
            yaxis=pieces.axis(unit_words(measure.unit), zeroline=False),
            shapes=_change_lines(changes, axis, names),
            legend={"orientation": "h", "y": -0.38},
            showlegend=True,
            margin={"l": 56, "r": 12, "t": 44, "b": 96},
        ),
    }


def _line(rows: Sequence[Progress], axis: TimeAxis, style: Style, shift: float) -> Figure:
    return {
        "type": "scatter",
        "mode": "lines+markers",
        "name": rows[0].condition,
        "x": [round(axis.places[row.visit] + shift, 4) for row in rows],
        "y": [_rounded(row.value) for row in rows],
        "error_y": pieces.spread(
            [_rounded(row.value_high - row.value) for row in rows],
            [_rounded(row.value - row.value_low) for row in rows],
            style.colour,
            thickness=1.5,
        ),
        "line": {"color": style.colour, "dash": style.dash, "width": 2},
        "marker": {"color": style.colour, "size": 8},
        "text": [
            f"{row.visit}, {count_words(row.n_walks, 'walk')}: {Reason(row.verdict)}"
            for row in rows
        ],
        "hovertemplate": "%{y}<br>%{text}<extra>%{fullData.name}</extra>",
    }


def _rounded(value: float) -> float | None:
    return round(value, 4) if math.isfinite(value) else None


def _band(rows: Sequence[Progress], axis: TimeAxis, style: Style) -> list[Figure]:
    """Shade what measurement error alone can make of the first visit, where both are known."""
    known = [
        row
        for row in rows
        if math.isfinite(row.measurement_error) and math.isfinite(row.difference)
    ]
    if not known:
        return []
    first = next(row for row in rows if math.isfinite(row.value))
    middle = known[0].value - known[0].difference
    places = [axis.places[first.visit], *(axis.places[row.visit] for row in known)]
    errors = [known[0].measurement_error, *(row.measurement_error for row in known)]
    reach = [*errors, *(-error for error in reversed(errors))]
    return [
        pieces.outline(
            [round(x, 4) for x in (*places, *reversed(places))],
            [round(middle + each, 4) for each in reach],
            style.clear(_BAND_OPACITY),
            name=f"{first.condition}: no further from the first visit than measurement error",
            showlegend=False,
            meta=BAND,
        )
    ]


def _change_lines(
    changes: Sequence[WornChange], axis: TimeAxis, names: Sequence[str]
) -> list[Figure]:
    kinds: dict[str, dict[str, None]] = {}
    for change in changes:
        if change.condition in names:
            kinds.setdefault(change.visit, {})[change.kind] = None
    look = {"color": "rgba(128,128,128,0.8)", "dash": "dot", "width": 1.5}
    lines = []
    for visit, own in kinds.items():
        name = ", ".join(own)
        label = {"text": name, "textangle": -90, "textposition": "end"}
        lines.append(
            pieces.upright(axis.places[visit], look, layer="below", name=name, label=label)
        )
    return lines
