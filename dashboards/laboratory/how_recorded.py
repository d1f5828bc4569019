"""What holds for the recordings of this laboratory where a file says nothing.

In come a rate and whether plates are looked at, out comes a setting; what was measured otherwise is
stale from then on.
"""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html
from dash.development.base_component import Component

from dashboards.laboratory.changing import register_change, stale_words
from dashboards.parts import ids
from dashboards.parts.controls import folded
from dashboards.shell.access import require
from gaittrack.errors import StudyError
from gaittrack.lab_defaults import LabDefaults, Plates
from gaittrack.study.laboratory import keep_defaults, laboratory_defaults
from gaittrack.study.store import Study

RATE, PLATES, KEEP = "laboratory-rate", "laboratory-plates", "laboratory-keep-defaults"
_HOW: Final = (
    "Holds where a file says nothing. Each walk that it was used for says so among its notes, and "
    "what was measured otherwise is stale."
)


def layout(study: Study) -> Component:
    """Return the part, folded."""
    may_change = "administer" in require("view").rights
    return folded(
        "How we record",
        html.P(_HOW),
        dmc.TextInput(
            id=RATE,
            label="Frames per second of sheets and marker tables that tell none",
            description="Empty: each such file is asked about.",
            inputProps={"inputMode": "decimal"},
            disabled=not may_change,
            w=320,
        ),
        dmc.Checkbox(id=PLATES, label="Force plates are not looked at", disabled=not may_change),
        html.Button("Keep", id=KEEP, hidden=not may_change),
        className="card",
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""

    @app.callback(Output(RATE, "value"), Output(PLATES, "checked"), Input(ids.CHANGED, "data"))
    def show(_changed: int) -> tuple[str, bool]:
        require("view")
        with study.read() as connection:
            now = laboratory_defaults(connection)
        return f"{now.rate_hz:g}" if now.rate_hz else "", now.plates == "ignored"

    def keep(_n: int, rate: str, ignored: bool, *, who: str, why: str) -> str:
        plates: Plates = "ignored" if ignored else "used"
        keep_defaults(study, LabDefaults(rate_of(rate), plates), who=who, why=why)
        return f"Kept. {stale_words(study)}"

    given = State(RATE, "value"), State(PLATES, "checked")
    register_change(app, Input(KEEP, "n_clicks"), keep, *given)


def rate_of(typed: Any) -> float | None:
    """Return the rate that was typed; None for none.

    Raises
    ------
    StudyError
        It is no number.
    """
    said = str(typed or "").strip().replace(",", ".")
    try:
        return float(said) if said else None
    except ValueError:
        raise StudyError.of("rate_is_no_number", where="rate", rate=said) from None
