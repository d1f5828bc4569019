"""The fields of forms about a person, a visit or what was worn: drawn, and read again.

In come names and values of a person, a visit or a condition, out come labelled inputs as the
registry of facts has them; in come the inputs' values, out come the same words as a conditions file
would hold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from types import MappingProxyType
from typing import Any, Final

import dash_mantine_components as dmc
from dash import ALL, html
from dash.development.base_component import Component

from dashboards.parts.repeat_fields import fact_name, is_marked, is_repeat, repeat_inputs
from gaittrack.errors import AboutFact, LayoutError
from gaittrack.record.checking import from_cell, ratings_of
from gaittrack.record.legs import AS_LAST_TIME
from gaittrack.record.registry import CONDITION, FACTS, Fact, leg_name
from gaittrack.record.wording import error_of, fact_label, full_label, hint_of
from gaittrack.vocabulary import SIDES

RATING: Final = "aim_level"
"""Of a visit: an input for each aim, whose number is the aim's code."""
NAME: Final = "name"
"""Of a condition: no fact, its own name."""
WORN_FIRST: Final = tuple(name for name, fact in CONDITION.items() if fact.asked == "at once")
WORN_FURTHER: Final = tuple(name for name, fact in CONDITION.items() if fact.asked == "folded")
"""What is asked of a condition at once, and what of it is folded away."""
_MOST_OF_SCALE: Final = 8
"""Words that fit beside each other."""
_NUMBERS: Final = ("number", "whole")
_YES_NO: Final = {True: "yes", False: "no"}


def every_field(form: str) -> dict[str, Any]:
    """Return what matches every input of a form."""
    return {"type": form, "part": ALL, "n": ALL, "name": ALL}


def field_id(form: str, part: str, n: int | str, name: str) -> dict[str, Any]:
    """Return the id of one input."""
    return {"type": form, "part": part, "n": n, "name": name}


def name_field(form: str, n: int, value: Any) -> Component:
    """Return the input for the name of a condition."""
    shown = {"id": field_id(form, "condition", n, NAME), "label": "Name of the condition"}
    text = dmc.TextInput(
        **shown, value=value or "", debounce=True, autoComplete="off", required=True
    )
    return html.Div(text)


def field(
    form: str, part: str, n: int | str, name: str, value: Any = None, *, note: str = ""
) -> Component:
    """Return one labelled input.

    Parameters
    ----------
    form : str
        Which form, in the id; begins with the screen's name.
    n : int or str
        Which condition, or code of the aim; 0 elsewhere.
    name : str
        Of a fact, as it is stored.
    note : str, optional
        In place of the usual one.
    """
    fact = FACTS[part][name]
    label = full_label(fact)
    shown = {
        "id": field_id(form, part, n, name),
        "label": begun(label),
        "description": note or " ".join(filter(None, (hint_of(fact), error_of(fact)))) or None,
    }
    drawn: Component = input_of(fact, value, shown)
    return drawn


def begun(label: str) -> str:
    """Return a label as it begins a line."""
    return label[0].upper() + label[1:]


def scale(fact: Fact, value: Any, shown: dict[str, Any], *, last: Any = None) -> Any:
    """Return a closed list as joined buttons: one press chooses, a second one takes it back.

    Parameters
    ----------
    last : value, optional
        As it was last time: marked, and not chosen.
    """
    own = ["yes", "no", *fact.words] if fact.kind == "yes/no" else [*fact.words]
    chosen, before = _in_words(value), _in_words(last)
    words = list(dict.fromkeys((*own, *([chosen] if chosen else []))))
    buttons = [
        dmc.Radio(label=word, value=word, className="as-last" if word == before else None)
        for word in words
    ]
    drawn = html.Div(buttons, className="scale")
    return dmc.RadioGroup(drawn, **shown, value=chosen or "", deselectable=True)


def _in_words(value: Any) -> Any:
    return _YES_NO[value] if isinstance(value, bool) else value


def is_scale(fact: Fact) -> bool:
    """Tell whether all that may be chosen fits beside each other."""
    return fact.kind == "yes/no" or (bool(fact.list) and len(fact.words) <= _MOST_OF_SCALE)


def input_of(fact: Fact, value: Any, shown: dict[str, Any]) -> Any:
    """Return the input of a fact."""
    if fact.kind == "yes/no":
        words = ["yes", "no", *fact.words]
        return dmc.Select(**shown, data=words, value=_in_words(value), clearable=True)
    if fact.kind == "repeats":
        return repeat_inputs(value, fact.unit, shown)
    if fact.kind == "several":
        chosen = value.split(", ") if value else []
        return dmc.MultiSelect(**shown, data=list(fact.words), value=chosen)
    if fact.list:
        own = list(dict.fromkeys((*fact.words, *([value] if value else []))))
        return dmc.Select(**shown, data=own, value=value, clearable=True, searchable=len(own) > 9)
    if fact.kind in _NUMBERS and not isinstance(value, str):
        given = "" if value is None else value
        return dmc.NumberInput(**shown, value=given, hideControls=True, clampBehavior="none")
    text = "" if value is None else str(value)
    return dmc.TextInput(**shown, value=text, autoComplete="off")


