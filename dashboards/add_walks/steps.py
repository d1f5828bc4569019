"""Look at the files, choose landmarks, store: the last part of the screen Add walks.

In comes what was entered, out come jobs with progress, and what they found.
"""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboards.add_walks import uploads
from dashboards.add_walks.label_map import LANDMARK, chosen_landmarks, map_part
from dashboards.add_walks.look_and_store import (
    look,
    look_table,
    n_in,
    store,
    stored_table,
    summary,
)
from dashboards.add_walks.visit_form import EVERY_FIELD, USE, names_of, plan_of, visit_of
from dashboards.parts import ids
from dashboards.parts.controls import progress
from dashboards.parts.fact_fields import beside_fields, read_fields
from dashboards.shell.access import require
from dashboards.shell.bars import address_of, say
from dashboards.shell.jobs import Job, Jobs
from gaittrack.errors import AboutFact, StudyError
from gaittrack.study.people.enrolled import check_against_study, id_of
from gaittrack.study.recordings.landmark_map import remember_landmarks
from gaittrack.study.recordings.planning import Plan
from gaittrack.study.store import Study

STOP: Final = "add-walks-stop"
_SAME_PERSON: Final = "add-walks-same-person"
LOOKING, STORING = "looking at files", "storing files"
_ENTERED: Final = (
    State("add-walks-basket", "data"),
    State("add-walks-person", "value"),
    State("add-walks-visit-code", "value"),
    State(EVERY_FIELD, "id"),
    State(EVERY_FIELD, "value"),
    State({"type": USE, "n": ALL}, "id"),
    State({"type": USE, "n": ALL}, "value"),
)


