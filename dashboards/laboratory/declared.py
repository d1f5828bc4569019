"""Outcomes that are declared beforehand: one primary, others, and which change is important.

In come chosen measures and typed lines, out comes a setting, checked as a file of it is.
"""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html
from dash.development.base_component import Component

from dashboards.laboratory.changing import register_change
from dashboards.parts import ids
from dashboards.parts.controls import folded, labelled
from dashboards.shell.access import require
from gaittrack.compare.walked.declared_outcomes import outcomes_of
from gaittrack.measures import MEASURES
from gaittrack.study.laboratory import declared_outcomes_of, keep_outcomes
from gaittrack.study.store import Study

TITLE: Final = "Declared outcomes"
PRIMARY, SECONDARY = "laboratory-primary", "laboratory-secondary"
IMPORTANT, KEEP = "laboratory-important", "laboratory-keep-outcomes"
_HOW: Final = (
    "Which mean changes of the cohort are judged together; declared before they are looked at, and "
    "each change of it stays in the history. No result becomes stale."
)
_MEASURES: Final = {measure.name: measure.title for measure in MEASURES}
_NAMES: Final = {title.casefold(): name for name, title in _MEASURES.items()}
_PARTS: Final = ("measure", "difference", "source")


def layout(study: Study) -> Component:
    """Return the part, folded."""
    may_change = "administer" in require("view").rights
    look = {"disabled": not may_change, "w": 520, "maw": "100%"}
    offered = {"data": labelled(_MEASURES), "searchable": True, **look}
    return folded(
        TITLE,
        html.P(_HOW),
        dmc.Select(id=PRIMARY, label="Primary outcome", **offered),
        dmc.MultiSelect(id=SECONDARY, label="Other outcomes", **offered),
        dmc.Textarea(
            id=IMPORTANT,
            label="Important changes",
            description="A line each: measure; difference, its sign saying which way; who says so.",
            autosize=True,
            minRows=2,
            **look,
        ),
        html.Button("Declare", id=KEEP, hidden=not may_change),
        className="card",
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""

    @app.callback(
        Output(PRIMARY, "value"),
        Output(SECONDARY, "value"),
        Output(IMPORTANT, "value"),
        Input(ids.CHANGED, "data"),
    )
    def show(_changed: int) -> tuple[str | None, list[str], str]:
        require("view")
        with study.read() as connection:
            now = declared_outcomes_of(connection)
        lines = [
            f"{_MEASURES[name]}; {change.difference:g}; {change.source}"
            for name, change in now.important.items()
        ]
        return now.primary or None, list(now.secondary), "\n".join(lines)

    def keep(_n: int, primary: Any, secondary: Any, lines: Any, *, who: str, why: str) -> str:
        rows = [_row(line) for line in filter(None, map(str.strip, str(lines or "").splitlines()))]
        told = {"primary": primary or "", "secondary": secondary or [], "important": rows}
        declared = outcomes_of(told, TITLE)
        keep_outcomes(study, declared, who=who, why=why)
        return f"Declared: {declared.in_words}."

    given = State(PRIMARY, "value"), State(SECONDARY, "value"), State(IMPORTANT, "value")
    register_change(app, Input(KEEP, "n_clicks"), keep, *given)


def _row(line: str) -> dict[str, Any]:
    """Return an important change; a measure by its title or name, a number as it was typed."""
    found: dict[str, Any] = dict(zip(_PARTS, map(str.strip, line.split(";", 2)), strict=False))
    found["measure"] = _NAMES.get(found["measure"].casefold(), found["measure"])
    try:
        return found | {"difference": float(found["difference"].replace(",", "."))}
    except (KeyError, ValueError):
        return {"source": "", **found, "difference": None}
