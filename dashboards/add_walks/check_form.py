"""The way from the second step of the screen Add walks to the third: what was entered is checked.

In come the fields, out come a job that looks at the ready files as they will be stored, or the form
with what is wrong beside its field.
"""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, ctx, set_props

from dashboards.add_walks.draft import uses_of
from dashboards.add_walks.entered import FIELDS
from dashboards.add_walks.row_states import states_of
from dashboards.add_walks.turn import CHECKING, NOW, Turn, turn_of
from dashboards.add_walks.visit_form import EVERY_FIELD, names_of, plan_of, visit_of
from dashboards.parts.fact_fields import beside_fields
from dashboards.shell.access import require
from dashboards.shell.bars import say
from dashboards.shell.jobs import Jobs
from gaittrack.errors import AboutFact
from gaittrack.study.people.enrolled import check_against_study
from gaittrack.study.recordings.planning import Plan
from gaittrack.study.store import Study


def register(app: Dash, study: Study, jobs: Jobs) -> None:
    """Register the callback of the main act of the second step."""

    @app.callback(
        Output(EVERY_FIELD, "error"),
        Output("add-walks-person", "error"),
        Input("add-walks-look", "n_clicks"),
        Input("add-walks-whole", "data"),
        State(NOW, "data"),
        *FIELDS,
        prevent_initial_call=True,
    )
    def begin(n_clicks: int | None, _whole: Any, now: int, *given: Any) -> tuple[Any, ...]:
        turn = turn_of(study, jobs, require("edit"), given)
        entered = turn.entered
        is_pressed = ctx.triggered_id == "add-walks-look"
        if not n_clicks or not (is_pressed or turn.draft.is_to_mark):
            return beside_fields(entered.keys), None
        say("")
        if not entered.about.person:
            return beside_fields(entered.keys), "Say who walked: a code."
        with turn.draft.lock:
            marks = _check_or_mark(turn)
        set_props(NOW, {"data": (now or 0) + 1})  # an output would make a circle of callbacks
        return marks, None


def _check_or_mark(turn: Turn) -> list[str | None]:
    """Go on to the third step, or open the form with what is wrong marked beside its field."""
    keys, draft = turn.entered.keys, turn.draft
    is_drawn, draft.is_to_mark = draft.part == "form", False
    try:
        _check(turn)
    except AboutFact as error:
        marks = beside_fields(keys, error, names_of(turn.entered.form))
        if is_drawn and not any(marks):
            raise
        draft.part, draft.is_to_mark = "form", not is_drawn
        say("Nothing was stored: look at what is marked.", is_error=True)
        return marks
    return beside_fields(keys)


def _check(turn: Turn) -> None:
    """Begin to look at the files that are ready with all that was entered: the third step."""
    draft, about, uses = turn.draft, turn.entered.about, uses_of(turn.groups)
    states = states_of(turn.basket, draft, uses)
    ready = {n: use for n, use in uses.items() if states[n].kind == "ready"}
    plan = plan_of(visit_of(about.person, about.visit, turn.entered.form), turn.basket, ready)
    _refuse_contradiction(turn.study, plan)
    draft.plan, draft.step, draft.part = plan, 3, "files"
    draft.doing = turn.begin_look(CHECKING, plan)


def _refuse_contradiction(study: Study, plan: Plan) -> None:
    """Refuse what contradicts the study before any file is read."""
    places = {file.condition: file.visit for file in plan.files}
    with study.read() as connection:
        for condition, visit in places.items():
            check_against_study(connection, visit, condition)
