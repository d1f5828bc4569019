"""The form of the screen Add walks: who, which visit, what was worn.

In comes what is likely from the last visit, out come the parts of the form; in comes what was
entered, out come the visit and the plan of an import.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from dash import html
from dash.development.base_component import Component

from dashboards.add_walks.uploads import Basket
from dashboards.parts.controls import folded
from dashboards.parts.fact_fields import (
    NAME,
    RATING,
    WORN_FIRST,
    WORN_FURTHER,
    Form,
    every_field,
    field,
    fields,
    name_field,
    rating_fields,
)
from dashboards.parts.leg_fields import leg_fields
from gaittrack.compare.fair.condition import Condition, parse_conditions
from gaittrack.errors import LayoutError, StudyError
from gaittrack.record.aims import Aims, checked_aim
from gaittrack.record.legs import AS_LAST_TIME
from gaittrack.record.registry import CONDITION, FACTS
from gaittrack.study.people.description import AT_THE_VISIT, Visit, make_visit
from gaittrack.study.people.last_visit import NextVisit
from gaittrack.study.people.things import next_code
from gaittrack.study.recordings.planning import Plan
from gaittrack.study.recordings.planning_form import GivenFile, Use, plan_form

FIELD: Final = "add-walks-field"
EVERY_FIELD: Final = every_field(FIELD)
_NEW_AIMS: Final = 2
"""Further ones are added on People."""
_SETTING_OF_AIM: Final = ("aim_question", "aim_words", "aim_reached")
NOBODY: Final = "?"
"""In the place of a code that is not given yet."""
OF_THE_DAY: Final = tuple(
    name
    for name, fact in FACTS["visit"].items()
    if fact.of == "visit" and name not in ("date", "number", "age_band", RATING, AS_LAST_TIME)
)
FIRST: Final[dict[str, dict[str, Any]]] = {
    "without-brace": {"orthosis": "none", "order": 1},
    "with-brace": {"orthosis": "ankle-foot orthosis", "brace": "B1", "order": 2},
}
"""Proposed at a first visit."""


def person_words(code: str, proposed: NextVisit) -> str:
    """Return what is known of the person in a few words."""
    if not code:
        return ""
    if not proposed.is_known:
        return f"{code} is new"
    return f"known, last visit {proposed.last}" if proposed.last else "known, no visit yet"


def person_part(code: str, proposed: NextVisit) -> list[Component]:
    """Return what is asked of a new person."""
    if not code or proposed.is_known:
        return []
    return [html.H3("The person"), fields(FIELD, "person", 0, tuple(FACTS["person"]), {})]


def visit_part(proposed: NextVisit) -> list[Component]:
    """Return what is asked of the visit beside its date and number, folded away."""
    affected = proposed.facts.get("affected_side")
    return [
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
    worn: Sequence[Mapping[str, Any]], known: Mapping[str, Any], *, is_whole: bool
) -> list[Component]:
    """Return one group of fields per condition.

    Parameters
    ----------
    known : mapping
        Of the person: ``days_worn`` by condition; ``braces``, of which nothing is asked again.
    is_whole : bool
        Also fields in which nothing stands.
    """
    return [_condition(n, one, known, len(worn) > 1, is_whole) for n, one in enumerate(worn)]


def _condition(
    n: int, worn: Mapping[str, Any], known: Mapping[str, Any], can_go: bool, is_whole: bool
) -> Component:
    last = known.get("days_worn", {}).get(str(worn.get(NAME, "")))
    note = {"days_worn": f"Last time it was {last:g}"} if last is not None else {}
    is_known = worn.get("brace") in known.get("braces", ())
    asked = [
        name for name in (*WORN_FIRST, *WORN_FURTHER) if not is_known or _is_asked_of_known(name)
    ]
    own = [name for name in worn if name not in (NAME, *WORN_FIRST, *WORN_FURTHER)]
    shown = [name for name in (*asked, *own) if is_whole or name in worn]
    always = [
        field(FIELD, "condition", n, name, worn.get(name), note=note.get(name, ""))
        for name in shown
        if name in WORN_FIRST
    ]
    further = [name for name in shown if name not in WORN_FIRST]
    changed = [name for name in WORN_FURTHER if is_known and CONDITION[name].of == "setting"]
    changed = [name for name in changed if is_whole or name in worn]
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


def plan_of(visit: Visit, basket: Basket, uses: Mapping[int, Use]) -> Plan:
    """Return what an import of files would do.

    Parameters
    ----------
    uses : mapping of int to Use
        Of the files that are meant, by their place in the basket.
    """
    given = [(basket.files[n], use) for n, use in uses.items()]
    files = [GivenFile(one.path, one.folder, use) for one, use in given if one.path is not None]
    if not files:
        raise StudyError.of("no_files_yet", where="form")
    return plan_form(visit, files)


def bare_visit(person: str, code: str, names: Sequence[str]) -> Visit:
    """Return a visit with names only: files are looked at before all is filled in."""
    conditions = {name: Condition(name) for name in names}
    return Visit(person or NOBODY, code or NOBODY, conditions=conditions)


def worn_head(facts: Mapping[str, Any]) -> str:
    """Return brace or none, as the head of a group of files."""
    bare = ", barefoot" if facts.get("footwear") == "barefoot" else ""
    if brace := facts.get("brace"):
        return f"Brace {brace} {facts.get('setting', '')}".rstrip() + bare
    heads = {"none": "No brace", None: str(facts.get(NAME, ""))}
    return heads.get(facts.get("orthosis"), "Brace") + bare


def worn_words(facts: Mapping[str, Any]) -> str:
    """Return what was worn in a few words: its name, brace and shoe."""
    brace = facts.get("brace")
    setting = f" {facts['setting']}" if brace and facts.get("setting") else ""
    worn = f"brace {brace}{setting}" if brace else facts.get("orthosis")
    named = {"none": "no brace"}.get(str(worn), worn)
    said = [facts.get(NAME), named, facts.get("footwear")]
    aid = facts.get("walking_aid")
    return ", ".join(str(word) for word in (*said, aid if aid != "none" else None) if word)


def proposed_worn(proposed: NextVisit) -> list[dict[str, Any]]:
    """Return the conditions to propose: those of the last visit, or the usual two."""
    side = proposed.facts.get("affected_side")
    found = proposed.conditions or FIRST
    worn = [{NAME: name} | one for name, one in found.items()]
    if not proposed.conditions and side is not None:
        worn[1]["orthosis_side"] = side
    return worn
