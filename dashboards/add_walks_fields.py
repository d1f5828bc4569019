"""The fields of the form on the screen Add walks: drawn, and read again.

In come names and values of a person, a visit or a condition, out come labelled inputs; in come the
inputs' values, out come the same words as a conditions file would hold.
"""

from __future__ import annotations

import typing
from collections.abc import Mapping, Sequence
from typing import Any, Final

import dash_mantine_components as dmc
from dash import ALL, html
from dash.development.base_component import Component
from sqlalchemy import Boolean, Double, Integer

from gaittrack.compare.condition import Condition, field_words
from gaittrack.study.tables import PERSON, VISIT

FIELD: Final = "add-walks-field"
EVERY_FIELD: Final = {"type": FIELD, "part": ALL, "n": ALL, "name": ALL}
NAME: Final = "name"
_YES_NO: Final = {True: "yes", False: "no"}
_HINTS: Final = typing.get_type_hints(Condition)
_TABLES: Final = {"person": PERSON, "visit": VISIT}
_SIDES: Final = ("left", "right", "both")
CHOICES: Final[dict[str, tuple[str, ...]]] = {"affected_side": _SIDES, "orthosis_side": _SIDES}
PROPOSALS: Final[dict[str, tuple[str, ...]]] = {
    "orthosis": ("none", "ankle-foot orthosis"),
    "walking_aid": ("none", "stick", "crutches", "walking frame"),
    "speed_instruction": ("comfortable", "fast", "slow"),
    "footwear": ("own shoe", "barefoot"),
}
_LABELS: Final = {
    "code": "Visit",
    NAME: "Name of the condition",
    "orthosis": "Orthosis",
    "orthosis_side": "Its side",
    "date": "Day",
}
_NOTES: Final = {
    "date": "As 2026-01-31; that of the files, if empty",
    "orthosis": "none, or what it is",
    "days_worn": "How long it has been worn",
}


def field(
    part: str, n: int, name: str, value: Any = None, *, note: str = "", required: bool = False
) -> Component:
    """Return one labelled input.

    Parameters
    ----------
    part : {"person", "visit", "condition"}
    n : int
        Which condition; 0 elsewhere.
    name : str
        Field of the condition, or column.
    value : str, float, bool or None
    note : str, optional
        In place of the usual one.
    required : bool

    Returns
    -------
    Component
    """
    words = field_words(name)
    label = _LABELS.get(name, words[0].upper() + words[1:])
    shown: dict[str, Any] = {
        "id": {"type": FIELD, "part": part, "n": n, "name": name},
        "label": label,
        "description": note or _NOTES.get(name),
        "required": required,
    }
    drawn: Component = _input(_kind(part, name), name, value, shown)
    return drawn


def _input(kind: type, name: str, value: Any, shown: dict[str, Any]) -> Any:
    if kind is bool:
        given = _YES_NO.get(value)
        return dmc.Select(**shown, data=["yes", "no"], value=given, clearable=True)
    if name in CHOICES:
        return dmc.Select(**shown, data=list(CHOICES[name]), value=value, clearable=True)
    if kind is float:
        return dmc.NumberInput(**shown, value="" if value is None else value, hideControls=True)
    text = "" if value is None else str(value)
    if name in PROPOSALS:
        return dmc.Autocomplete(**shown, data=list(PROPOSALS[name]), value=text)
    return dmc.TextInput(**shown, value=text, debounce=name == NAME, autoComplete="off")


def fields(part: str, n: int, names: Sequence[str], values: Mapping[str, Any]) -> Component:
    """Return inputs beside each other."""
    drawn = [field(part, n, name, values.get(name)) for name in names]
    return html.Div(drawn, className="fields")


def _kind(part: str, name: str) -> type:
    if part == "condition":
        kinds = set(typing.get_args(_HINTS[name]))
        return bool if bool in kinds else float if kinds & {int, float} else str
    column = _TABLES[part].c[name].type
    if isinstance(column, Boolean):
        return bool
    return float if isinstance(column, Integer | Double) else str


Form = dict[tuple[str, int], dict[str, Any]]
"""What was entered, by part and number: only what was filled in."""


def read_fields(keys: Sequence[Mapping[str, Any]], values: Sequence[Any]) -> Form:
    """Return what the inputs hold, in the types that a conditions file would have.

    Parameters
    ----------
    keys : sequence of dict
        Ids of the inputs.
    values : sequence
        Their values.

    Returns
    -------
    dict of (str, int) to dict
        Also of conditions of which nothing is filled in.
    """
    found: Form = {}
    for key, value in zip(keys, values, strict=True):
        part = found.setdefault((key["part"], key["n"]), {})
        given = value.strip() if isinstance(value, str) else value
        if given in (None, ""):
            continue
        kind = _kind(key["part"], key["name"])
        part[key["name"]] = given == "yes" if kind is bool else given
    return found