def fields(
    form: str, part: str, n: int | str, names: Sequence[str], values: Mapping[str, Any]
) -> Component:
    """Return inputs beside each other."""
    drawn = [field(form, part, n, name, values.get(name)) for name in names]
    return html.Div(drawn, className="fields")


def rating_fields(
    form: str, aims: Mapping[str, Mapping[str, Any]], levels: object
) -> list[Component]:
    """Return a scale for each aim: how far it is reached at a visit.

    Parameters
    ----------
    levels : str or None
        What is recorded of the visit.
    """
    fact, known = FACTS["visit"][RATING], ratings_of(levels)
    low, high = int(fact.low or 0), int(fact.high or 0)
    drawn = []
    for code, aim in aims.items():
        buttons = [dmc.Radio(label=str(n), value=str(n)) for n in range(low, high + 1)]
        said = aim.get("aim_question") or aim.get("aim_words", "")
        reached = aim.get("aim_reached")
        group = dmc.RadioGroup(
            html.Div(buttons, className="scale"),
            id=field_id(form, "visit", code, RATING),
            label=f"{code}: {said}",
            description=f"Level 0: {reached}" if reached else None,
            value=str(known.get(code, "")),
            deselectable=True,
        )
        drawn.append(group)
    return [html.P(f"{begun(fact_label(fact))}. {hint_of(fact)}."), *drawn] if drawn else []


def beside_fields(
    keys: Sequence[Mapping[str, Any]],
    error: AboutFact | None = None,
    names: Mapping[Any, str] = MappingProxyType({}),
) -> list[str | None]:
    """Return what to say beside each input of a form: why its fact cannot be, or nothing.

    Parameters
    ----------
    names : mapping
        What is called how, by the number in an input's id: where several have the fact, the one
        that the error is about is marked.
    """
    if error is None:
        return [None] * len(keys)
    meant = [key for key in keys if is_marked(key, error.fact)]
    said = [key for key in meant if _is_place(error.where, names.get(key["n"], ""))]
    return [
        error.said_of(begun(full_label(FACTS[key["part"]][fact_name(key)])))
        if key in (said or meant)
        else None
        for key in keys
    ]


def _is_place(where: str, name: str) -> bool:
    return bool(name) and (f".{name}]" in where or where.endswith(f"/{name}"))


Form = dict[tuple[str, Any], dict[str, Any]]
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
    dict of (str, int or str) to dict
        Also of conditions of which nothing is filled in.
    """
    found: Form = {}
    chosen_once = {key["name"] for key, each in zip(keys, values, strict=True) if type(each) is str}
    for key, value in zip(keys, values, strict=True):
        is_rating = key["name"] == RATING
        part = found.setdefault((key["part"], 0 if is_rating else key["n"]), {})
        given = ", ".join(value) if isinstance(value, list) else value
        given = given.strip() if isinstance(given, str) else given
        if given in (None, ""):
            continue
        if is_rating or is_repeat(key):
            name, one = fact_name(key), f"{key['n']}: {given}" if is_rating else str(given)
            part[name] = "; ".join([*filter(None, [part.get(name)]), one])
        else:
            part[key["name"]] = _typed(key, given)
    for (name, _), part in found.items():
        if name == "visit" and part.get(AS_LAST_TIME) and AS_LAST_TIME in chosen_once:
            _leave_open(part)
    return found


def _leave_open(visit: dict[str, Any]) -> None:
    """Keep of the lines that are as last time those of which nothing is said."""
    left = [
        line
        for line in visit.pop(AS_LAST_TIME).split(", ")
        if not any(leg_name(side, line) in visit for side in SIDES)
    ]
    visit.update({AS_LAST_TIME: ", ".join(left)} if left else {})


def _typed(key: Mapping[str, Any], given: Any) -> Any:
    fact = FACTS[key["part"]].get(key["name"])
    if fact is not None and fact.kind == "yes/no" and given in _YES_NO.values():
        return given == "yes"
    if fact is not None and fact.side and fact.kind in _NUMBERS and isinstance(given, str):
        with suppress(LayoutError):  # whoever checks it says so beside the field
            return from_cell(fact, given.replace("\N{MINUS SIGN}", "-"), "")
    return given
