"""People: who is in the study; choosing one here chooses them on every screen of this tab."""

from __future__ import annotations

from dash import ALL, Dash, Input, Output, State, ctx, html, no_update
from dash.development.base_component import Component
from sqlalchemy import select

from dashboards import ids
from dashboards.access import require
from dashboards.controls import table
from gaittrack.study.store import Study
from gaittrack.study.tables import PERSON


def layout(study: Study) -> Component:
    """Return the screen."""
    require("view")
    with study.read() as connection:
        rows = connection.execute(select(PERSON).order_by(PERSON.c.code)).mappings().all()
    shown = [
        [
            html.Button(row["code"], id={"type": "people-person", "id": row["id"]}),
            row["cause"] or "",
            row["affected_side"] or "",
        ]
        for row in rows
    ]
    heads = ("Person", "Cause", "Affected side")
    return html.Div([html.H1("People"), table(heads, shown, caption="People in this study")])


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""

    @app.callback(
        Output(ids.CHOICE, "data", allow_duplicate=True),
        Input({"type": "people-person", "id": ALL}, "n_clicks"),
        State(ids.CHOICE, "data"),
        prevent_initial_call=True,
    )
    def choose(clicks: list[int | None], choice: dict[str, int]) -> object:
        require("view")
        if not any(clicks) or ctx.triggered_id is None:
            return no_update
        return {"person": ctx.triggered_id["id"]}
