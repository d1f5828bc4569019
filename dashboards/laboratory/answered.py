"""Warnings that every walk here has: told once, and answered once for all of them.

In come the warnings of the newest walks, out comes a table with a button beside each; the answer is
what was typed as the reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from dashboards.laboratory.changing import register_change
from dashboards.parts import ids
from dashboards.parts.controls import aria, table
from dashboards.parts.markup import pressing, still
from dashboards.shell.access import require
from gaittrack.study.recordings.told_once import (
    LEAST_WALKS,
    NEWEST,
    HeldWarning,
    answer_warning,
    held_warnings,
)
from gaittrack.study.store import Study

PRESSED, PLACE = "laboratory-answer", "laboratory-answered"
_HOW: Final = (
    f"What all of the newest {NEWEST} walks have (of {LEAST_WALKS} or more) is how walks are "
    "recorded here. Answered once, no walk waits for it any more, and it stays in the record of "
    "each. What makes a value untrusted is never answered so."
)
_NONE: Final = "No warning holds for every walk here."


def layout(study: Study) -> Component:
    """Return the part; what is told follows."""
    parts = [html.H2("Told once"), html.P(_HOW, className="soft"), html.Div(id=PLACE)]
    return html.Section([*parts, dcc.Store(id=PRESSED)], className="card")


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""

    @app.callback(Output(PLACE, "children"), Input(ids.CHANGED, "data"))
    def show(_changed: int) -> list[Any]:
        may_change = "administer" in require("view").rights
        with study.read() as connection:
            found = held_warnings(connection)
        return still(parts(found, may_change=may_change))

    def answer(press: dict[str, Any], *, who: str, why: str) -> str:
        key, is_answer = press["value"]["key"], press["value"]["is_answer"]
        answer_warning(study, key, why if is_answer else "", who=who, why=why)
        return "Answered for every walk." if is_answer else "Taken back: walks wait for it again."

    register_change(app, Input(PRESSED, "data"), answer)


def parts(found: Sequence[HeldWarning], *, may_change: bool) -> list[Component]:
    """Return the warnings with their answers, and a button beside each."""
    if not found:
        return [html.P(_NONE)]
    rows = [
        [
            _said(each),
            f"{each.n_walks} of the newest walks" if each.n_walks else "no walk any more",
            each.answer or "not answered",
            *([_button(each)] if may_change else []),
        ]
        for each in found
    ]
    heads = ("Warning", "In", "Answer", *(["Answer it"] if may_change else []))
    return [table(heads, rows, caption="Warnings of every walk")]


def _said(each: HeldWarning) -> str:
    if each.reason is None:
        return each.key.replace("_", " ")
    landmark = dict(each.reason.parameters).get("landmark")
    of = f"{landmark}: ".replace("_", " ") if landmark else ""
    return f"{of}{each.reason.say()}"


def _button(each: HeldWarning) -> Component:
    is_answer = not each.answer
    words = "It is so here, as typed under Why" if is_answer else "Take the answer back"
    act = pressing(PRESSED, {"key": each.key, "is_answer": is_answer})
    return html.Button(words, **aria(label=f"{words}: {_said(each)}"), **act)