def layout() -> Component:
    """Return the acts and the places for what they find."""
    return html.Div(
        [
            dcc.Store(id="add-walks-job"),
            dcc.Interval(id="add-walks-tick", interval=500, disabled=True),
            html.Div(
                html.Button("Look at the files", id="add-walks-look", className="main"),
                className="row",
            ),
            html.Div(
                [
                    html.Div(id="add-walks-progress", role="status"),
                    html.Button("Stop after this file", id=STOP, className="quiet", hidden=True),
                ],
                className="row",
            ),
            html.Div(id="add-walks-found"),
        ]
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""
    jobs = Jobs()
    _register_looking(app, study, jobs)
    _register_storing(app, study, jobs)
    _register_map(app, study)
    _register_progress(app, study, jobs)
    _register_stop(app, jobs)


def _entered(
    basket: str, person: str, code: str, keys: Any, values: Any, files: Any, uses: Any
) -> tuple[uploads.Basket, Plan]:
    held = uploads.baskets().find(basket)
    visit = visit_of(person or "", code or "", read_fields(keys, values))
    chosen = {key["n"]: use for key, use in zip(files, uses, strict=True)}
    return held, plan_of(visit, held, chosen)


def _refuse_contradiction(study: Study, plan: Plan) -> None:
    """Refuse what contradicts the study before any file is read."""
    places = {file.condition: file.visit for file in plan.files}
    with study.read() as connection:
        for condition, visit in places.items():
            check_against_study(connection, visit, condition)


def _register_looking(app: Dash, study: Study, jobs: Jobs) -> None:
    @app.callback(
        Output("add-walks-job", "data"),
        Output("add-walks-found", "children"),
        Output(EVERY_FIELD, "error"),
        Input("add-walks-look", "n_clicks"),
        *_ENTERED,
        prevent_initial_call=True,
    )
    def begin_look(n_clicks: int | None, *entered: Any) -> tuple[Any, ...]:
        visitor = require("edit")
        keys = entered[3]
        if not n_clicks:
            return no_update, no_update, beside_fields(keys)
        say("")
        try:
            basket, plan = _entered(*entered)
            _refuse_contradiction(study, plan)
        except AboutFact as error:
            marks = beside_fields(keys, error, names_of(read_fields(*entered[3:5])))
            if not any(marks):
                raise
            say("Nothing was looked at: look at what is marked.", is_error=True)
            return no_update, [], marks
        basket.kept["plan"] = plan
        n = len(plan.files) + len(plan.refused)
        job = jobs.start(LOOKING, look(study, plan, visitor.name), n)
        return job, [], beside_fields(keys)


def _register_storing(app: Dash, study: Study, jobs: Jobs) -> None:
    @app.callback(
        Output("add-walks-job", "data", allow_duplicate=True),
        Input("add-walks-store", "n_clicks"),
        State({"type": _SAME_PERSON, "n": ALL}, "checked"),
        *_ENTERED,
        prevent_initial_call=True,
    )
    def begin_store(n_clicks: int | None, same_person: list[Any], *entered: Any) -> object:
        visitor = require("edit")
        if not n_clicks:
            return no_update
        basket, plan = _entered(*entered)
        if plan != basket.kept.get("plan"):
            raise StudyError.of("form_changed_since_look", where="form")
        say("")
        n = len(plan.files) + len(plan.refused)
        steps = store(
            *(study, plan, uploads.baskets(), entered[0], visitor.name),
            same_person=any(same_person),
        )
        return jobs.start(STORING, steps, n, alone=True)


def _register_map(app: Dash, study: Study) -> None:
    @app.callback(
        Output("add-walks-look", "n_clicks"),
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Input("add-walks-remember", "n_clicks"),
        State({"type": LANDMARK, "name": ALL}, "id"),
        State({"type": LANDMARK, "name": ALL}, "value"),
        State("add-walks-look", "n_clicks"),
        State(ids.CHANGED, "data"),
        prevent_initial_call=True,
    )
    def remember(
        n_clicks: int | None, keys: Any, values: Any, n_looks: int | None, changed: int
    ) -> tuple[Any, ...]:
        visitor = require("administer")
        if not n_clicks:
            return no_update, no_update
        chosen = chosen_landmarks(keys, values)
        remember_landmarks(study, chosen, who=visitor.name, why="chosen on the screen Add walks")
        return (n_looks or 0) + 1, changed + 1


def _register_progress(app: Dash, study: Study, jobs: Jobs) -> None:
    @app.callback(
        Output("add-walks-progress", "children"),
        Output("add-walks-tick", "disabled"),
        Output("add-walks-look", "disabled"),
        Output("add-walks-found", "children", allow_duplicate=True),
        Output("add-walks-job", "data", allow_duplicate=True),
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Output(ids.CHOICE, "data", allow_duplicate=True),
        Input("add-walks-job", "data"),
        Input("add-walks-tick", "n_intervals"),
        State("add-walks-person", "value"),
        State(ids.CHANGED, "data"),
        prevent_initial_call=True,
    )
    def follow(key: str | None, _tick: int, person: str, changed: int) -> tuple[Any, ...]:
        visitor = require("edit")
        if not key:
            return no_update, True, False, *[no_update] * 4
        job = jobs.find(key)
        if not job.is_over:
            return _progress(job), False, True, *[no_update] * 4
        if job.error:
            say(job.error, is_error=True)
        words = summary(job.done, is_stored=job.what == STORING)
        if job.is_cut_short:
            words += f" Stopped after {len(job.done)} of {job.n}{_THE_REST[job.what]}"
        if job.what == LOOKING:
            found = _looked(job, may_set="administer" in visitor.rights)
            return words, True, False, found, None, no_update, no_update
        number = _number_of(study, person)
        choice = no_update if number is None else {"person": number}
        ways = _stored(job, number, person.strip())
        return words, True, True, ways, None, changed + 1, choice


def _register_stop(app: Dash, jobs: Jobs) -> None:
    @app.callback(
        Output(STOP, "hidden"),
        Output(STOP, "disabled"),
        Input(STOP, "n_clicks"),
        Input("add-walks-job", "data"),
        prevent_initial_call=True,
    )
    def stop(n_clicks: int | None, key: str | None) -> tuple[bool, bool]:
        require("edit" if n_clicks else "view")
        if not key or ctx.triggered_id != STOP or not n_clicks:
            return not key, False
        jobs.find(key).is_stopped = True
        return False, True


_THE_REST: Final = {
    LOOKING: "; look again before you store.",
    STORING: "; the rest was not stored: add it again.",
}


def _progress(job: Job) -> list[Component]:
    words = f"{job.what.capitalize()}: {len(job.done)} of {job.n}"
    return progress(words, len(job.done), job.n)


def _looked(job: Job, *, may_set: bool) -> list[Component]:
    n, n_asked = n_in(job.done, "would add"), n_in(job.done, "asked about")
    words = f"Store {n} {'file' if n == 1 else 'files'}" if n else "Store"
    may_store = (n or n_asked) and not job.error and not job.is_cut_short
    act = html.Button(words, id="add-walks-store", className="main") if may_store else None
    parts = [look_table(job.done), *map_part(job.done, may_set=may_set)]
    if not act:
        return parts
    return [*parts, *([_question(n_asked)] if n_asked else []), html.Div(act, className="row")]


def _question(n_asked: int) -> Component:
    """Ask about walks that seem to be somebody else's; unanswered, they are not stored."""
    words = f"{'It is' if n_asked == 1 else 'They are'} of the same person: store"
    return html.Div(
        [
            html.P(f"{n_asked} {'walk is' if n_asked == 1 else 'walks are'} asked about above."),
            dmc.Checkbox(label=words, checked=False, id={"type": _SAME_PERSON, "n": 0}),
        ],
        className="watch",
    )


def _stored(job: Job, person: int | None, code: str) -> list[Component]:
    ways = html.P(
        [
            "What was sent is thrown away now. Go on to ",
            dcc.Link(f"the overview of {code}", href=address_of("/overview", person)),
            " or ",
            dcc.Link("the walks", href=address_of("/walks", person)),
            ", or ",
            html.A("add more walks", href="/add-walks"),
            ".",
        ]
    )
    return [stored_table(job.done), *([] if job.error else [ways])]


def _number_of(study: Study, code: str) -> int | None:
    with study.read() as connection:
        return id_of(connection, code.strip())
