"""What is examined of the legs: a line a fact, the affected leg first, beside what was last time.

In come what is recorded and what was last time, out come inputs in which nothing is chosen that
nobody said today: what was last time is marked, and waits for a word. ``assets/legs.js`` is the
keyboard, and says what became of each line.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import aria
from dashboards.parts.fact_fields import begun, field_id, input_of, is_scale, scale
from gaittrack.record.closed_lists import NOT_TESTED
from gaittrack.record.legs import AS_LAST_TIME
from gaittrack.record.registry import FACTS, LEG, Fact, leg_name
from gaittrack.record.wording import fact_label, full_label, hint_of, said_of
from gaittrack.vocabulary import SIDES

_GROUPS: Final = {
    "quadriceps_strength": "Strength",
    "tone": "Tone, moved fast",
    "passive_dorsiflexion_knee_straight_deg": "How far the ankle bends up, moved slowly",
    "sensation": "Foot and ankle",
    "skin_state_before": "Skin, swelling and pain",
}
"""What stands above the line that begins a group."""
_KEYS: Final = (
    *(("0 to 5", "choose"), ("Enter", "confirm and next"), ("Tab", "other leg")),
    *(("=", "same on both"), ("n", NOT_TESTED)),
)
_MARKS: Final = (("now", "today"), ("wait", "as last time, waits for a word"), ("was", "last time"))

_BY_KEY: Final = {"tabIndex": "-1"}
"""Of buttons that a key of the field beside them replaces: Tab goes from leg to leg."""


def leg_fields(
    form: str, values: Mapping[str, Any], affected: object, last: Mapping[str, Any]
) -> Component:
    """Return the lines of an examination of the legs.

    Parameters
    ----------
    values, last : mapping
        What is recorded, and what was recorded last time, by stored names.
    """
    sides = sorted(SIDES, key=lambda side: side != affected)
    named = [f"{side} leg{', affected' * (side == affected)}" for side in sides]
    heads = ("", named[0], "", named[1], f"last time, {' · '.join(sides)}", "")
    head = html.Tr([html.Th(each, scope="col") if each else html.Td() for each in heads])
    lines = list(_lines(form, values, sides, last))
    table = html.Table([html.Thead(head), html.Tbody(lines)], className="legs")
    rare = html.Button("Show the other lines", className="quiet", **_act("all"))
    return html.Div(
        [
            _above(form, sides, has_last=bool(last)),
            table,
            html.Div([_rest(form, values, last), rare], className="row legs-foot"),
        ],
        className="legs-form",
    )


def _act(act: str) -> dict[str, Any]:
    """Return what marks a button for the script."""
    return {"data-leg-act": act}


def _above(form: str, sides: Sequence[str], *, has_last: bool) -> Component:
    """Return how many lines are done, the button for both legs, keys and marks."""
    name = {"type": f"{form}-same", "side": sides[0]}
    both = html.Button("Same on both", id=name, className="quiet")
    note = f"Fills what is empty of the {sides[1]} leg with what is chosen of the {sides[0]} one."
    keys = [html.Span([html.Kbd(key), f" {what}"]) for key, what in _KEYS]
    marks = [html.Span([html.I(className=kind), f" {what}"]) for kind, what in _MARKS]
    return html.Div(
        [
            html.P(className="legs-done", role="status"),
            html.Div([*keys, *(marks if has_last else ())], className="legs-keys soft"),
            html.Div([both, html.Small(note)], className="row"),
        ]
    )


def _lines(
    form: str, values: Mapping[str, Any], sides: Sequence[str], last: Mapping[str, Any]
) -> Iterator[Component]:
    hint = ""
    for name, fact in LEG.items():
        own = hint_of(fact)
        if title := _GROUPS.get(name):
            above = html.Th([title, html.Small(f" {own}")], colSpan=6, scope="colgroup")
            yield html.Tr([above], className="group")
            hint = own
        yield _line(form, fact, values, sides, last, own if own != hint else "")


def _line(
    form: str,
    fact: Fact,
    values: Mapping[str, Any],
    sides: Sequence[str],
    last: Mapping[str, Any],
    hint: str,
) -> Component:
    label = fact_label(fact)
    first, other = (_cell(form, fact, side, values, last) for side in sides)
    before = [last.get(leg_name(side, fact.name)) for side in sides]
    is_known = any(each is not None for each in before)
    words = " · ".join("–" if each is None else said_of(fact, each) for each in before)
    same: Component = _button(
        "=", "same", f"{label}: both legs alike", className="quiet same", **_BY_KEY
    )
    confirm = _button("confirm", "confirm", f"confirm {label}")
    state = [confirm, html.Span("✓ confirmed"), html.Span("✓ changed"), html.Span("✓ examined")]
    is_recorded = any(values.get(leg_name(side, fact.name)) is not None for side in SIDES)
    is_rare = bool(last) and not is_known and not is_recorded
    return html.Tr(
        [
            html.Th([begun(label), *([html.Small(hint)] if hint else [])], scope="row"),
            first,
            html.Td(same),
            other,
            html.Td(words if is_known else "", className="last soft"),
            html.Td(state, className="state"),
        ],
        className="rare" if is_rare else None,
    )


def _button(words: str, act: str, name: str, **more: Any) -> Component:
    """Return a button of a line, with a name of its own for who does not see the line."""
    return html.Button(words, **_act(act), **aria(label=name), **more)


def _cell(
    form: str, fact: Fact, side: str, values: Mapping[str, Any], last: Mapping[str, Any]
) -> Component:
    """Return the input of one leg, with what the script has to know of it."""
    name = leg_name(side, fact.name)
    key, value, before = field_id(form, "visit", 0, name), values.get(name), last.get(name)
    whole = full_label(FACTS["visit"][name])
    said = "" if before is None else said_of(fact, before)
    if is_scale(fact):
        label = {"label": whole, "labelProps": {"className": "unseen"}}
        drawn = scale(fact, value, {"id": key, **label}, last=before)
    elif fact.list:
        drawn = input_of(fact, value, {"id": key, "placeholder": said, **aria(label=whole)})
    else:
        drawn = _count(key, whole, "" if value is None else said_of(fact, value), said)
    marks: dict[str, Any] = {
        "data-leg-field": json.dumps(key),
        "data-leg-last": said,
        "data-leg-side": side,
    }
    return html.Td(drawn, **marks)


def _count(key: Mapping[str, Any], whole: str, value: str, last: str) -> Component:
    """Return an input for a number between a smaller and a larger one; or it was not tested."""
    typed = dmc.TextInput(
        id=key,
        value=value,
        placeholder=last,
        autoComplete="off",
        inputProps={"inputMode": "decimal"},
        **aria(label=whole),
    )
    less = _button("−", "less", f"less: {whole}", **_BY_KEY)
    more = _button("+", "more", f"more: {whole}", **_BY_KEY)
    never = _button(NOT_TESTED, "not tested", f"{whole}: {NOT_TESTED}", **_BY_KEY)
    return html.Div([less, typed, more, never], className="count")


def _rest(form: str, values: Mapping[str, Any], last: Mapping[str, Any]) -> Component:
    """Return what says of all open lines that they are as last time; without one, unseen."""
    known = [name for name in LEG if any(leg_name(side, name) in last for side in SIDES)]
    lines, kept = ", ".join(known), values.get(AS_LAST_TIME) or ""
    take = "Take over the lines left open: as last time, not examined today"
    choices = html.Div([dmc.Radio(label=take, value=kept or lines)], className="scale rest")
    group = dmc.RadioGroup(
        choices,
        id=field_id(form, "visit", 0, AS_LAST_TIME),
        label="Lines left open are “not recorded”.",
        value=kept,
        deselectable=True,
    )
    return html.Div(group, hidden=not (known or kept))
