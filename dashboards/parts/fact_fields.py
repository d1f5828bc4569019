"""The fields of forms about a person, a visit or what was worn: drawn, and read again.

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

from gaittrack.compare.condition import Condition
from gaittrack.study.people.description import CLOSED_WORDS
from gaittrack.study.people.facts import fact_words
from gaittrack.study.tables import PERSON, VISIT

NAME: Final = "name"
WORN_FIRST: Final = (
    *("orthosis", "orthosis_side", "days_worn", "footwear", "walking_aid", "speed_instruction"),
)
WORN_FURTHER: Final = (
    *("orthosis_class", "orthosis_make", "orthosis_material", "orthosis_mass_g"),
    *("orthosis_stiffness_n_m_per_deg", "heel_height_mm", "fore_sole_height_mm"),
    *("foot_orthosis", "markers_replaced", "markers_put_on_again", "markers_placed_by"),
    *("order", "surface", "notes"),
)
"""What is asked of a condition at once, and what of it is folded away."""
_YES_NO: Final = {True: "yes", False: "no"}
_HINTS: Final = typing.get_type_hints(Condition)
_TABLES: Final = {"person": PERSON, "visit": VISIT}
_GRADES: Final = ("0 of 5", "1 of 5", "2 of 5", "3 of 5", "4 of 5", "5 of 5")
"""Of manual muscle testing: common practice, no source."""
CHOICES: Final[dict[str, tuple[str, ...]]] = {
    **CLOSED_WORDS,
    "orthosis_side": CLOSED_WORDS["affected_side"],
}
PROPOSALS: Final[dict[str, tuple[str, ...]]] = {
    "orthosis": ("none", "ankle-foot orthosis"),
    "markers_put_on_again": ("foot", "foot, shank", "foot, shank, thigh, pelvis"),
    "walking_aid": ("none", "stick", "crutches", "walking frame"),
    "speed_instruction": ("comfortable", "fast", "slow"),
    "footwear": ("own shoe", "barefoot"),
    "quadriceps_strength": _GRADES,
    "dorsiflexor_strength": _GRADES,
    "tone": ("normal", "low", "raised"),
    "clonus": ("absent", "present"),
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
    "markers_put_on_again": "Of foot, shank, thigh, pelvis; commas between",
    "markers_placed_by": "Who put them on, as a code: the same code is the same person",
    "passive_dorsiflexion_knee_straight_deg": "0 is a right angle; negative is short of it",
    "passive_dorsiflexion_knee_bent_deg": "0 is a right angle; negative is short of it",
    "mediolateral_stability": "Of the affected leg in stance. Varus: heel inward, valgus: outward",
}


def every_field(form: str) -> dict[str, Any]:
    """Return what matches every input of a form."""
    return {"type": form, "part": ALL, "n": ALL, "name": ALL}


def field(
    form: str,
    part: str,
    n: int,
    name: str,
    value: Any = None,
    *,
    note: str = "",
    required: bool = False,
) -> Component:
    """Return one labelled input.

    Parameters
    ----------
    form : str
        Which form, in the id; begins with the screen's name.
    n : int
        Which condition; 0 elsewhere.
    name : str
        Field of the condition, or column.
    note : str, optional
        In place of the usual one.
    """
    words = fact_words(name)
    label = _LABELS.get(name, words[0].upper() + words[1:])
    shown: dict[str, Any] = {
        "id": {"type": form, "part": part, "n": n, "name": name},
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


def fields(
    form: str, part: str, n: int, names: Sequence[str], values: Mapping[str, Any]
) -> Component:
    """Return inputs beside each other."""
    drawn = [field(form, part, n, name, values.get(name)) for name in names]
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
