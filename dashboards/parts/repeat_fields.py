"""A test that is done several times, on a form: a box for each repeat, or why there is none.

In comes what is recorded (``21.8; 21.1``, or ``unable``), out come boxes whose names say of which
fact they are; what stands in them, with semicolons between, is the same words again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import aria
from gaittrack.record.closed_lists import NOT_DONE

_FEWEST: Final = 3
"""Boxes of a test, of which one at least is empty; own choice: walking tests are done as often."""
_OF: Final = "#"
_ANSWER: Final = f"{_OF}answer"


def repeat_inputs(value: Any, unit: str, shown: Mapping[str, Any]) -> Component:
    """Return the boxes of a test.

    Parameters
    ----------
    value : str or None
        As it is recorded, or was typed.
    shown : mapping
        ``id`` and ``label`` of the fact's input.
    """
    parts = [each.strip() for each in str(value or "").split(";")]
    answer = next((each for each in parts if each.casefold() in NOT_DONE), "")
    numbers = [each for each in parts if each and each != answer]
    numbers += [""] * max(1, _FEWEST - len(numbers))
    boxes = [_box(n, number, unit, shown) for n, number in enumerate(numbers, 1)]
    why = dmc.Select(
        id=_named(shown["id"], _ANSWER),
        data=list(NOT_DONE),
        value=answer.casefold() or None,
        placeholder="or why none",
        clearable=True,
        className="no-repeat",
        **aria(label=f"{shown['label']}: why it was not done"),
    )
    return html.Div(
        [
            html.Div(shown["label"], className="repeats-label"),
            html.Div([*boxes, why], className="repeats"),
        ],
        role="group",
        className="repeats-group",
        **aria(label=shown["label"]),
    )


def _box(n: int, number: str, unit: str, shown: Mapping[str, Any]) -> Component:
    box: Component = dmc.TextInput(
        id=_named(shown["id"], f"{_OF}{n}"),
        value=number,
        placeholder=unit,
        autoComplete="off",
        inputProps={"inputMode": "decimal"},
        **aria(label=f"{shown['label']}: repeat {n}"),
    )
    return box


def _named(own: Mapping[str, Any], ending: str) -> dict[str, Any]:
    return {**own, "name": own["name"] + ending}


def fact_name(key: Mapping[str, Any]) -> str:
    """Return of which fact an input is, by its id."""
    return str(key["name"]).partition(_OF)[0]


def is_repeat(key: Mapping[str, Any]) -> bool:
    """Tell whether an input holds one of several parts of what is said of a fact."""
    return _OF in key["name"]


def is_marked(key: Mapping[str, Any], fact: str) -> bool:
    """Tell whether what is wrong with a fact is said beside an input: of several at the widest."""
    return key["name"] in (fact, fact + _ANSWER)
