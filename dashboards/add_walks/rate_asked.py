"""Frames a second of tables that do not say them: asked once, kept for all with the same columns.

In comes one number, out come maps of the laboratory that such tables take.
"""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, no_update

from dashboards.add_walks.asked import without_rate
from dashboards.add_walks.entered import FIELDS
from dashboards.add_walks.turn import Turn, turn_of
from dashboards.add_walks.visit_form import bare_visit, plan_of
from dashboards.parts import ids
from dashboards.shell.access import require
from dashboards.shell.bars import say
from dashboards.shell.jobs import Jobs
from gaittrack.errors import StudyError
from gaittrack.study.recordings.given_maps import GivenMaps
from gaittrack.study.store import Study

_SLOWEST_HZ, _FASTEST_HZ = 10.0, 2000.0
"""Frames a second that may be given; own choice."""


def register(app: Dash, study: Study, jobs: Jobs) -> None:
    """Register the callback of the question."""

    @app.callback(
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Input("add-walks-rate-use", "n_clicks"),
        State("add-walks-rate-hz", "value"),
        State(ids.CHANGED, "data"),
        *FIELDS,
        prevent_initial_call=True,
    )
    def use_rate(n_clicks: int | None, hz: Any, changed: int, *given: Any) -> object:
        visitor = require("administer")
        if not n_clicks:
            return no_update
        say("")
        _keep_rate(turn_of(study, jobs, visitor, given), hz)
        return (changed or 0) + 1


def _keep_rate(turn: Turn, hz: Any) -> None:
    """Keep frames a second for the tables that lack them, by their columns."""
    is_rate = isinstance(hz, int | float) and _SLOWEST_HZ <= hz <= _FASTEST_HZ
    if not is_rate:
        raise StudyError.of(
            "no_rate_of_sheets",
            where="form",
            given=hz or "nothing",
            slowest=_SLOWEST_HZ,
            fastest=_FASTEST_HZ,
        )
    maps = GivenMaps(turn.study)
    visit = bare_visit("", "", turn.names)
    maps.add_rate(float(hz), plan_of(visit, turn.basket, without_rate(turn)).files)
    maps.keep(turn.study, who=turn.visitor.name)
