"""Measure stale and damaged results again, from the screen People, with progress and a way to stop.

In comes a click of somebody who may edit, out come results of today's software and settings.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from dash import Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboards.parts import ids
from dashboards.parts.controls import progress
from dashboards.shell.access import require
from dashboards.shell.bars import say
from dashboards.shell.jobs import Job, Jobs
from gaittrack.study.results.keeping import recompute, stale_trials
from gaittrack.study.store import Study

STALE: Final = "people-stale"
"""``dcc.Store``: how many results are stale."""
_KIND: Final = "measuring again"


def layout(*, may_edit: bool) -> Component:
    """Return the act and where its progress is shown; only for who may edit."""
    button = html.Button("Measure stale results again", id="people-measure")
    stop = html.Button("Stop after this walk", id="people-stop", className="quiet")
    return html.Div(
        [
            dcc.Store(id=STALE, data=0),
            dcc.Store(id="people-job"),
            dcc.Interval(id="people-job-tick", interval=700, disabled=True),
            html.Div(button if may_edit else [], id="people-measure-part", hidden=True),
            html.Div(
                html.Div([html.Div(id="people-progress", role="status"), stop], className="row"),
                id="people-progress-part",
                hidden=True,
            ),
        ]
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""
    jobs = Jobs()

    @app.callback(
        Output("people-measure-part", "hidden"),
        Input(STALE, "data"),
        Input("people-job", "data"),
    )
    def offer(n_stale: int, job: str | None) -> bool:
        require("view")
        return not n_stale or bool(job)

    @app.callback(
        Output("people-job", "data"),
        Input("people-measure", "n_clicks"),
        State(STALE, "data"),
    )
    def begin(n_clicks: int | None, n_stale: int) -> object:
        visitor = require("edit")
        if not n_clicks:
            return jobs.going_on(_KIND)
        say("")
        steps = _measured_again(study, visitor.name)
        return jobs.start(_KIND, steps, n_stale, alone=True)

    _register_progress(app, jobs)


def _register_progress(app: Dash, jobs: Jobs) -> None:
    @app.callback(
        Output("people-progress", "children"),
        Output("people-progress-part", "hidden"),
        Output("people-job-tick", "disabled"),
        Output("people-job", "data", allow_duplicate=True),
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Input("people-job", "data"),
        Input("people-job-tick", "n_intervals"),
        State(ids.CHANGED, "data"),
        prevent_initial_call=True,
    )
    def follow(key: str | None, _tick: int, changed: int) -> tuple[Any, ...]:
        require("edit")
        if not key:
            return [], True, True, no_update, no_update
        job = jobs.find(key)
        if not job.is_over:
            return _progress(job), False, False, no_update, no_update
        say(_outcome(job), is_error=bool(job.error))
        return [], True, True, None, changed + 1

    @app.callback(
        Output("people-stop", "disabled"),
        Input("people-stop", "n_clicks"),
        Input("people-job", "data"),
        prevent_initial_call=True,
    )
    def stop(n_clicks: int | None, key: str | None) -> bool:
        require("edit")
        if not key or ctx.triggered_id != "people-stop" or not n_clicks:
            return False
        jobs.find(key).is_stopped = True
        return True


def _measured_again(study: Study, who: str) -> Iterator[tuple[str, str]]:
    """Measure one walk after the other; give its place and why it was refused, or ""."""
    trials = [trial for trial, _ in stale_trials(study, is_thorough=True)]
    for trial, kept in recompute(study, trials, who=who):
        yield trial.place, "" if kept.error is None else str(kept.error)


def _progress(job: Job) -> list[Component]:
    words = f"{len(job.done)} of {job.n} walks measured again"
    return progress(words, len(job.done), job.n)


def _outcome(job: Job) -> str:
    refused = [f"{place}: {why}" for place, why in job.done if why]
    n = len(job.done)
    said = [f"{n} {'walk was' if n == 1 else 'walks were'} measured again."]
    if job.is_cut_short:
        said.append("The rest is still stale.")
    if refused:
        said.append(f"{len(refused)} could not be measured: {'; '.join(refused[:5])}.")
    if job.error:
        said.append(job.error)
    return " ".join(said)
