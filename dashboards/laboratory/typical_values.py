"""Typical values from the laboratory's own able-bodied people: looked at, then taken.

In comes a press, out come the own ranges beside the published ones; a second press lets them be the
laboratory's.
"""

from __future__ import annotations

from typing import Any, Final

from dash import Dash, Input, Output, html
from dash.development.base_component import Component

from dashboards.laboratory.changing import register_change, stale_words
from dashboards.parts.controls import folded, table
from dashboards.parts.markup import still
from dashboards.shell.access import require
from gaittrack.cohort.people.able_bodied import (
    AbleBodiedGroup,
    able_bodied_group,
    able_bodied_source,
    take_typical,
    typical_of_group,
    typical_rows,
)
from gaittrack.compare.row_words import measure_words, range_words
from gaittrack.compare.typical_values.own_typical import LEAST_PERSONS, UNKNOWN_FEET
from gaittrack.compare.typical_values.typical import TypicalRange
from gaittrack.compare.typical_values.typical_curves import OwnTypical
from gaittrack.study.store import Study

LOOK, TAKE, SHOWN = "laboratory-look", "laboratory-take", "laboratory-typical"
_HOW: Final = (
    "A person with the cause “able-bodied” counts with the newest visit: walks without a brace or "
    "an aid, at the speed they liked. Ranges are mean ± 2 SD of one leg from person to person; "
    f"they need {LEAST_PERSONS} people, since with fewer an end of a range is known worse than to "
    "half of that SD. They hold only at the speeds, ages and footwear of these people."
)


def layout(study: Study) -> Component:
    """Return the part, folded."""
    may_change = "administer" in require("view").rights
    take = html.Button("Use these from now on", id=TAKE, className="main", hidden=True)
    return folded(
        "Typical values from our own able-bodied people",
        html.P(_HOW),
        html.Button("Look at their values", id=LOOK),
        html.Div(id=SHOWN),
        *([take] if may_change else [html.Div(take, hidden=True)]),
        className="card",
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""

    @app.callback(
        Output(SHOWN, "children"),
        Output(TAKE, "hidden"),
        Input(LOOK, "n_clicks"),
        prevent_initial_call=True,
    )
    def look(n_clicks: int | None) -> tuple[Any, bool]:
        require("view")
        group = able_bodied_group(able_bodied_source(study))
        return still(parts(group, typical_of_group(group))), False

    def take(_n: int, *, who: str, why: str) -> str:
        own = typical_of_group(able_bodied_group(able_bodied_source(study)))
        take_typical(study, own, who=who, why=why)
        return f"Your own typical values are in use. {stale_words(study)}"

    register_change(app, Input(TAKE, "n_clicks"), take)


def parts(group: AbleBodiedGroup, own: OwnTypical) -> list[Component]:
    """Return who they are of, and own and published ranges side by side."""
    feet = group.people[0].feet or UNKNOWN_FEET
    curves = ", ".join(each.joint.replace("_", " ") for each in own.curves)
    rows = [
        [measure_words(row.own.measure), _range(row.own), _range(row.published)]
        for row in typical_rows(own)
    ]
    left = [html.Li(f"{code}: {why}") for code, why in group.left_out.items()]
    left_out = [folded(f"Left out ({len(left)})", html.Ul(left))] if left else []
    return [
        html.P(f"{len(group.people)} people, {feet}. Curves: {curves or 'none'}."),
        *left_out,
        table(("Measure", "Own", "Published, adults"), rows, caption="Own and published ranges"),
    ]


def _range(found: TypicalRange | None) -> str:
    return "none" if found is None else range_words(found.measure, found.low, found.high)
