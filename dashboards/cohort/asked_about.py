"""Words that are in no closed list, on the screen Cohort: what became what, and what they mean.

In comes a study, out come the words with a choice beside each; what is chosen is remembered for the
laboratory.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboards.cohort.export_panel import LEAVING_OPEN
from dashboards.parts import ids
from dashboards.parts.controls import aria, is_open, table
from dashboards.shell.access import require
from dashboards.shell.bars import say
from gaittrack.cohort.asking.view import study_state
from gaittrack.compare.row_words import count_words
from gaittrack.record.closed_lists import LISTS, OTHER
from gaittrack.study.people.asked_words import AskedWord, asked_words, settle_words
from gaittrack.study.store import Study

MEANING: Final = "cohort-meaning"
PLACE, CONFIRM, SEEN = "cohort-words", "cohort-words-confirm", "cohort-words-seen"


def layout() -> Component:
    """Return the place of the words, above the export."""
    confirm = html.Button("Remember what is chosen", id=CONFIRM, className="quiet", hidden=True)
    return html.Div([html.Div(id=PLACE), confirm, dcc.Store(id=SEEN)])


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""
    _register_words(app, study)

    @app.callback(
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Input(CONFIRM, "n_clicks"),
        State({"type": MEANING, "n": ALL}, "value"),
        State(SEEN, "data"),
        State(ids.CHANGED, "data"),
        prevent_initial_call=True,
    )
    def confirm(
        n_clicks: int | None, chosen: list[Any], seen: list[tuple[str, str]], changed: int
    ) -> object:
        visitor = require("edit" if n_clicks else "view")
        meanings: dict[str, dict[str, str]] = {}
        for (name, typed), word in zip(seen or (), chosen, strict=False):
            if word:
                meanings.setdefault(name, {})[typed] = word
        if not n_clicks or not meanings:
            return no_update
        n = settle_words(study, meanings, who=visitor.name)
        say(f"Remembered for the laboratory; {count_words(n, 'fact')} changed.")
        return changed + 1


def _register_words(app: Dash, study: Study) -> None:
    @lru_cache(maxsize=1)
    def words_at(state: str) -> list[AskedWord]:
        return asked_words(study)

    @app.callback(
        Output(PLACE, "children"),
        Output(CONFIRM, "hidden"),
        Output(SEEN, "data"),
        Input(ids.CHANGED, "data"),
        Input(LEAVING_OPEN, "n_clicks"),
        prevent_initial_call=True,
    )
    def show(_changed: int, n_clicks: int | None) -> tuple[Any, ...]:
        visitor = require("export")
        if not is_open(n_clicks):
            return no_update, no_update, no_update
        found = words_at(study_state(study))
        waiting = [(each.list, each.typed) for each in found if not each.is_settled]
        return words_parts(found), not waiting or "edit" not in visitor.rights, waiting


def words_parts(found: list[AskedWord]) -> list[Component]:
    """Return what became what of words that are in no list, with a choice for those that wait."""
    if not found:
        return []
    n = sum(not each.is_settled for each in found)
    words = (
        f"{count_words(n, 'answer')} in words of no list: each leaves as other until somebody "
        "says what it means. What is chosen here is remembered for the laboratory."
        if n
        else "Entries in words of no list, as somebody has said what they mean."
    )
    rows = [
        [each.typed, ", ".join(each.facts) or each.list, _meaning(each, place)]
        for place, each in enumerate(found)
    ]
    return [html.P(words), table(("As written", "Of", "Leaves as"), rows, caption="Other words")]


def _meaning(each: AskedWord, place: int) -> Any:
    if each.is_settled:
        return each.becomes
    return dmc.Select(
        id={"type": MEANING, "n": place},
        data=[*LISTS[each.list], OTHER],
        placeholder=OTHER,
        clearable=True,
        **aria(label=f"What {each.typed} means"),
    )
