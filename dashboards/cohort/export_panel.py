"""Export from the screen Cohort: who looks alike, then one zip file without names or codes.

In come what was chosen and the kind of release, out come the report of people who are too easy to
tell apart and, unless it forbids, the file. The same functions as the command line make it.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from typing import IO, Any, Final, cast

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component
from flask import Response

from dashboards.cohort.compared_people import CohortMemory
from dashboards.cohort.filters import CONTROLS, wanted_of
from dashboards.parts import ids
from dashboards.parts.controls import choice, is_open, labelled
from dashboards.shell.access import require
from dashboards.shell.bars import say
from dashboards.shell.handing_out import hand_out_file
from dashboards.shell.jobs import Job, Jobs
from gaittrack.cohort.asking.view import protection
from gaittrack.cohort.disclosure.lost_words import EXACT_VALUES, lost_lines
from gaittrack.cohort.disclosure.protection import LEAST_ALIKE, Protection, Release
from gaittrack.cohort.export import ExportOptions
from gaittrack.cohort.study_export import export_zip
from gaittrack.study.laboratory import laboratory_release
from gaittrack.study.store import Study

ROUTE: Final = "/export/"
FILE_NAME: Final = "gaittrack-export.zip"
LEAVING_OPEN: Final = "cohort-leaving-open"
"""Title of what leaves; opened, it is reckoned what an export shows."""
_KIND: Final = "export"
_RELEASES: Final = {
    "partner": f"One named partner ({LEAST_ALIKE['partner']} alike or more)",
    "controlled": f"Named people under an agreement ({LEAST_ALIKE['controlled']} alike or more)",
    "open": f"Everybody ({LEAST_ALIKE['open']} alike or more)",
}


def layout() -> Component:
    """Return the part of the screen, for who may export."""
    return html.Section(
        [
            html.H2("Export"),
            html.P(
                "Of the people and visits chosen above, all measures: tables as CSV, Parquet and "
                "XLSX with a data dictionary. Codes become random ids, dates become days, ages "
                "become bands. Who is who is kept beside the study's folder, never in the file."
            ),
            html.P(EXACT_VALUES),
            _options(),
            html.Div(id="cohort-anonymity", role="status"),
            html.Div(
                dmc.TextInput(
                    id="cohort-reason",
                    label="Reason to export although people stand out",
                    description="Stands in the export and in the history of the study.",
                    w=420,
                    maw="100%",
                ),
                id="cohort-reason-part",
                hidden=True,
            ),
            html.Div(
                [
                    html.Button("Export", id="cohort-export", className="main", disabled=True),
                    html.Span(id="cohort-export-waits", className="soft"),
                ],
                className="row",
            ),
            html.Div(id="cohort-export-progress", role="status"),
            dcc.Store(id="cohort-job"),
            dcc.Interval(id="cohort-job-tick", interval=700, disabled=True),
        ],
        className="no-print",
    )


def _options() -> Component:
    look = {"w": 420, "maw": "100%"}
    whom = labelled(_RELEASES)
    release = choice("cohort-release", "Who will get it", whom, "controlled", **look)
    curves = dmc.Checkbox(id="cohort-curves", label="With mean curves", checked=False)
    bodies = dmc.Checkbox(
        id="cohort-bodies",
        label="With height, mass and time since onset, in bands",
        checked=False,
    )
    return html.Div([release, curves, bodies], className="row")


def register(app: Dash, study: Study, memory: CohortMemory) -> None:
    """Register the callbacks and the route of the file."""
    jobs = Jobs()
    _register_report(app, study, memory)
    _register_writing(app, study, jobs)
    _register_following(app, jobs)

    def download(key: str) -> Response:
        require("export")
        return hand_out_file(jobs.find(key).done[0], FILE_NAME, "application/zip")

    app.server.add_url_rule(f"{ROUTE}<key>", view_func=download)


def _register_report(app: Dash, study: Study, memory: CohortMemory) -> None:
    @app.callback(
        Output("cohort-anonymity", "children"),
        Output("cohort-reason-part", "hidden"),
        Output("cohort-export", "disabled"),
        Output("cohort-export-waits", "children"),
        Input(LEAVING_OPEN, "n_clicks"),
        Input("cohort-state", "data"),
        Input("cohort-release", "value"),
        Input("cohort-bodies", "checked"),
        *((Input if one.is_filter else State)(one.id, "value") for one in CONTROLS),
    )
    def report(
        n_clicks: int | None, _state: str, release: str, bodies: bool, *values: Any
    ) -> tuple[Any, ...]:
        require("export")
        if not is_open(n_clicks):
            return no_update, no_update, no_update, no_update
        look, wanted = memory.look(), wanted_of(values)
        is_whole = look.n_done == look.n_all
        waits = "" if is_whole else "Once everybody is compared."
        if wanted is None or release not in _RELEASES:
            return [], True, not is_whole, waits
        found = protection(look.view, wanted.selection, release=cast(Release, release))
        parts = protection_parts(found, with_bodies=bool(bodies))
        with study.read() as connection:
            has_licence = bool(laboratory_release(connection).licence)
        if not has_licence:
            parts.append(_without_licence(is_open=release == "open"))
        is_ready = is_whole and (has_licence or release != "open")
        return parts, found.is_met, not is_ready, waits


def _register_writing(app: Dash, study: Study, jobs: Jobs) -> None:
    @app.callback(
        Output("cohort-job", "data"),
        Input("cohort-export", "n_clicks"),
        State("cohort-release", "value"),
        State("cohort-curves", "checked"),
        State("cohort-bodies", "checked"),
        State("cohort-reason", "value"),
        *(State(control.id, "value") for control in CONTROLS),
        prevent_initial_call=True,
    )
    def begin(
        n_clicks: int | None,
        release: str,
        curves: bool,
        bodies: bool,
        reason: str | None,
        *values: Any,
    ) -> object:
        someone, wanted = require("export"), wanted_of(values)
        if not n_clicks or wanted is None or release not in _RELEASES:
            return no_update
        say("")
        options = ExportOptions(
            release=cast(Release, release),
            with_curves=bool(curves),
            with_bodies=bool(bodies),
            override_reason=(reason or "").strip(),
            selection=wanted.selection,
        )
        work = _exported(study, someone.name, options)
        return jobs.start(_KIND, work, 1, alone=True)


def _register_following(app: Dash, jobs: Jobs) -> None:
    @app.callback(
        Output("cohort-export-progress", "children"),
        Output("cohort-job-tick", "disabled"),
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Input("cohort-job", "data"),
        Input("cohort-job-tick", "n_intervals"),
        State(ids.CHANGED, "data"),
        prevent_initial_call=True,
    )
    def follow(key: str | None, _tick: int, changed: int) -> tuple[Any, ...]:
        require("export")
        if not key:
            return [], True, no_update
        job = jobs.find(key)
        if not job.is_over:
            return html.P([html.Progress(), " Writing the export …"]), False, no_update
        return _outcome(key, job), True, changed + 1


def _exported(study: Study, who: str, options: ExportOptions) -> Iterator[IO[bytes]]:
    """Write the export into a file without a name, which is gone when nobody holds it any more."""
    file = tempfile.TemporaryFile()
    export_zip(study, file, who=who, options=options)
    yield file


def _outcome(key: str, job: Job) -> Component:
    if job.error:
        return html.P(job.error, className="message error")
    link = html.A("Save the file", href=f"{ROUTE}{key}", download=FILE_NAME)
    return html.P(["The export is ready. ", link])


def _without_licence(*, is_open: bool) -> Component:
    """Return that exports name no licence, with the way to the form for it."""
    form = dcc.Link("Laboratory, What is said of exports", href="/laboratory")
    if is_open:
        words = "Without a licence nothing can be released to everybody. Say it once: "
        return html.P([words, form, "."], className="watch")
    words = "The export will name no licence and no makers; they are said once: "
    return html.P([words, form, "."], className="soft")


def protection_parts(found: Protection, *, with_bodies: bool) -> list[Component]:
    """Return what an export shows of whom, and what it loses, in words."""
    counts = (
        f"{len(found.people)} people; {found.smallest} or more share what others can know of "
        f"them, {found.least} are asked for."
    )
    if not found.is_met:
        few = f"{counts} Nothing left out can mend that: choose more people, or give a reason."
        return [html.P(few, className="watch")]
    lines = lost_lines(found.lost(with_bodies=with_bodies))
    if not lines:
        return [html.P(f"{counts} Nothing has to be withheld.")]
    lost = html.Details(
        [html.Summary("What is withheld for that"), html.Ul([html.Li(line) for line in lines])]
    )
    return [html.P(counts), lost]
