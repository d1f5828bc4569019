"""Search the notes of the laboratory on the screen People.

In come words, out come the notes in which they occur, with where they stand.
"""

from __future__ import annotations

from typing import Final

import dash_mantine_components as dmc
from dash import Dash, Input, Output, html
from dash.development.base_component import Component

from dashboards.parts.controls import folded, table
from dashboards.shell.access import require
from gaittrack.study.people.notes import find_notes
from gaittrack.study.store import Study

WORDS, FOUND = "people-notes-words", "people-notes-found"
_MOST: Final = 50


def layout() -> Component:
    """Return the search, folded away until it is wanted."""
    words = dmc.TextInput(
        id=WORDS,
        label="Words in a note",
        description="Of people, visits, braces and aims; notes never leave the laboratory",
        debounce=400,
        autoComplete="off",
        style={"maxWidth": "24rem"},
    )
    return folded("Search the notes", words, html.Div(id=FOUND, role="status"))


def register(app: Dash, study: Study) -> None:
    """Register the callback."""

    @app.callback(Output(FOUND, "children"), Input(WORDS, "value"), prevent_initial_call=True)
    def search(words: str | None) -> list[Component]:
        require("view")
        if not (words or "").strip():
            return []
        found = find_notes(study, words or "")
        if not found:
            return [html.P("No note holds these words.")]
        rows = [[each.place, each.label, each.text] for each in found[:_MOST]]
        more = [html.P(f"{len(found) - _MOST} more.")] if len(found) > _MOST else []
        return [table(("Where", "What", "Note"), rows, caption="Notes"), *more]
