"""Progress: a person's headline measures over visits, with what was changed in between.

In comes the chosen person, out come one figure per measure and side and a table that says the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from dash import Dash, Input, Output, html
from dash.development.base_component import Component

from dashboards.parts import ids
from dashboards.parts.controls import choose_first, folded, picture, table
from dashboards.parts.facts_shown import visit_facts
from dashboards.parts.markup import still
from dashboards.shell.access import require
from gaittrack.compare.row_words import (
    count_words,
    interval_words,
    number,
    signed,
    unit_words,
)
from gaittrack.compare.verdict import LARGER, Verdict
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.figures.progress import TimeAxis, draw_progress, time_axis
from gaittrack.study.people.facts import BODY, EXAMINATION, VisitFacts, facts_of_person
from gaittrack.study.results.follow import HEADLINE, follow_person
from gaittrack.study.results.over_visits import Following, Progress
from gaittrack.study.store import Study

_READING: Final = (
    "Point: mean of the walks of a visit. Upright bar: its 95 % interval, where there are two "
    "walks or more. Shaded: no further from the first visit of the condition than measurement "
    "error between days. Dotted: brace, footwear or walking aid was changed."
)
_TABLE_READING: Final = (
    "Change is from the first visit of the same condition. It is called larger only if its "
    "interval excludes 0 and it reaches the measurement error between days. 'Not shown' is not "
    "'no effect'."
)
_HEADS: Final = ("Condition", "Visit", "Mean", "Change", "What may be said")
_NUMBERS: Final = (2, 3)


def layout(study: Study) -> Component:
    """Return the screen; what it shows follows when a person is known."""
    require("view")
    return html.Div([html.H1("Progress"), html.Div(id="progress-shown", className="progress")])


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""

    @app.callback(
        Output("progress-shown", "children"),
        Input(ids.CHOICE, "data"),
        Input(ids.CHANGED, "data"),
    )
    def show(choice: dict[str, int] | None, _changed: int) -> list[Component] | Component:
        require("view")
        person = facts_of_person(study, (choice or {}).get("person") or 0)
        if person is None:
            return choose_first()
        return still(shown(follow_person(study, person.code), person.visits))


def shown(found: Following, visits: Sequence[VisitFacts]) -> list[Component]:
    """Return what the screen says of a person."""
    if not found.rows:
        return [html.P("No walk of this person has been measured yet.")]
    axis = time_axis(found.visits)
    parts: list[Component] = [html.P(_READING, className="soft")]
    parts += _summary(found)
    if axis.note:
        parts.append(html.P(axis.note))
    for name in HEADLINE:
        parts += _measure(found, name, axis)
    parts.append(html.H2("Body and examination"))
    parts += visit_facts(visits, (*EXAMINATION, *BODY), "By visit")
    parts += _notes(found)
    return parts


def _summary(found: Following) -> Iterator[Component]:
    if len({row.visit for row in found.rows}) < 2:
        yield html.P("There is one visit so far; changes are told from the second on.")
    else:
        larger = [row for row in found.rows if row.verdict == LARGER]
        head = "Larger than measurement error since the first visit:"
        if not larger:
            head = "No headline measure changed by more than measurement error since the first "
            head += "visit, as far as these walks show."
        yield html.P(head)
        if larger:
            yield html.Ul([html.Li(_change_words(row)) for row in larger])
    if found.stale:
        yield html.Section(
            [
                html.H2("Not up to date"),
                html.P(
                    "Damaged and not used, or measured with other software, settings or "
                    "corrections than today's:"
                ),
                html.Ul([html.Li(text) for text in found.stale]),
                html.P("Measure them again on the screen People before you rely on them."),
            ],
            className="watch",
        )
    if found.changes:
        yield html.H2("What was changed")
        texts = (f"{c.visit}, {c.condition}, {c.kind}: {c.text}" for c in found.changes)
        yield html.Ul([html.Li(text) for text in texts])


def _change_words(row: Progress) -> str:
    measure = MEASURE_BY_NAME[row.measure]
    change = signed(row.difference, measure.decimals)
    interval = interval_words(row.low, row.high, measure.decimals)
    return (
        f"{measure.title}, {row.side}, {row.condition}, {row.visit}: {change} "
        f"{unit_words(row.unit)} ({interval})"
    )


def _measure(found: Following, name: str, axis: TimeAxis) -> Iterator[Component]:
    rows = [row for row in found.rows if row.measure == name]
    own = sorted(rows, key=lambda row: row.condition != found.reference)
    if not own:
        return
    sides = sorted({row.side for row in own}, key=lambda side: (side != found.affected, side))
    measure = MEASURE_BY_NAME[name]
    title = f"{measure.title} ({unit_words(measure.unit)})"
    yield html.H2(title)
    figures = [
        picture(
            draw_progress(
                [row for row in own if row.side == side],
                axis,
                reference=found.reference,
                changes=found.changes,
            ),
            caption=_caption(found, side),
        )
        for side in sides
        if any(math.isfinite(row.value) for row in own if row.side == side)
    ]
    yield html.Div(figures, className="side-by-side pair-on-paper")
    for side in sides:
        lines = [_line(row) for row in own if row.side == side]
        words = f"{title}, {side}"
        numbers = table(_HEADS, lines, caption=words, numbers=_NUMBERS)
        yield folded(f"In numbers: {words}", numbers, open=side == sides[0])


def _caption(found: Following, side: str) -> str:
    affected = " (affected side)" if side == found.affected else ""
    return f"{side.capitalize()}{affected}. The numbers below say the same."


def _line(row: Progress) -> Sequence[object]:
    decimals = MEASURE_BY_NAME[row.measure].decimals
    said = Verdict(row.verdict, row.reason).say()
    mean = [number(row.value, decimals), html.Small(_mean_words(row, decimals))]
    change = [signed(row.difference, decimals), html.Small(_change_small(row, decimals))]
    return (row.condition, row.visit, mean, change, said)


def _mean_words(row: Progress, decimals: int) -> str:
    words = count_words(row.n_walks, "walk")
    if math.isfinite(row.value_low):
        low, high = number(row.value_low, decimals), number(row.value_high, decimals)
        words = f"95 %: {low} to {high}; {words}"
    return words


def _change_small(row: Progress, decimals: int) -> str:
    words = []
    if math.isfinite(row.low):
        words.append(f"95 %: {interval_words(row.low, row.high, decimals)}")
    if math.isfinite(row.measurement_error):
        words.append(f"error {number(row.measurement_error, decimals)}")
    return "; ".join(words)


def _notes(found: Following) -> Iterator[Component]:
    yield html.H2("What makes visits hard to compare")
    texts = found.notes or ("Nothing that was checked differs between the visits.",)
    yield html.Ul([html.Li(str(text)) for text in texts])
    sources = dict.fromkeys(
        f"{MEASURE_BY_NAME[row.measure].title}: {row.measurement_error_source}"
        for row in found.rows
        if row.measurement_error_source
    )
    yield html.H2("Measurement error and its sources")
    yield html.Ul([html.Li(text) for text in sources])
    yield html.P(_TABLE_READING, className="soft")
