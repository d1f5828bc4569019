"""Laboratory: what this laboratory has set of its own, what that changes, and the way back.

In comes the study, out come the settings with their history, and a part for each of them in which
it is made. Whatever is changed here holds for the whole laboratory, and needs a reason.
"""

from __future__ import annotations

from types import ModuleType
from typing import Any, Final

import dash_mantine_components as dmc
from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from dashboards.laboratory import (
    answered,
    declared,
    how_recorded,
    maps,
    repeat_errors,
    said_of_exports,
    typical_values,
)
from dashboards.laboratory.changing import WHY, register_change, stale_words
from dashboards.laboratory.what_is_set import BACK, name_of, sentence, set_parts
from dashboards.parts import ids
from dashboards.parts.markup import still
from dashboards.parts.states import coming
from dashboards.shell.access import require
from dashboards.shell.guide_page import GUIDE
from gaittrack.study.laboratory_history import put_back, setting_changes
from gaittrack.study.store import Study

SECTIONS: Final[tuple[ModuleType, ...]] = (
    maps,
    how_recorded,
    answered,
    typical_values,
    repeat_errors,
    declared,
    said_of_exports,
)
"""Modules with ``layout(study)`` and ``register(app, study)``, in the order of the screen."""


def layout(study: Study) -> Component:
    """Return the screen; what is set follows at once."""
    may_change = "administer" in require("view").rights
    why = dmc.TextInput(
        id=WHY,
        label="Why",
        description="Each change takes a reason, which stands in the history with your name.",
        autoComplete="off",
        w=520,
        maw="100%",
        className="no-print",
    )
    return html.Div(
        [
            html.H1("Laboratory", id="laboratory-title"),
            html.P(
                html.A("Guide: how a brace trial is recorded, and what it can show", href=GUIDE)
            ),
            html.Div(why, hidden=not may_change),
            html.Section(coming("Looking what is set"), id="laboratory-set", className="card"),
            *(section.layout(study) for section in SECTIONS),
            dcc.Store(id=BACK),
        ]
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    for section in SECTIONS:
        section.register(app, study)

    @app.callback(
        Output("laboratory-title", "children"),
        Output("laboratory-set", "children"),
        Input(ids.CHANGED, "data"),
    )
    def show(_changed: int) -> tuple[str, list[Any]]:
        may_change = "administer" in require("view").rights
        with study.read() as connection:
            changes = setting_changes(connection)
        return sentence(changes), still(set_parts(changes, may_change=may_change))

    def take_back(press: dict[str, Any], *, who: str, why: str) -> str:
        change = put_back(study, int(press["value"]), who=who, why=why)
        return f"{name_of(change.name)}: as before. {stale_words(study)}"

    register_change(app, Input(BACK, "data"), take_back)
