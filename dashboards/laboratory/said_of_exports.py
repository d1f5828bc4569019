"""What is said of every export: under which licence, by whom, out of what.

In come lines that were typed, out comes a setting, checked as a file of it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html
from dash.development.base_component import Component

from dashboards.laboratory.changing import register_change
from dashboards.parts import ids
from dashboards.parts.controls import folded
from dashboards.shell.access import require
from gaittrack.record.release_facts import PARTS, release_facts_of
from gaittrack.study.laboratory import keep_release, laboratory_release
from gaittrack.study.store import Study

TITLE: Final = "What is said of exports"
KEEP: Final = "laboratory-keep-exports"
_FORM: Final = (
    "Fill in a short name of the SPDX list, such as CC-BY-4.0, and who made the data, each on a "
    "line of its own."
)
_FIELDS: Final[Mapping[str, tuple[str, str]]] = {
    "licence": ("Licence", "Short name of the SPDX list, such as CC-BY-4.0."),
    "licence_address": ("Address of the licence", "From https:// on; may be empty."),
    "title": ("Title", "Empty: a cohort of walking with and without an ankle-foot orthosis."),
    "description": ("Description", "What was studied, in a sentence or two; may be empty."),
    "creators": ("Who made the data", "A line each: name; institution; ORCID."),
    "sources": ("What the data come from", "A line each: title; address. May be empty."),
}
"""Of :class:`ReleaseFacts`: label and hint."""


def layout(study: Study) -> Component:
    """Return the part, folded."""
    may_change = "administer" in require("view").rights
    return folded(
        TITLE,
        html.P("Stands in every export from then on, and nowhere else. Name no person studied."),
        *(_field(name, disabled=not may_change) for name in _FIELDS),
        html.Button("Keep for exports", id=KEEP, hidden=not may_change),
        className="card",
    )


def _field(name: str, *, disabled: bool) -> Component:
    label, hint = _FIELDS[name]
    look = {"label": label, "description": hint, "disabled": disabled, "w": 520, "maw": "100%"}
    made: Component = (
        dmc.Textarea(id=_id(name), autosize=True, minRows=2, **look)
        if name in PARTS
        else dmc.TextInput(id=_id(name), autoComplete="off", **look)
    )
    return made


def _id(name: str) -> str:
    return f"laboratory-export-{name.replace('_', '-')}"


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""

    @app.callback(*(Output(_id(name), "value") for name in _FIELDS), Input(ids.CHANGED, "data"))
    def show(_changed: int) -> list[str]:
        require("view")
        with study.read() as connection:
            now = laboratory_release(connection)
        return [
            _lines(getattr(now, name), PARTS[name]) if name in PARTS else getattr(now, name)
            for name in _FIELDS
        ]

    def keep(_n: int, *typed: str | None, who: str, why: str) -> str:
        told = {name: (text or "").strip() for name, text in zip(_FIELDS, typed, strict=True)}
        rows = {name: _rows(told[name], keys) for name, keys in PARTS.items()}
        facts = release_facts_of(told | rows, TITLE, form=_FORM)
        keep_release(study, facts, who=who, why=why)
        return f"Kept: every export says {facts.in_words}."

    given = [State(_id(name), "value") for name in _FIELDS]
    register_change(app, Input(KEEP, "n_clicks"), keep, *given)


def _lines(rows: Sequence[Mapping[str, str]], keys: Sequence[str]) -> str:
    return "\n".join("; ".join(row.get(key, "") for key in keys).rstrip("; ") for row in rows)


def _rows(text: str, keys: Sequence[str]) -> list[dict[str, Any]]:
    """Return what stands on each line by name; the last part takes what is left of the line."""
    rows = []
    for line in filter(None, map(str.strip, text.splitlines())):
        parts = [part.strip() for part in line.split(";", len(keys) - 1)]
        rows.append({key: part for key, part in zip(keys, parts, strict=False) if part})
    return rows
