"""Measurement errors from people who were measured again when nothing had changed.

In come the people who are chosen and what was done to their markers, out come the errors beside
what is in use; a second press lets them be the laboratory's.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, cast

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html
from dash.development.base_component import Component

from dashboards.laboratory.changing import register_change, stale_words
from dashboards.parts.controls import choice, folded, labelled, table
from dashboards.parts.markup import still
from dashboards.shell.access import require
from gaittrack.cohort.people.repeated_visits import (
    N_VISITS,
    RepeatedVisits,
    errors_of_people,
    take_errors,
)
from gaittrack.compare.measurement_error.marker_errors import How
from gaittrack.compare.measurement_error.repeat_visits import FEW_PERSONS, LEAST_PERSONS
from gaittrack.compare.row_words import measure_words, number
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.study.recordings.overview import ListedPerson, list_people
from gaittrack.study.store import Study

WHO, HOW_FIELD = "laboratory-twice", "laboratory-how"
LOOK, TAKE, SHOWN = "laboratory-errors-look", "laboratory-errors-take", "laboratory-errors"
_HOWS: Final[dict[How, str]] = {
    "other tester": "put on again by whoever was there",
    "other day, same tester": "put on again another day by the same person",
    "same day, same tester": "put on again the same day by the same person",
    "untouched": "left on",
}
_HOW: Final = (
    "Choose people in whom nothing had changed between their first two visits, in the same "
    f"condition: at least {LEAST_PERSONS}; below {FEW_PERSONS} the errors are called rough. What "
    "their visits differ by is what measuring itself does."
)


def layout(study: Study) -> Component:
    """Return the part, folded."""
    may_change = "administer" in require("view").rights
    with study.read() as connection:
        twice = [each for each in list_people(connection) if each.n_visits >= N_VISITS]
    take = html.Button("Use these from now on", id=TAKE, className="main", hidden=True)
    how = choice(HOW_FIELD, "Their markers were", labelled(_HOWS), "other tester", w=420)
    return folded(
        "Measurement errors from our own repeat visits",
        html.P(_HOW),
        html.Div([_people(twice), how], className="row"),
        html.Button("Look at their errors", id=LOOK),
        html.Div(id=SHOWN),
        html.Div(take, hidden=not may_change),
        className="card",
    )


def _people(twice: Sequence[ListedPerson]) -> Component:
    """Return the field to choose people by code; the able-bodied are chosen already."""
    field: Component = dmc.MultiSelect(
        id=WHO,
        label="People who came twice, unchanged",
        data=[each.code for each in twice],
        value=[each.code for each in twice if each.cause == "able-bodied"],
        searchable=True,
        w=420,
        maw="100%",
    )
    return field


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""

    @app.callback(
        Output(SHOWN, "children"),
        Output(TAKE, "hidden"),
        Input(LOOK, "n_clicks"),
        State(WHO, "value"),
        State(HOW_FIELD, "value"),
        prevent_initial_call=True,
    )
    def look(n_clicks: int | None, who: list[str], how: str) -> tuple[Any, bool]:
        require("view")
        return still(parts(errors_of_people(study, who or [], how=cast(How, how)))), False

    @app.callback(
        Output(SHOWN, "children", allow_duplicate=True),
        Output(TAKE, "hidden", allow_duplicate=True),
        Input(WHO, "value"),
        Input(HOW_FIELD, "value"),
        prevent_initial_call=True,
    )
    def forget(_who: list[str], _how: str) -> tuple[Any, bool]:
        require("view")
        return [], True  # what is taken is what was looked at

    def take(_n: int, people: list[str], how: str, *, who: str, why: str) -> str:
        found = errors_of_people(study, people or [], how=cast(How, how))
        take_errors(study, found.errors, who=who, why=why)
        return f"Your own measurement errors are in use. {stale_words(study)}"

    given = State(WHO, "value"), State(HOW_FIELD, "value")
    register_change(app, Input(TAKE, "n_clicks"), take, *given)


def parts(found: RepeatedVisits) -> list[Component]:
    """Return the error of each measure, and which measures too few people have."""
    rows = []
    for each in found.errors:
        decimals = MEASURE_BY_NAME[each.measure].decimals + 1
        rows.append(
            [
                measure_words(each.measure),
                number(each.sem, decimals),
                number(each.smallest_change, decimals),
                number(each.icc, 2),
            ]
        )
    first = found.errors[0]
    heads = ("Measure", "Error (SEM)", "Smallest change", "ICC(2,1)")
    caption = f"{first.n_persons} people, {first.n_visits} visits; markers: {first.how}"
    left = [html.P(f"Too few people have: {', '.join(found.left_out)}.")] if found.left_out else []
    return [table(heads, rows, caption=caption, numbers=(1, 2, 3)), *left]
