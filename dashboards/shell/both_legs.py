"""What is chosen of one leg, taken over for the other where nothing stands there yet.

In comes a press in a form that asks of both legs, out come the values of its fields.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, no_update

from dashboards.parts.fact_fields import every_field
from dashboards.parts.sent_kinds import refuse_unless
from dashboards.shell.access import require
from gaittrack.record.registry import LEG, leg_name
from gaittrack.vocabulary import SIDES


def register_same(app: Dash, form: str) -> None:
    """Register what a press on "the same" of a leg does in a form."""

    @app.callback(
        Output(every_field(form), "value"),
        Input({"type": f"{form}-same", "side": ALL}, "n_clicks"),
        State(every_field(form), "id"),
        State(every_field(form), "value"),
        prevent_initial_call=True,
    )
    def same(clicks: list[int | None] | None, keys: Any, values: Any) -> object:
        is_pressed = any(clicks or ())
        require("edit" if is_pressed else "view")
        if not ctx.triggered_id or not is_pressed:
            return [no_update] * len(keys)
        return same_on_both(ctx.triggered_id["side"], keys, values)


def same_on_both(first: str, keys: Sequence[Mapping[str, Any]], values: Sequence[Any]) -> list[Any]:
    """Return the values of a form with what is chosen of one leg where the other one's is empty."""
    refuse_unless(first in SIDES)
    given = {key["name"]: value for key, value in zip(keys, values, strict=True)}
    (other,) = [side for side in SIDES if side != first]
    from_first = {leg_name(other, plain): given.get(leg_name(first, plain)) for plain in LEG}
    return [
        from_first[key["name"]] if key["name"] in from_first and value in (None, "") else value
        for key, value in zip(keys, values, strict=True)
    ]
