"""The form of the screen Add walks: who, which visit, what was worn, which file is which.

In comes what is likely from the last visit, out come the parts of the form; in comes what was
entered, out come the visit and the plan of an import.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any, Final

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboards.add_walks.uploads import Basket, Received
from dashboards.parts.controls import aria, choice, folded, table
from dashboards.parts.fact_fields import (
    NAME,
    RATING,
    WORN_FIRST,
    WORN_FURTHER,
    Form,
    every_field,
    field,
    fields,
    leg_fields,
    name_field,
    rating_fields,
)
from gaittrack.compare.condition import parse_conditions
from gaittrack.errors import LayoutError, StudyError
from gaittrack.read.angle_sheet import SUFFIXES
from gaittrack.record.aims import Aims, checked_aim
from gaittrack.record.registry import CONDITION, FACTS
from gaittrack.study.people.description import AT_THE_VISIT, Visit, make_visit
from gaittrack.study.people.last_visit import NextVisit
from gaittrack.study.people.things import next_code
from gaittrack.study.recordings.planning import EVENTS_ENDING, Plan
from gaittrack.study.recordings.planning_form import GivenFile, Use, guess_use, plan_form

USE: Final = "add-walks-use"
FIELD: Final = "add-walks-field"
EVERY_FIELD: Final = every_field(FIELD)
_NEW_AIMS: Final = 2
"""Further ones are added on People."""
_SETTING_OF_AIM: Final = ("aim_question", "aim_words", "aim_reached")
OF_THE_DAY: Final = tuple(
    name
    for name, fact in FACTS["visit"].items()
    if fact.of == "visit" and name not in ("date", "number", "age_band", RATING)
)
FIRST: Final[dict[str, dict[str, Any]]] = {
    "without-brace": {"orthosis": "none", "order": 1},
    "with-brace": {"orthosis": "ankle-foot orthosis", "brace": "B1", "order": 2},
}
"""Proposed at a first visit."""


def person_part(code: str, proposed: NextVisit) -> list[Component]:
    """Return what is known of the person, or what to say of a new one."""
    if not code:
        return [html.P("Type the code of a person: of somebody in the study, or a new one.")]
    if proposed.is_known:
        facts = ", ".join(str(value) for value in proposed.facts.values()) or "nothing recorded"
        last = f" Last visit: {proposed.last}." if proposed.last else ""
        return [html.P(f"In the study: {facts}.{last}")]
    new = html.P([html.Strong(f"{code} is new"), " and will be added to the study."])
    return [new, fields(FIELD, "person", 0, tuple(FACTS["person"]), {})]


def visit_part(proposed: NextVisit, day: str | None) -> list[Component]:
    """Return the fields of the visit; the examination is folded away."""
    affected = proposed.facts.get("affected_side")
    return [
        html.Div(
            [
                dmc.TextInput(id="add-walks-visit-code", label="Visit", value=proposed.code),
                field(FIELD, "visit", 0, "date", day),
                field(FIELD, "visit", 0, "number", proposed.number),
            ],
            className="fields",
        ),
        folded(
            "Body and examination of that day (optional)",
            fields(FIELD, "visit", 0, OF_THE_DAY, {}),
            leg_fields(FIELD, {}, affected, proposed.examined),
        ),
        folded("Aims of the fitting (optional)", *_aims_part(proposed.aims)),
    ]


def _aims_part(aims: Aims) -> Iterator[Component]:
    """Yield the aims that there are, to be rated, and fields for more."""
    yield from rating_fields(FIELD, aims, None)
    taken = list(aims)
    for _ in range(_NEW_AIMS):
        code = next_code("aim", taken)
        taken.append(code)
        yield html.P(f"A new aim, {code}", className="soft")
        yield fields(FIELD, "aim", code, _SETTING_OF_AIM, {})


def worn_part(
    worn: Sequence[Mapping[str, Any]], days_worn: Mapping[str, float], braces: Collection[str] = ()
) -> list[Component]:
    """Return one group of fields per condition.

    Parameters
    ----------
    braces : collection of str
        Codes of those that are recorded: nothing is asked of them again.
    """
    return [_condition(n, one, days_worn, len(worn) > 1, braces) for n, one in enumerate(worn)]


def _condition(
    n: int,
    worn: Mapping[str, Any],
    days_worn: Mapping[str, float],
    can_go: bool,
    braces: Collection[str],
) -> Component:
    last = days_worn.get(str(worn.get(NAME, "")))
    note = {"days_worn": f"Last time it was {last:g}"} if last is not None else {}
    is_known = worn.get("brace") in braces
    always = [
        field(FIELD, "condition", n, name, worn.get(name), note=note.get(name, ""))
        for name in WORN_FIRST
        if not is_known or _is_asked_of_known(name)
    ]
    further = [
        *(name for name in WORN_FURTHER if not is_known or _is_asked_of_known(name)),
        *(name for name in worn if name not in (NAME, *WORN_FIRST, *WORN_FURTHER)),
    ]
    changed = [name for name in WORN_FURTHER if is_known and CONDITION[name].of == "setting"]
    remove = html.Button(
        f"Remove condition {n + 1}", id={"type": "add-walks-remove", "n": n}, className="quiet"
    )
    return html.Fieldset(
        [
            html.Legend(f"Condition {n + 1}"),
            html.Div([name_field(FIELD, n, worn.get(NAME)), *always], className="fields"),
            folded(
                "More about orthosis, shoe and markers (optional)",
                fields(FIELD, "condition", n, further, worn),
            ),
            *([_changed(n, changed, worn)] if changed else []),
            *([remove] if can_go else []),
        ]
    )


def _is_asked_of_known(name: str) -> bool:
    return CONDITION[name].of == "condition"


def _changed(n: int, names: Sequence[str], worn: Mapping[str, Any]) -> Component:
    told = f"Brace {worn['brace']} was changed: name the new setting above, and say what it is"
    return folded(told, fields(FIELD, "condition", n, names, worn))


def worn_of(form: Form) -> list[dict[str, Any]]:
    """Return what was entered of the conditions, in order, with their names."""
    return [form[key] for key in sorted(form) if key[0] == "condition"]


def visit_of(person: str, code: str, form: Form) -> Visit:
    """Return the visit that was entered.

    Raises
    ------
    LayoutError
        A value of the wrong kind, or two conditions of one name.
    StudyError
        Person or visit is missing.
    """
    for given, what in ((person, "person"), (code, "visit")):
        if not given.strip():
            raise StudyError.of("keys_missing_2", where="form", what=what)
    tables: dict[str, dict[str, Any]] = {}
    for n, one in enumerate(worn_of(form), 1):
        name = str(one.get(NAME, "")).strip()
        if not name or name in tables:
            raise LayoutError.of(
                "condition_without_own_name",
                where="form",
                n=n,
                has="the name of another one" if name else "no name",
            )
        tables[name] = {key: value for key, value in one.items() if key != NAME}
    conditions = parse_conditions({"conditions": tables}, where="form")
    entered = form.get(("visit", 0), {})
    about_person = form.get(("person", 0), {}) | {
        key: value for key, value in entered.items() if key in AT_THE_VISIT
    }
    about_visit = {key: value for key, value in entered.items() if key not in AT_THE_VISIT}
    aims = {key[1]: checked_aim(one, f"form [aims.{key[1]}]") for key, one in _aims_in(form)}
    return make_visit(
        *(person.strip(), code.strip(), about_person, about_visit, conditions, "form"),
        things=({}, aims),
    )


def _aims_in(form: Form) -> list[tuple[Any, dict[str, Any]]]:
    """Return what was entered of aims: of those only of which something was."""
    return [(key, one) for key, one in form.items() if key[0] == "aim" and one]


def names_of(form: Form) -> dict[Any, str]:
    """Return what the conditions and aims of a form are called, by the number of their inputs."""
    return {
        key[1]: str(one.get(NAME, "")) for key, one in form.items() if key[0] == "condition"
    } | {key[1]: str(key[1]) for key in form if key[0] == "aim"}


def plan_of(visit: Visit, basket: Basket, uses: Mapping[int, str]) -> Plan:
    """Return what an import of the files would do.

    Parameters
    ----------
    uses : mapping of int to str
        Place of a file in the basket to the use chosen for it.
    """
    files = [
        GivenFile(one.path, one.folder, _use(uses.get(n) or ""))
        for n, one in enumerate(basket.files)
        if one.path is not None
    ]
    if not files:
        raise StudyError.of("no_files_yet", where="form")
    return plan_form(visit, files)


def _use(value: str) -> Use:
    kind, _, condition = value.partition(":")
    for known in ("walk", "standing", "several", "left out"):
        if kind == known:
            return Use(known, condition)
    return Use("not said")


def files_part(basket: Basket, names: Sequence[str], before: Mapping[int, str]) -> list[Component]:
    """Return the table in which each file gets its use; a guess stands where none was chosen."""
    if not basket.files:
        return [html.P("No files yet.", className="soft")]
    rows = [
        [
            _called(one),
            f"{one.n_bytes / 1e6:.1f} MB" if one.n_bytes else "",
            _use_cell(n, one, names, before),
        ]
        for n, one in enumerate(basket.files)
    ]
    same = dmc.Select(
        id="add-walks-same",
        label="All files without a choice are",
        data=[{"value": f"walk:{name}", "label": name} for name in names],
        placeholder="Choose once for all",
        style={"maxWidth": "24rem"},
    )
    return [same, table(("File", "Size", "What it is"), rows, caption="Files", numbers=(1,))]


def _called(one: Received) -> Any:
    return [one.name, html.Small(one.folder)] if one.folder else one.name


def _use_cell(n: int, one: Received, names: Sequence[str], before: Mapping[int, str]) -> Any:
    if one.path is None:
        return html.Span(f"Refused: {one.refusal}", className="refused")
    if one.name.endswith(EVENTS_ENDING):
        return f"Events of the recording {one.name.removesuffix(EVENTS_ENDING)}"
    options = _options(one, names)
    known = {option["value"] for option in options}
    guess = guess_use(one.name, one.folder, names)
    value = before.get(n, "")
    if value not in known:
        value = f"{guess.kind}:{guess.condition}"
    shown = value if value in known else None
    named = aria(label=f"What {one.name} is")
    return choice({"type": USE, "n": n}, "", options, shown, placeholder="Choose", **named)


def _options(one: Received, names: Sequence[str]) -> list[dict[str, str]]:
    options = [{"value": f"walk:{name}", "label": name} for name in names]
    if one.path is not None and one.path.suffix.lower() in SUFFIXES:
        options.append({"value": "several:", "label": "Sheet with several conditions"})
    options += [{"value": f"standing:{name}", "label": f"Standing for {name}"} for name in names]
    options.append({"value": "standing:", "label": "Standing for all conditions"})
    return [*options, {"value": "left out:", "label": "Leave out"}]


def proposed_worn(proposed: NextVisit) -> list[dict[str, Any]]:
    """Return the conditions to propose: those of the last visit, or the usual two."""
    side = proposed.facts.get("affected_side")
    found = proposed.conditions or FIRST
    worn = [{NAME: name} | one for name, one in found.items()]
    if not proposed.conditions and side is not None:
        worn[1]["orthosis_side"] = side
    return worn
