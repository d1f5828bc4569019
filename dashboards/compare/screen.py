"""Compare: what changed between conditions of the chosen person, how sure, and how fair.

In comes the choice of this browser tab, out comes the comparison of what is stored; each number
leads to its strides, and from there to the screen Walks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

import dash_mantine_components as dmc
from dash import MATCH, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html
from dash import no_update as unchanged
from dash.development.base_component import Component

from dashboards.compare import (
    comparison_parts,
    pages,
    side_by_side,
    strides_of_row,
    which_conditions,
)
from dashboards.compare.comparison_parts import (
    EVERYTHING,
    GO,
    GROUP,
    PAPER,
    REPLAY,
    ROW,
    SHOW_REPLAY,
    SUMMARY,
    WORKBOOK,
)
from dashboards.compare.curve_panel import ANGLE, CURVES, curve_panels
from dashboards.compare.looks import BODY, CHOICE, PICKED, WORKING, Looks
from dashboards.compare.side_by_side import FRAMES, PLAY, TIME
from dashboards.compare.which_conditions import CONDITIONS, REFERENCE, VISITS
from dashboards.parts import ids
from dashboards.parts.controls import choose_first
from dashboards.parts.markup import still
from dashboards.shell.access import require, visitor
from dashboards.shell.handing_out import file_place
from gaittrack.study.people.enrolled import is_there
from gaittrack.study.results.compared_trials import compared_trials
from gaittrack.study.results.comparing import (
    StoredCondition,
    conditions_of,
)
from gaittrack.study.results.first_choice import ComparisonChoice, first_choice
from gaittrack.study.store import Study

CHOOSING, WINDOW = "compare-choosing", "compare-window"
ASKED, REST, NEAR = "compare-asked", "compare-rest", "compare-near"
"""What the fields ask for; the place of what is below the answer; that it is to be seen."""
_ITSELF: Any = {BODY: "children"}
"""What is hidden while it comes: the answer itself, not for a part of it that comes later."""
_value = partial(Input, component_property="value")


def layout(study: Study) -> Component:
    """Return the screen; what it shows follows from the choice."""
    require("view")
    del study  # read in the callbacks, when it is known who is chosen
    window = dmc.Modal(
        id=WINDOW,
        opened=False,
        size="xl",
        classNames={"content": "compare-window", "header": "compare-window"},
        closeButtonProps={"aria-label": "Close"},
        transitionProps={"duration": 0},
    )
    return html.Div(
        [
            html.H1("Compare", className="unseen"),
            dcc.Store(id=PICKED, storage_type="session"),
            *(dcc.Store(id=name) for name in (FRAMES, ROW, GO, ASKED, SHOW_REPLAY)),
            *(dcc.Store(id=name) for name in (PAPER, EVERYTHING, WORKBOOK)),
            html.Div(id=CHOOSING),
            dcc.Loading(html.Div(id=BODY), delay_show=400, target_components=_ITSELF),
            window,
            file_place(pages.PAGES),
        ]
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    looks = Looks(study)
    _register_choice(app, looks)
    _register_rows(app, looks)
    _register_below(app, looks)
    _register_replay(app, looks)
    pages.register(app, looks)
    for name, given in (
        ("moved", (Input(TIME, "value"), Input(FRAMES, "data"))),
        ("played", (Input(PLAY, "n_clicks"),)),
        ("drawn", (Input(BODY, "children"),)),
        ("chosen", (Output(ASKED, "data"), *map(_value, (CONDITIONS, REFERENCE)), *CHOICE)),
    ):
        function = ClientsideFunction("compare", name)
        app.clientside_callback(function, *given, prevent_initial_call=True)


def _register_choice(app: Dash, looks: Looks) -> None:
    @app.callback(
        Output(CHOOSING, "children"),
        Output(BODY, "children", allow_duplicate=True),
        Output(PICKED, "data", allow_duplicate=True),
        Input(ids.CHOICE, "data"),
        State(PICKED, "data"),
        prevent_initial_call="initial_duplicate",
    )
    def offer(choice: dict[str, int] | None, picked: Any) -> tuple[Any, Any, Any]:
        require("view")
        return _offer(looks, choice or {}, picked)

    @app.callback(
        Output(CONDITIONS, "data"),
        Output(CONDITIONS, "value"),
        Output(REFERENCE, "value", allow_duplicate=True),
        Input(VISITS, "value"),
        State(ids.CHOICE, "data"),
        prevent_initial_call=True,
    )
    def offer_conditions(visits: list[str] | None, choice: dict[str, int] | None) -> Any:
        require("view")
        return _offer_conditions(looks.study, (choice or {}).get("person"), visits or [])

    @app.callback(
        Output(REFERENCE, "data"),
        Output(REFERENCE, "value"),
        Output(BODY, "children"),
        Output(PICKED, "data"),
        Input(ASKED, "data"),
        State(ids.CHOICE, "data"),
        prevent_initial_call=True,
    )
    def show(asked: dict[str, Any] | None, choice: dict[str, int] | None) -> Any:
        require("view")
        person = (choice or {}).get("person")
        if not asked or person is None or asked["person"] != person:
            return [unchanged] * 4  # of somebody who was chosen before
        return _show(looks, person, asked["conditions"], asked["reference"])


def _offer(looks: Looks, choice: dict[str, int], picked: Any) -> tuple[Any, Any, Any]:
    """Return the fields with what they begin with compared, so that one answer brings both."""
    person = choice.get("person")
    if person is None or not is_there(looks.study, person):
        return choose_first(), None, None
    conditions = conditions_of(looks.study, person)
    own = picked if (picked or {}).get("person") == person else None
    chosen = which_conditions.starting_choice(conditions, own, choice.get("visit"))
    if chosen is not None:
        fields = which_conditions.fields(conditions, chosen)
        return fields, *_compared(looks, person, conditions, chosen)
    n_walked = sum(bool(each.n_walks) for each in conditions)
    words = (
        "There is one condition with measured walks; two are needed to compare. "
        if n_walked
        else "No walk of this person is measured yet. "
    )
    return html.P([words, dcc.Link("Add walks", href="/add-walks"), "."]), None, None


def _offer_conditions(
    study: Study, person: int | None, visits: Sequence[str]
) -> tuple[Any, Any, Any]:
    conditions = conditions_of(study, person or 0)
    wanted = {each.visit_id for each in conditions if str(each.visit_id) in visits}
    offered = which_conditions.offered(conditions, wanted)
    choice = first_choice(conditions, visits=wanted) if wanted else None
    if choice is None:
        return offered, [], None
    return offered, [str(each) for each in choice.conditions], str(choice.reference)


def _show(looks: Looks, person: int, values: Sequence[str], reference: str | None) -> Any:
    conditions = conditions_of(looks.study, person)
    choice = which_conditions.chosen(conditions, values, reference)
    if choice is None:
        return [], None, html.P("Choose two or more conditions to compare."), None
    data, new = which_conditions.references(conditions, choice), str(choice.reference)
    kept = unchanged if new == reference else new
    return data, kept, *_compared(looks, person, conditions, choice)


def _compared(
    looks: Looks, person: int, conditions: Sequence[StoredCondition], choice: ComparisonChoice
) -> tuple[list[Any], dict[str, Any]]:
    """Return the answer with the place of what is below it, and what was picked."""
    found, told = looks.told(conditions, choice)
    visits, trials = looks.visits(choice.conditions), compared_trials(looks.study, found)
    may_export = "export" in visitor().rights
    answer = still(comparison_parts.answered(found, told, trials, visits, may_export=may_export))
    picked = _picked(person, choice)
    of = _named(picked)  # so that what comes late never stands under another comparison
    below = html.Div(id={"type": REST, "of": of}, className="compare-rest")
    return [*answer, below, dcc.Store(id={"type": NEAR, "of": of})], picked


def _picked(person: int, choice: ComparisonChoice) -> dict[str, Any]:
    return {
        "person": person,
        "conditions": list(choice.conditions),
        "reference": choice.reference,
    }


def _named(picked: Mapping[str, Any]) -> str:
    numbers = picked["person"], *picked["conditions"], picked["reference"]
    return "-".join(map(str, numbers))


def _register_rows(app: Dash, looks: Looks) -> None:
    @app.callback(
        Output(WINDOW, "opened"),
        Output(WINDOW, "title"),
        Output(WINDOW, "children"),
        Input(ROW, "data"),
        *CHOICE,
        prevent_initial_call=True,
    )
    def open_row(pressed: dict[str, Any] | None, choice: Any, picked: Any) -> Any:
        require("view")
        if not pressed:
            return unchanged, unchanged, unchanged
        found = looks.compared(choice, picked)
        known = {comparison_parts.key_of(row): row for row in found.comparison.rows}
        rows = [known[tuple(key)] for key in pressed["value"]]
        row, others = rows[0], strides_of_row.others(rows)
        strides = strides_of_row.strides(found, row, compared_trials(looks.study, found))
        return True, strides_of_row.title(row), still([*others, *strides])

    @app.callback(
        Output(ids.CHOICE, "data", allow_duplicate=True),
        Output(ids.ADDRESS, "pathname", allow_duplicate=True),
        Input(GO, "data"),
        *CHOICE,
        prevent_initial_call=True,
    )
    def look_at_walk(pressed: dict[str, Any] | None, choice: Any, picked: Any) -> Any:
        require("view")
        if not pressed:
            return unchanged, unchanged
        trials = compared_trials(looks.study, looks.compared(choice, picked))
        own = {each.trial.id: each.visit_id for each in trials}
        trial = pressed["value"]
        return {**choice, "visit": own[trial], "trial": trial}, "/walks"


def _register_below(app: Dash, looks: Looks) -> None:
    @app.callback(
        Output({"type": REST, "of": MATCH}, "children"),
        Input({"type": NEAR, "of": MATCH}, "data"),
        *CHOICE,
        prevent_initial_call=True,
    )
    def show_rest(_near: int | None, choice: Any, picked: Any) -> Any:
        require("view")
        if not picked or ctx.triggered_id["of"] != _named(picked):
            return unchanged  # of what was compared before
        found, visits = looks.compared(choice, picked), looks.visits(picked["conditions"])
        return still(comparison_parts.rest(found, visits))

    @app.callback(
        Output({"type": GROUP, "group": MATCH}, "children"),
        Input({"type": SUMMARY, "group": MATCH}, "n_clicks"),
        *CHOICE,
        prevent_initial_call=True,
    )
    def open_group(_clicks: int | None, choice: Any, picked: Any) -> list[Component]:
        require("view")
        comparison = looks.compared(choice, picked).comparison
        return still(comparison_parts.group_tables(comparison, ctx.triggered_id["group"]))

    @app.callback(
        Output(CURVES, "children"),
        Input(ANGLE, "value"),
        *CHOICE,
    )
    def show_angle(angle: str, choice: Any, picked: Any) -> list[Component]:
        require("view")
        return curve_panels(looks.compared(choice, picked), angle)


def _register_replay(app: Dash, looks: Looks) -> None:
    @app.callback(
        Output(REPLAY, "children"),
        Output(FRAMES, "data"),
        Input(SHOW_REPLAY, "data"),
        *CHOICE,
        running=WORKING,
        prevent_initial_call=True,
    )
    def show_replay(pressed: Any, choice: Any, picked: Any) -> Any:
        require("view")
        if not pressed:
            return unchanged, unchanged
        found = looks.compared(choice, picked)
        parts, frames = side_by_side.replay(looks.study, looks.walks, found)
        return parts, frames or unchanged
