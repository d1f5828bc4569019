"""What is recorded of the chosen person beside the walks: shown, filled in and corrected.

In comes the chosen person, out come tables of facts by visit; in come new values of somebody who
may edit, out comes the change, in the history of the study.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final, get_args

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboards.overview.things_form import (
    begun,
    drawing_of,
    offered,
    things_of_person,
    told_things,
)
from dashboards.parts import ids
from dashboards.parts.fact_fields import (
    RATING,
    WORN_FIRST,
    WORN_FURTHER,
    beside_fields,
    every_field,
    fields,
    rating_fields,
    read_fields,
)
from dashboards.parts.facts_shown import visit_facts
from dashboards.parts.leg_fields import leg_fields
from dashboards.parts.repeat_fields import fact_name
from dashboards.shell.access import require
from dashboards.shell.bars import say
from dashboards.shell.both_legs import register_same
from gaittrack.errors import AboutFact, StudyError
from gaittrack.record.legs import AS_LAST_TIME, known_of_legs
from gaittrack.record.registry import FACTS, fact_of
from gaittrack.record.visit_facts import (
    BODY,
    EXAMINATION,
    PersonFacts,
    person_words,
)
from gaittrack.record.wording import full_label
from gaittrack.study.people.asked_words import told_weakness
from gaittrack.study.people.documents import Part, Thing
from gaittrack.study.people.fact_changes import (
    Recorded,
    add_thing,
    change_facts,
    recorded,
)
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.people.things import KeptThing
from gaittrack.study.results.comparing import conditions_of
from gaittrack.study.store import Study

FORM: Final = "people-fact"
ABOUT, WHAT, SEEN, WHY = "people-about", "people-what", "people-seen", "people-why"
SAVE, FIELDS = "people-save", "people-fields"
CODE, CODE_PLACE = "people-code", "people-code-place"
_WHEN: Final = ("date", "number", "days_since_first_visit", "kind")


def layout(*, may_edit: bool) -> Component:
    """Return what is folded away until it is wanted; it stays open while the person changes."""
    what = dmc.Select(
        id=WHAT,
        label="Fill in or correct",
        data=[],
        clearable=True,
        placeholder="Choose what",
        style={"maxWidth": "24rem"},
    )
    why = dmc.TextInput(
        id=WHY,
        label="Reason",
        description="Needed where something that is recorded changes; kept in the history.",
        autoComplete="off",
        style={"maxWidth": "40rem"},
    )
    code = dmc.TextInput(
        id=CODE,
        label="Code",
        description="Of the new one, in the laboratory",
        autoComplete="off",
        style={"maxWidth": "12rem"},
    )
    form = html.Div(
        [
            html.Div(code, id=CODE_PLACE, hidden=True),
            html.Div(id=FIELDS),
            why,
            html.Button("Save", id=SAVE, className="main"),
        ],
        id="people-form",
        hidden=True,
    )
    editing = html.Div([what, dcc.Store(id=SEEN), form], hidden=not may_edit, className="no-print")
    return html.Details(
        [html.Summary(id="people-about-head"), html.Div(id="people-about-facts"), editing],
        id=ABOUT,
        className="card",
        hidden=True,
    )


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""
    _register_facts(app, study)
    _register_form(app, study)
    register_same(app, FORM)
    _register_saving(app, study)


def _register_facts(app: Dash, study: Study) -> None:
    @app.callback(
        Output("people-about-head", "children"),
        Output("people-about-facts", "children"),
        Output(WHAT, "data"),
        Output(WHAT, "value"),
        Output(ABOUT, "hidden"),
        Input(ids.CHOICE, "data"),
        Input(ids.CHANGED, "data"),
    )
    def show(choice: dict[str, int] | None, _changed: int) -> tuple[Any, ...]:
        require("view")
        person = facts_of_person(study, _person(choice))
        if person is None:
            return "", [], [], None, True
        things = things_of_person(study, person.id)
        shown = [*facts(person), *told_things(things, person.visits)]
        return head(person), shown, _choices(study, person, things), None, False


def head(person: PersonFacts) -> str:
    """Return in one line what there is to open."""
    n = len(person.visits)
    examined = sum(visit.is_examined for visit in person.visits)
    return f"Recorded of this person: examination at {examined} of {n} visits, body, cause"


def facts(person: PersonFacts) -> list[Component]:
    """Return everything that is recorded of a person and of the visits."""
    own = "; ".join(f"{name}: {words}" for name, words in person_words(person))
    return [
        html.P(own[0].upper() + own[1:] + "."),
        *visit_facts(person.visits, EXAMINATION, "Examination"),
        *visit_facts(person.visits, (*_WHEN, *BODY), "Visit and body"),
    ]


def _choices(
    study: Study, person: PersonFacts, things: Sequence[KeptThing]
) -> list[dict[str, str]]:
    choices = [{"value": f"person:{person.id}", "label": "The person: cause, side, sex"}]
    visits = reversed(person.visits)
    choices += [
        {"value": f"visit:{visit.id}", "label": f"{visit.code}: examination and body"}
        for visit in visits
    ]
    choices += [
        {"value": f"condition:{each.id}", "label": f"{each.visit}, {each.code}: what was worn"}
        for each in reversed(conditions_of(study, person.id))
    ]
    return choices + offered(things, person.id)


def _register_form(app: Dash, study: Study) -> None:
    @app.callback(
        Output(FIELDS, "children"),
        Output(SEEN, "data"),
        Output(WHY, "value"),
        Output("people-form", "hidden"),
        Output(CODE, "value"),
        Output(CODE_PLACE, "hidden"),
        Input(WHAT, "value"),
        State(ids.CHOICE, "data"),
        prevent_initial_call=True,
    )
    def open_form(what: str | None, choice: dict[str, int] | None) -> tuple[Any, ...]:
        require("view")
        if not what:
            return [], None, "", True, "", True
        require("edit")
        return opened_form(study, what, choice)


def opened_form(study: Study, what: str, choice: dict[str, int] | None) -> tuple[Any, ...]:
    """Return what a choice opens: inputs, what is recorded, an empty reason, and a code to give."""
    new = begun(study, _person(choice), what)
    if new is not None:
        drawn = [fields(FORM, new.part, 0, tuple(FACTS[new.part]), new.facts)]
        return drawn, dict(new.above.facts), "", False, new.code, False
    found = _chosen(study, what, choice)
    drawing = drawing_of(things_of_person(study, _person(choice)), what)
    drawn = [*drawing, *_asked(study, found, choice)]
    return drawn, dict(found.facts), "", False, "", True


def _register_saving(app: Dash, study: Study) -> None:
    @app.callback(
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Output(every_field(FORM), "error"),
        Input(SAVE, "n_clicks"),
        State(WHAT, "value"),
        State(SEEN, "data"),
        State(every_field(FORM), "id"),
        State(every_field(FORM), "value"),
        State(WHY, "value"),
        State(CODE, "value"),
        State(ids.CHOICE, "data"),
        State(ids.CHANGED, "data"),
        prevent_initial_call=True,
    )
    def save(
        clicks: int | None,
        what: str,
        seen: dict[str, Any],
        keys: list[dict[str, Any]],
        values: list[Any],
        why: str | None,
        code: str | None,
        choice: dict[str, int] | None,
        changed: int,
    ) -> tuple[object, list[str | None]]:
        visitor = require("edit" if clicks else "view")
        if not clicks:
            return no_update, beside_fields(keys)
        given, said = given_in(keys, values), (code or "", why or "")
        try:
            outcome = keep_form(study, (what, choice, seen), given, said, visitor.name)
        except AboutFact as error:
            marks = beside_fields(keys, error)
            if not any(marks):
                raise
            say("Nothing was recorded: look at what is marked.", is_error=True)
            return no_update, marks
        say(outcome)
        return changed + 1, beside_fields(keys)


def keep_form(
    study: Study,
    asked: tuple[str, dict[str, int] | None, dict[str, Any]],
    given: Mapping[str, Any],
    said: tuple[str, str],
    who: str,
) -> str:
    """Add what was begun, or change what was recorded; return what to say of it.

    Parameters
    ----------
    asked : (what, choice, seen)
        As the form has them.
    said : (code, why)
        Code of a new thing, reason of a change.
    """
    what, choice, seen = asked
    code, why = said
    new = begun(study, _person(choice), what)
    if new is not None:
        above = replace(new.above, facts=seen)
        add_thing(study, new.part, above, code, given, who=who)
        return f"Recorded for {above.place}: {code}."
    found = replace(_chosen(study, what, choice), facts=seen)
    outcome = _outcome(found, change_facts(study, found, given, who=who, why=why))
    person = facts_of_person(study, _person(choice))
    affected = person.facts["affected_side"] if person else None
    return f"{outcome} {told_weakness(given, affected)}".strip()


def _person(choice: dict[str, int] | None) -> int:
    return (choice or {}).get("person") or 0


def given_in(keys: list[dict[str, Any]], values: list[Any]) -> dict[str, Any]:
    """Return what each field shall hold; None where it is empty."""
    entered: dict[str, Any] = {}
    for part in read_fields(keys, values).values():
        entered |= part
    return {name: entered.get(name) for name in map(fact_name, keys)}


def _chosen(study: Study, what: str, choice: dict[str, int] | None) -> Recorded:
    """Return what is recorded of what was chosen, which must be of the chosen person."""
    part, _, number = what.partition(":")
    person = facts_of_person(study, _person(choice))
    if part in get_args(Part) and number.isdecimal() and person is not None:
        found = recorded(study, part, int(number))  # type: ignore[arg-type]
        if found.person == person.code:
            return found
    raise StudyError.of("chosen_not_chosen_person", where="People")


def _asked(study: Study, found: Recorded, choice: dict[str, int] | None) -> list[Component]:
    names = tuple(FACTS["person"])
    if found.part == "visit":
        of_visit = FACTS["visit"].items()
        names = tuple(
            n for n, fact in of_visit if fact.of == "visit" and n not in (RATING, AS_LAST_TIME)
        )
    if found.part == "condition":
        is_of_brace = "brace" in found.facts
        names = tuple(
            name
            for name in (*WORN_FIRST, *WORN_FURTHER)
            if not is_of_brace or FACTS["condition"][name].of == "condition"
        )
    if found.part in get_args(Thing):
        names = tuple(FACTS[found.part])
    parts = [fields(FORM, found.part, 0, names, found.facts)]
    person = facts_of_person(study, _person(choice))
    if found.part == "visit" and person is not None:
        codes = [visit.id for visit in person.visits]
        before = person.visits[: codes.index(found.id)]
        last = known_of_legs(visit.facts for visit in before)
        parts.insert(0, leg_fields(FORM, found.facts, person.facts["affected_side"], last))
        aims = {t.place: t.facts for t in things_of_person(study, person.id) if t.part == "aim"}
        parts += rating_fields(FORM, aims, found.facts.get(RATING))
    return parts


def _outcome(found: Recorded, changes: Mapping[str, Any]) -> str:
    if not changes:
        return "Nothing differs from what is recorded."
    names = [full_label(fact_of(found.part, name)) for name in changes]
    return f"Recorded for {found.place}: {', '.join(names)}."
